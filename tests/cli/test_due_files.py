"""The due list as files: said, checked before, and a calendar that never loses what is to do."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run

Q1, Q2, Q4 = ("FY2026/27 Q1", "FY2026/27 Q2", "FY2026/27 Q4")
SEEN = "2026-11-20"


@pytest.fixture
def held(scored: Path, standfast: Run) -> Path:
    """One award: insurance ends on 31 August 2027, the refresher is due on 20 November 2027."""
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def events(file: str = "due.ics") -> dict[str, list[str]]:
    """For each status the days of the events about the holder, and of those that say nothing."""
    found: dict[str, list[str]] = {"CONFIRMED": [], "CANCELLED": []}
    text = Path(file).read_text("utf-8").replace("\r\n ", "")
    for event in re.findall(r"BEGIN:VEVENT(.*?)END:VEVENT", text, re.DOTALL):
        day = re.search(r"DATE:(\d{4})(\d\d)(\d\d)", event)
        status = re.search(r"STATUS:(\w+)", event)
        assert day
        assert status
        if "Carvalho" in event or status[1] == "CANCELLED":
            found[status[1]].append("-".join(day.groups()))
    return {status: sorted(days) for status, days in found.items()}


def calendar(standfast: Run, *asked: str, on: str = SEEN) -> None:
    assert standfast("due", *asked, "--on", on, "--calendar", "due.ics").code == 0


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize(
    "then",
    [
        pytest.param(("--quarter", Q2), id="an earlier quarter"),
        pytest.param(("--quarter", "FY2027/28 Q2"), id="a later quarter"),
        pytest.param(("--next", "1m"), id="days before it"),
        pytest.param(("--next", "300d"), id="days that overlap"),
    ],
)
def test_another_list_cancels_nothing_that_is_still_to_do(
    standfast: Run, then: tuple[str, str]
) -> None:
    calendar(standfast, "--quarter", Q4)
    calendar(standfast, "--quarter", "FY2027/28 Q1")
    calendar(standfast, *then)

    told = events()
    assert {"2027-08-31", "2027-11-20"} <= set(told["CONFIRMED"])
    assert told["CANCELLED"] == []


@pytest.mark.usefixtures("held")
def test_what_is_late_is_cancelled_only_when_it_is_done(standfast: Run) -> None:
    calendar(standfast, "--quarter", Q4)
    # The insurance has ended, and with it the award: late, under a UID of its own.
    calendar(standfast, "--quarter", "FY2028/29 Q2", on="2027-09-10")
    before = events()
    assert before["CONFIRMED"] == ["2027-08-31"]
    ruled = ("--certifier", MARIT, "--because", "left", "--on", "2027-08-30")
    assert standfast("withdraw", INES, *ruled).code == 0
    calendar(standfast, "--quarter", "FY2028/29 Q2", on="2027-09-12")
    after = events()

    assert after["CONFIRMED"] == []
    assert len(after["CANCELLED"]) == len(before["CANCELLED"]) + 1


@pytest.mark.usefixtures("held")
def test_what_only_a_full_practical_mends_stays_in_the_calendar(standfast: Run) -> None:
    # Two years after its last day it is listed with the days in which it ended, and only there.
    on = "2031-01-10"
    calendar(standfast, "--quarter", Q4, on=on)
    assert events()["CONFIRMED"] == ["2027-08-31"]

    calendar(standfast, "--quarter", "FY2030/31 Q2", on=on)

    assert events() == {"CONFIRMED": ["2027-08-31"], "CANCELLED": []}


def test_a_document_that_was_renewed_moves_also_in_a_list_of_other_days(
    held: Path, standfast: Run
) -> None:
    calendar(standfast, "--quarter", Q4)
    calendar(standfast, "--quarter", "FY2027/28 Q1")
    file = held / "candidates" / "people.yaml"
    text = file.read_text("utf-8")
    who = text.index("person: " + INES)
    renewed = text[who:].replace("last_day: 2027-08-31", "last_day: 2027-10-31", 1)
    assert renewed != text[who:]
    file.write_text(text[:who] + renewed, "utf-8")
    assert standfast("people").code == 0

    calendar(standfast, "--quarter", Q2)

    told = events()
    assert {"2027-10-31", "2027-11-20"} <= set(told["CONFIRMED"])
    assert told["CANCELLED"] == []


@pytest.mark.usefixtures("held")
def test_a_renewed_calendar_forgets_who_was_erased(standfast: Run) -> None:
    calendar(standfast, "--quarter", Q4)
    assert "Carvalho" in Path("due.ics").read_text("utf-8")
    assert standfast("book", "forget", INES, "--yes").code == 0

    calendar(standfast, "--quarter", Q2)

    assert "Carvalho" not in Path("due.ics").read_text("utf-8")
    assert "2027-08-31" in events()["CANCELLED"]


@pytest.mark.usefixtures("held")
def test_what_was_written_is_said(standfast: Run) -> None:
    files = ("--csv", "q.csv", "--xlsx", "q.xlsx", "--calendar", "q.ics", "--letters", "post")
    ran = standfast("due", "--quarter", Q4, "--on", ON, *files)
    rows = len(standfast("due", "--quarter", Q4, "--on", ON, "--json").json["items"])

    assert f"wrote q.csv: lines: {rows}" in ran.err
    assert f"wrote q.xlsx: lines: {rows}" in ran.err
    assert f"wrote q.ics: days: {rows}" in ran.err
    letters = len(list(Path("post").glob("*.pdf")))
    assert letters
    assert f"wrote post: letters: {letters}, each as PDF and as text\n" in ran.err
    Path("post", "letter-of-before.pdf").write_bytes(b"")
    again = standfast("due", "--quarter", Q4, "--on", ON, "--letters", "post", "--json")
    assert "1 of an earlier list lie there still" in again.json["written"]["post"]


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize(
    ("wrong", "cure"),
    [
        pytest.param(("--calendar", "x.txt"), "ends in .ics", id="calendar of another ending"),
        pytest.param(("--calendar", "x.ics", "--site", "Sandhof hall"), "whole school", id="site"),
        pytest.param(("--calendar", "mine.ics"), "no calendar that a due list", id="another's"),
        pytest.param(("--xlsx", "x.csv"), "ends in .xlsx", id="table of another ending"),
        pytest.param(("--xlsx", "no/such/x.xlsx"), "with --xlsx", id="folder that is not there"),
        pytest.param(("--letters", "mine.ics"), "with --letters", id="letters into a file"),
        pytest.param(("--letters", "mine.ics/to"), "with --letters", id="letters below a file"),
        pytest.param(("--quarter", "2026Q5"), "write 2026Q4", id="quarter"),
        pytest.param(("--next", "soon"), "write 90d", id="span"),
        pytest.param(("--next", "0d"), "write 90d", id="span of nothing"),
    ],
)
def test_nothing_is_written_when_something_cannot_be(
    standfast: Run, wrong: tuple[str, ...], cure: str
) -> None:
    Path("mine.ics").write_text("mine", "utf-8")
    before = sorted(Path().iterdir())
    ran = standfast("due", "--on", ON, "--csv", "all.csv", *wrong)

    assert (ran.code, cure in ran.err) == (2, True), ran.err
    assert sorted(Path().iterdir()) == before


@pytest.mark.usefixtures("held")
def test_a_quarter_without_a_school_year_is_one_of_the_calendar(standfast: Run) -> None:
    # The school's own year begins in September.
    def span(*asked: str) -> tuple[str, str, str]:
        value = standfast("due", *asked, "--on", ON, "--json").json
        return value["title"], value["first"], value["last"]

    assert span("--quarter", "2026Q4") == ("2026 Q4", "2026-10-01", "2026-12-31")
    assert span("--quarter", Q2) == (Q2, "2026-12-01", "2027-02-28")
    assert span() == (Q1, "2026-09-01", "2026-11-30")
