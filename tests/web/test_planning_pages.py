"""What is coming, on pages: the forecast of lessons."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import httpx
import pytest
from tests.web.conftest import NOW, TODAY, Served, Visit
from tests.web.test_deciding_pages import text_of

from standfast.desk.forecast import NO_PROMISE, Asked, Forecast, Row, forecast
from standfast.desk.forecast_files import COLUMNS, cells
from standfast.desk.opening import Moment, open_desk


def said(answer: httpx.Response) -> str:
    """The words of a page, one space between two."""
    return " ".join(text_of(answer).split())


def forecast_of(folder: Path, asked: Asked) -> Forecast:
    """What the command line would say."""
    with open_desk(folder, Moment(NOW, "test", bytes, TODAY)) as desk:
        return forecast(desk, asked)


def numbers(row: Row) -> str:
    one, other = row.practicals, row.refreshers
    return (
        f"{one.mean:.1f} ({one.low} to {one.high}) {other.mean:.1f} ({other.low} to {other.high})"
    )


@pytest.mark.parametrize(
    ("query", "asked"),
    [
        pytest.param("", Asked(), id="all"),
        pytest.param("?quarters=4&rubric=low-trapeze-1", Asked(4, "low-trapeze-1"), id="narrowed"),
        pytest.param("?site=Mill+studio", Asked(site="Mill studio"), id="one site"),
    ],
)
def test_the_forecast_has_the_numbers_of_the_command_line(
    visit: Visit, reading_house: Served, query: str, asked: Asked
) -> None:
    text = said(visit("reader").get(f"/due/forecast{query}"))
    found = forecast_of(reading_house.folder, asked)

    assert len(found.all.quarters) in {5, 9}
    for row in found.all.quarters[1:]:
        assert f"{row.name} {numbers(row)}" in text
    assert f"{found.all.quarters[0].name} only 24 November 2026 to 30 November 2026 " in text
    assert f"all {numbers(found.all.total)}" in text
    assert f"December 2026 {numbers(found.all.months[1])}" in text


def test_the_forecast_says_what_it_rests_on_and_that_it_promises_nothing(visit: Visit) -> None:
    page = visit("office").get("/due/forecast")
    text = said(page)

    assert NO_PROMISE in text
    assert "holders who come back in time: 12 of 13; with 0.8 supposed, worth 10: 0.87" in text
    assert "documents are renewed" in text
    assert "the student stays on the ground" in text
    assert len(re.findall(r"<svg\b", page.text)) == 1
    assert "/due/forecast" in visit("office").get("/due").text


def test_the_forecast_is_taken_along_as_a_table(visit: Visit, reading_house: Served) -> None:
    answer = visit("office").get("/due/forecast.csv?quarters=4")
    head, *rows = csv.reader(io.StringIO(answer.text.lstrip("\ufeff")))

    assert tuple(head) == COLUMNS
    assert len(rows) == len(list(cells(forecast_of(reading_house.folder, Asked(4))))) > 20


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ("quarters=0", 422, "'0' cannot be 'quarters'"),
        ("quarters=soon", 422, "'soon' cannot be 'quarters'"),
        ("rubric=low-trapeze", 404, "did you mean 'Instructor, low static trapeze'?"),
        ("site=Mill+studo", 404, "did you mean 'Mill studio'?"),
    ],
)
def test_a_forecast_that_cannot_be_is_said_to_be_none(
    visit: Visit, query: str, status: int, words: str
) -> None:
    answer = visit("reader").get(f"/due/forecast?{query}")

    assert answer.status_code == status
    assert words in said(answer)
