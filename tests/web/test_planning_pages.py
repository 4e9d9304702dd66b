"""What is coming, on pages: the forecast of lessons, and the plan of a day."""

from __future__ import annotations

import csv
import io
import re
from concurrent.futures import ThreadPoolExecutor
from html import unescape
from pathlib import Path
from threading import Barrier, BrokenBarrierError
from time import monotonic

import httpx
import pytest
from tests.web.conftest import NOW, TODAY, Served, Visit
from tests.web.test_deciding_pages import text_of

from standfast.desk.forecast import NO_PROMISE, Asked, Forecast, Row, forecast
from standfast.desk.forecast_files import COLUMNS, cells
from standfast.desk.opening import Moment, open_desk
from standfast.desk.planning import PlannedDay, plan_day
from standfast.engine.planning.programme import Watch
from standfast.files.plan import read_plan
from standfast.problems import Refused


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


def test_what_was_asked_for_stays_chosen(visit: Visit) -> None:
    page = visit("reader").get("/due/forecast?quarters=2&rubric=low-trapeze-1").text

    assert '<option value="2" selected>2 quarters</option>' in page
    assert '<option value="low-trapeze-1" selected>Instructor, low static trapeze</option>' in page
    assert page.count(" selected>") == 2


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


# --- a day of practicals ----------------------------------------------------------------------

DAY = {"day": "2026-12-05", "rubric": "low-trapeze-1"}
WISHES = {
    **DAY,
    "slots": "9:00-10:00\n10:15 to 11:15\n11:30 - 12:30\n13:30-14:30",
    "rooms": "2",
    "double": "0.5",
    "linked": "yes",
    "spread": "",
    "trainers": "beside",
    "free-hana-dvorakova": "1 2 3",
    "most-tendai-mukwashi": "2",
    "free-aurelio-tamm-nieminen": "2, 3, 4",
    "candidate-1": "odalys-quintero-bembe",
    "candidate-2": "yasmin-al-khatib",
    "only-2": "1 2",
    "candidate-3": "sasaki-hinano",
    "candidate-5": "konstantina-papadimitrakopoulou",
    "candidate-6": "siggi-hrafnkelsson",
    "only-6": "3 4",
    "candidate-8": "parvin SHIRAZI nooshabadi",
    "apart-8": "ruben-van-den-oetelaar",
}
"""The day of `candidates/plans`, as somebody would type it."""
FILE = Path(__file__).parents[2] / "candidates/plans/trapeze-2026-12-05.yaml"


def planned(folder: Path) -> PlannedDay:
    """What the command line would say of the file."""
    with open_desk(folder, Moment(NOW, "test", bytes, TODAY)) as desk:
        until = monotonic() + 120
        watch = Watch(lambda: until - monotonic(), lambda _: None)
        return plan_day(desk, read_plan(FILE), watch)


@pytest.fixture(scope="module")
def plan_typed(visit: Visit) -> httpx.Response:
    return visit("office").get("/plan", params=WISHES)


def beside(page: httpx.Response, field: str) -> str:
    """What is said right after that field, before the next one."""
    after = page.text.partition(f'name="{field}"')[2]
    return " ".join(re.split(r"<label|<input|<select|<button", after)[0].split())


def test_a_day_that_is_typed_is_planned_as_from_a_file(
    plan_typed: httpx.Response, reading_house: Served
) -> None:
    found = planned(reading_house.folder)
    (table, parts) = re.findall(r"<tbody>(.*?)</tbody>", plan_typed.text, re.DOTALL)[:2]
    rows = re.findall(r"<tr>(.*?)</tr>", table)

    assert len(rows) == len(found.lessons) == 6
    for row, (time, _, candidate, first, second) in zip(rows, found.lines, strict=True):
        cells = re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row)
        assert list(map(unescape, cells)) == [time, candidate, first, second]
    assert parts.count("<tr>") == len(found.loads)
    for words in found.said:
        assert words in said(plan_typed)
    assert f"Scored by two: {found.doubles} of 6 candidates." in said(plan_typed)


def test_a_plan_lets_nobody_teach_and_enters_nothing(
    house: Served, plan_typed: httpx.Response
) -> None:
    beneath = said(plan_typed).partition("Who scores whom")[0]  # on the same sheet of paper
    assert "it lets nobody teach" in beneath
    assert "the student stays on the ground" in beneath
    with open_desk(house.folder, Moment(NOW, "test", bytes, TODAY)) as desk:
        before = desk.book.size()
        assert house.visitor("office").get("/plan", params=WISHES).status_code == 200

        assert desk.book.size() == before


def test_the_plan_is_printed(visit: Visit) -> None:
    answer = visit("office").get("/plan/day.pdf", params=WISHES)

    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")


def test_a_day_and_a_rubric_give_the_assessors_who_may_score_then(visit: Visit) -> None:
    first = visit("lead").get("/plan")
    page = visit("lead").get("/plan", params=DAY)

    assert "comes-" not in first.text
    assert 'name="comes-hana-dvorakova"' in page.text
    assert "marit-solheim-aune" not in page.text
    assert "There is no plan" not in said(page)
    late = visit("lead").get("/plan", params=DAY | {"day": "2099-12-05"})
    assert "Nobody may score Instructor, low static trapeze on 5 December 2099" in said(late)


def test_what_was_typed_stays_in_its_fields(plan_typed: httpx.Response) -> None:
    for name in ("rooms", "free-hana-dvorakova", "most-tendai-mukwashi", "candidate-8", "only-6"):
        assert re.search(rf'name="{name}"[^>]* value="{WISHES[name]}"', plan_typed.text), name
    assert WISHES["slots"] in plan_typed.text
    assert '<option value="ruben-van-den-oetelaar" selected>' in plan_typed.text


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        pytest.param({"slots": "9:00-10:00\nnoon"}, "slots", "'noon' is no slot", id="no slot"),
        pytest.param({"slots": "9:00-25:00"}, "slots", "'25:00' is no time of day", id="no time"),
        pytest.param({"slots": " "}, "slots", "no slot is there", id="none"),
        pytest.param({"slots": "9:00-10:00\n9:30-11:00"}, "slots", "before 'slot-1'", id="overlap"),
        pytest.param({"rooms": "0"}, "rooms", "rooms: '0' is less than 1", id="no room"),
        pytest.param({"spread": "-1"}, "spread", "spread: '-1' is no whole number", id="below 0"),
        pytest.param({"candidate-1": "Odalys Quinter"}, "candidate-1", "mean 'Odalys", id="nobody"),
        pytest.param({"candidate-1": "hana-dvorakova"}, "candidate-1", "to score", id="both"),
        pytest.param({"candidate-1": "sasaki-hinano"}, "candidate-3", "listed twice", id="twice"),
        pytest.param({"only-2": "1 5"}, "candidate-2", "no slot 'slot-5'", id="no such slot"),
        pytest.param({"most-tendai-mukwashi": "0"}, "most", "less than 1", id="at most none"),
        pytest.param({"free-hana-dvorakova": "x"}, "free", "no slot 'x'", id="of an assessor"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(
    visit: Visit, typed: dict[str, str], field: str, words: str
) -> None:
    page = visit("office").get("/plan", params=WISHES | typed)

    assert page.status_code == 422
    if field in {"most", "free"}:  # beside the assessor's name
        (who,) = (name.partition("-")[2] for name in typed)
        row = re.findall(rf'<th scope="row">[^\n]*\n<td[^\n]*name="comes-{who}"', page.text)[0]
        assert words in unescape(row)
    else:
        assert words in unescape(beside(page, field))
    assert "There is no plan yet" in said(page)


def test_a_day_that_is_none_is_said_beside_it(visit: Visit) -> None:
    page = visit("office").get("/plan", params=DAY | {"day": "soon"})

    assert page.status_code == 422
    assert "'soon' is no day" in said(page)


def test_nobody_is_to_teach_or_to_score(visit: Visit) -> None:
    nobody = {name: "" for name in WISHES if name.startswith("candidate")}
    away = {f"comes-{who}": "no" for who in scoring(visit)}
    page = visit("office").get("/plan", params=WISHES | nobody | away)

    assert "nobody is to teach; name somebody" in said(page)
    assert "nobody comes to score; let somebody come" in said(page)


def scoring(visit: Visit) -> set[str]:
    return set(re.findall(r'name="comes-([^"]+)"', visit("office").get("/plan", params=DAY).text))


def test_wishes_that_clash_are_told_by_their_fields(visit: Visit) -> None:
    page = visit("office").get("/plan", params=WISHES | {"rooms": "1"})
    text = said(page)

    assert page.status_code == 409
    assert "no plan for Instructor, low static trapeze on 5 December 2026" in text
    assert "rooms: at most one lesson at the same time" in text
    assert "line 0" not in text
    assert "by default" not in text


def test_what_takes_too_long_is_said_on_the_page(
    visit: Visit, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("standfast.web.routes.planning.SECONDS", 0)
    page = visit("office").get("/plan", params=WISHES)

    assert page.status_code == 409
    assert "time was over before an answer was proved" in said(page)
    assert 'value="odalys-quintero-bembe"' in page.text


def test_one_day_is_planned_at_a_time(visit: Visit, monkeypatch: pytest.MonkeyPatch) -> None:
    both = Barrier(2)

    def planning(*_: object) -> PlannedDay:
        try:
            both.wait(0.5)
        except BrokenBarrierError:
            raise Refused("alone") from None
        raise Refused("two at a time")

    monkeypatch.setattr("standfast.web.routes.planning._planned", planning)
    visitors = [visit("office"), visit("lead")]
    with ThreadPoolExecutor() as pool:
        pages = list(pool.map(lambda visitor: visitor.get("/plan", params=WISHES), visitors))

    assert ["alone" in said(page) for page in pages] == [True, True]
