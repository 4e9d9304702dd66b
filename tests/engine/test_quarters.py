"""Quarters as people write and read them."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standfast.engine.quarters import NamedBy, Quarter
from standfast.problems import Refused, StandfastError

STARTS = st.integers(1, 12)
NAMED = st.sampled_from(["end", "start"])
DAYS = st.dates(date(1990, 1, 1), date(2090, 1, 1))


@pytest.mark.parametrize(
    ("text", "starts", "named_by", "first"),
    [
        pytest.param("2026Q4", 1, "end", "2026-10-01", id="calendar year"),
        pytest.param("2026 q4", 1, "start", "2026-10-01", id="blank and small q"),
        pytest.param("2026-Q1", 1, "end", "2026-01-01", id="hyphen"),
        pytest.param(
            "2026Q4", 9, "end", "2026-10-01", id="calendar year, in a school with another"
        ),
        pytest.param("2027Q1", 4, "start", "2027-01-01", id="calendar year, named by start"),
        pytest.param("FY2027 Q1", 9, "end", "2026-09-01", id="named by its end"),
        pytest.param("fy2026q1", 9, "start", "2026-09-01", id="named by its start"),
        pytest.param("FY2026Q4", 1, "end", "2026-10-01", id="the school's year is the calendar's"),
        pytest.param("FY2026/27 Q2", 9, "end", "2026-12-01", id="both years, named by end"),
        pytest.param("FY2026/27 Q2", 9, "start", "2026-12-01", id="both years, named by start"),
        pytest.param("FY1999/00 Q1", 4, "end", "1999-04-01", id="century"),
    ],
)
def test_a_written_quarter_is_read(text: str, starts: int, named_by: NamedBy, first: str) -> None:
    assert Quarter.parse(text, starts, named_by).first == date.fromisoformat(first)


@pytest.mark.parametrize(
    ("text", "starts"),
    [
        pytest.param("2026Q5", 1, id="five quarters"),
        pytest.param("2026Q0", 1, id="no quarter"),
        pytest.param("Q4", 1, id="no year"),
        pytest.param("0001Q1", 1, id="before the calendar"),
        pytest.param("FY2026/28 Q1", 9, id="a year left out"),
        pytest.param("FY2026/27 Q1", 1, id="two years for a calendar year"),
        pytest.param("", 1, id="nothing"),
    ],
)
def test_what_is_no_quarter_could_not_be_read(text: str, starts: int) -> None:
    with pytest.raises(StandfastError) as told:
        Quarter.parse(text, starts)

    assert not isinstance(told.value, Refused)  # exit code 2: nothing was answered


def test_a_calendar_quarter_says_no_school_year() -> None:
    assert str(Quarter.parse("2026Q4", 9)) == "2026 Q4"


@given(DAYS, STARTS, NAMED)
def test_a_quarter_reads_back_as_it_was_written(day: date, starts: int, named: NamedBy) -> None:
    quarter = Quarter.of(day, starts, named)

    assert Quarter.parse(str(quarter), starts, named) == quarter


@given(DAYS, STARTS, NAMED)
def test_every_day_lies_in_its_quarter_and_the_next_begins_after_it(
    day: date, starts: int, named: NamedBy
) -> None:
    quarter = Quarter.of(day, starts, named)
    after = Quarter.of(quarter.last + timedelta(days=1), starts, named)

    assert quarter.first <= day <= quarter.last
    assert after.first == quarter.last + timedelta(days=1)
    assert after > quarter


def test_a_year_of_two_names_says_both() -> None:
    assert str(Quarter.of(date(2026, 12, 31), 9)) == "FY2026/27 Q2"
    assert str(Quarter.of(date(2026, 12, 31))) == "2026 Q4"
