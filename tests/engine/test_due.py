"""What falls due between two days, and that nobody slips through."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine import made

from standfast.engine.dates import award_dates
from standfast.engine.due import Due, due_between
from standfast.engine.quarters import Quarter
from standfast.model.award import AwardDates, Ruling
from standfast.model.rubric import Refresher, Validity

VALIDITY = Validity(
    period="P2Y",
    refresher=Refresher(every="P1Y", window="P2M"),
    grace="P1M",
    lapse_limit="P1Y",
)
# Granted on 1 March 2026: refresher 1 January to 1 March 2027, grace to 1 April 2027, a refresher
# suffices to 1 April 2028; the last day is 1 March 2028.
DATES = award_dates(VALIDITY, date(2026, 3, 1))
PLAIN = award_dates(Validity(period="P1Y"), date(2026, 3, 1))
DAY = timedelta(days=1)


def due(
    first: str,
    last: str,
    on: str,
    dates: AwardDates = DATES,
    documents: dict[str, date | None] | None = None,
) -> list[tuple[str, str]]:
    held = documents or {}
    award = made.award(dates, tuple(held))
    begin, end, seen = (date.fromisoformat(text) for text in (first, last, on))
    return [(str(item.day), item.what) for item in due_between(award, held, begin, end, seen)]


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        pytest.param("2027-01-01", "2027-03-31", [("2027-03-01", "refresher")], id="refresher"),
        pytest.param("2027-03-01", "2027-03-01", [("2027-03-01", "refresher")], id="on its day"),
        pytest.param("2027-03-02", "2027-12-31", [], id="from the day after"),
        pytest.param("2026-03-01", "2027-02-28", [], id="until the day before"),
        pytest.param("2028-01-01", "2028-03-31", [("2028-03-01", "award ends")], id="end"),
        pytest.param(
            "2027-01-01",
            "2028-12-31",
            [("2027-03-01", "refresher"), ("2028-03-01", "award ends")],
            id="both",
        ),
    ],
)
def test_each_day_is_due_in_its_own_span(
    first: str, last: str, expected: list[tuple[str, str]]
) -> None:
    assert due(first, last, on="2026-06-01") == expected


def test_a_document_that_ends_before_the_award_is_due_on_its_own_day() -> None:
    held: dict[str, date | None] = {"first-aid": date(2026, 9, 30), "insurance": date(2029, 1, 1)}

    found = due("2026-07-01", "2026-09-30", on="2026-06-01", documents=held)

    assert found == [("2026-09-30", "document ends")]


@pytest.mark.parametrize(
    ("on", "late"),
    [
        pytest.param("2027-03-01", [], id="on the due day"),
        pytest.param("2027-03-02", [("2027-04-01", "in grace")], id="in grace"),
        pytest.param("2027-04-01", [("2027-04-01", "in grace")], id="last day of grace"),
        pytest.param("2027-04-02", [("2027-03-01", "late")], id="lapsed"),
        pytest.param("2028-04-01", [("2027-03-01", "late")], id="last day a refresher suffices"),
        pytest.param("2028-04-02", [], id="only a full practical does"),
    ],
)
def test_a_missed_refresher_is_late_in_every_quarter_while_it_can_be_mended(
    on: str, late: list[tuple[str, str]]
) -> None:
    found = due("2030-01-01", "2030-03-31", on)

    assert found == late


def test_a_missed_document_is_late_whatever_the_quarter() -> None:
    held: dict[str, date | None] = {"first-aid": date(2026, 5, 31)}

    found = due("2027-07-01", "2027-09-30", on="2026-06-01", documents=held)

    assert found == [("2026-05-31", "late")]


def test_what_is_late_names_every_reason_up_to_its_day() -> None:
    held: dict[str, date | None] = {"first-aid": date(2027, 3, 20)}
    award = made.award(DATES, ("first-aid",))

    [late] = due_between(award, held, date(2027, 1, 1), date(2027, 3, 31), date(2027, 3, 25))

    assert (late.day, late.what) == (date(2027, 3, 1), "late")
    assert "first-aid ended on 2027-03-20" in late.says
    assert "refresher was due on 2027-03-01" in late.says
    assert "hand in the renewed first-aid" in late.says


def test_a_suspended_award_has_its_days_and_says_that_nothing_counts() -> None:
    award = made.award(DATES)
    on, day = date(2027, 2, 1), date(2027, 3, 1)
    ruling = Ruling(award=award.id, kind="suspended", on=on, by="zoe", because="asked to")

    [before] = due_between(award, {}, day, day, on - DAY, [ruling])
    [after] = due_between(award, {}, day, day, on, [ruling])

    assert (before.what, after.what) == ("refresher", "refresher")
    assert "suspended" not in before.says
    assert after.says.startswith("suspended on 2027-02-01: nobody teaches under it")


def test_an_award_that_ended_in_these_days_is_late_in_them_also_without_a_refresher() -> None:
    ended = ("2027-03-01", "late")

    assert due("2027-01-01", "2027-03-31", on="2027-03-20", dates=PLAIN) == [ended]
    assert due("2027-04-01", "2027-06-30", on="2027-04-20", dates=PLAIN) == []
    assert due("2027-01-01", "2027-03-31", on="2027-03-01", dates=PLAIN) == [
        ("2027-03-01", "award ends")
    ]


def test_an_award_that_has_not_begun_is_not_late() -> None:
    assert due("2026-01-01", "2026-03-31", on="2026-02-01") == []


@given(
    granted=st.dates(date(2020, 1, 1), date(2030, 12, 31)),
    ahead=st.integers(0, 1200),
)
def test_whoever_has_a_day_ahead_stands_in_exactly_one_quarter(granted: date, ahead: int) -> None:
    award = made.award(award_dates(VALIDITY, granted))
    on = granted + timedelta(days=ahead)
    quarter, seen = Quarter.of(granted), []
    while quarter.first <= granted + timedelta(days=3 * 366):
        seen += due_between(award, {}, quarter.first, quarter.last, on)
        quarter = Quarter.of(quarter.last + DAY)

    ahead_of = [item for item in seen if item.what not in {"late", "in grace"}]
    dates = award.dates
    expected = {day for day in (dates.refresher_due, dates.last_day) if day and day >= on}
    assert sorted(item.day for item in ahead_of) == sorted(expected)


def test_soonest_comes_first() -> None:
    def item(day: str) -> Due:
        return Due(date.fromisoformat(day), "late", "ada", "A-1", "Bar", "x")

    assert min(item("2026-02-01"), item("2026-01-01")).day == date(2026, 1, 1)
