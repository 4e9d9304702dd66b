"""Today, what falls due, people, records, documents: as the office uses them."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import httpx
import pytest
from tests.web.conftest import TODAY, Served, Visit

from standfast.desk.due import Asked, due
from standfast.desk.opening import Moment, open_desk

INES = "ines-carvalho-teles"


def rows_due(folder: Path, asked: Asked) -> list[tuple[str, str, str]]:
    """What the command line would list."""
    with open_desk(folder, Moment(Served(folder, "").clock.now, "test", bytes, TODAY)) as desk:
        return [(str(row.by), row.name, row.to_do) for row in due(desk, asked).rows]


def test_the_due_list_has_the_rows_of_the_command_line(visit: Visit, reading_house: Served) -> None:
    text = visit("office").get("/due").text
    wanted = rows_due(reading_house.folder, Asked())

    assert len(wanted) > 2
    assert len(re.findall(r'<td class="day"', text)) == len(wanted)
    for by, name, _ in wanted:
        assert f">{name}</a>" in text
        assert by in text


@pytest.mark.parametrize(
    ("query", "asked"),
    [
        ("?span=90d", Asked(ahead="90d")),
        ("?span=2026%20Q4", Asked(quarter="2026 Q4")),
        ("?rubric=low-trapeze-1", Asked(rubric="low-trapeze-1")),
    ],
)
def test_the_table_has_what_was_asked_for(
    visit: Visit, reading_house: Served, query: str, asked: Asked
) -> None:
    answer = visit("reader").get(f"/due/table.csv{query}")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))

    assert answer.headers["content-disposition"] == 'attachment; filename="due.csv"'
    assert [(row["by"], row["name"], row["to do"]) for row in rows] == rows_due(
        reading_house.folder, asked
    )


@pytest.mark.parametrize(
    ("address", "kind", "begins"),
    [
        ("/due/list.pdf", "application/pdf", b"%PDF-"),
        ("/due/table.xlsx", "application/vnd.openxml", b"PK"),
        ("/due/table.ics", "text/calendar", b"BEGIN:VCALENDAR"),
        (f"/people/{INES}/record.pdf", "application/pdf", b"%PDF-"),
    ],
)
def test_what_is_printed_or_taken_along_is_there(
    visit: Visit, address: str, kind: str, begins: bytes
) -> None:
    answer = visit("office").get(address)

    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(kind)
    assert answer.content.startswith(begins)


@pytest.mark.parametrize("query", ["?span=2026Q9", "?site=nowhere", "?rubric=no-such"])
def test_a_list_that_cannot_be_is_said_to_be_none(visit: Visit, query: str) -> None:
    answer = visit("office").get(f"/due{query}")

    assert answer.status_code in {400, 404}
    assert "Traceback" not in answer.text


def test_a_record_tells_next_steps_findings_and_the_story(visit: Visit) -> None:
    text = visit("marit").get(f"/people/{INES}").text

    assert "Carvalho Teles" in text
    assert "The story, as entered" in text
    assert text.count("<svg") > 3
    assert f"/people/{INES}/record.pdf" in text


def test_people_are_found_by_part_of_their_name(visit: Visit) -> None:
    every, one = visit("office").get("/people").text, visit("office").get("/people?q=ines").text

    assert every.count('scope="row"') > one.count('scope="row"') >= 1
    assert f"/people/{INES}" in one


def test_a_contact_is_shown_to_whoever_writes_letters_and_not_to_readers(visit: Visit) -> None:
    contact = re.compile(r"[\w.]+@[\w.]+")

    assert contact.search(visit("office").get(f"/people/{INES}").text)
    assert not contact.search(visit("reader").get(f"/people/{INES}").text)


def test_somebody_who_is_not_there_is_not_found(visit: Visit) -> None:
    answer = visit("office").get("/people/ines-carvalho")

    assert answer.status_code == 404
    assert "did you mean" in answer.text


def document(visitor: httpx.Client, **other: str) -> httpx.Response:
    form = {"document": "first-aid", "issued": "2026-11-01", "last_day": "2028-10-31", **other}
    return visitor.post(f"/people/{INES}/documents", data=form)


def test_a_document_that_was_shown_is_entered(house: Served) -> None:
    office = house.visitor("office")
    entered = document(office, reference="Card 77")

    assert entered.status_code == 303
    assert "Card 77" in office.get(f"/people/{INES}").text
    with open_desk(house.folder, Moment(house.clock.now, "test", bytes)) as desk:
        assert desk.book.history(INES)[-1].who == "office"


@pytest.mark.parametrize(
    ("other", "status", "words"),
    [
        ({"last_day": "2026-10-31"}, 409, "its last day is 2026-10-31"),
        ({"issued": "31.12.2026"}, 422, "no day of the calendar"),
        ({"document": "First Aid"}, 422, "First Aid"),
        ({"document": "first-ade"}, 409, "no document is &#39;first-ade&#39;"),
        ({"document": ""}, 422, "document"),
        ({"more": "x"}, 422, "more"),
    ],
)
def test_a_document_that_cannot_be_is_not_entered(
    house: Served, other: dict[str, str], status: int, words: str
) -> None:
    office = house.visitor("office")
    before = office.get(f"/people/{INES}").text
    refused = document(office, **other)

    assert refused.status_code == status
    assert words in refused.text
    assert office.get(f"/people/{INES}").text == before


PEOPLE = """people:
- person: nova-lind
  name: Nova Lind (invented)
- person: {second}
  name: Ode Marsh (invented)
"""


def hand_in(house: Served, name: str, content: bytes) -> httpx.Response:
    return house.visitor("office").post("/people/import", files={"file": (name, content)})


def test_people_come_in_from_a_file(house: Served) -> None:
    answer = hand_in(house, "new.yaml", PEOPLE.format(second="ode-marsh").encode())

    assert answer.status_code == 200
    assert "2 new, 0 changed, 0 the same" in answer.text
    assert "Nova Lind" in house.visitor("reader").get("/people?q=nova").text


def test_of_a_file_with_a_fault_nobody_comes_in_and_its_line_is_said(house: Served) -> None:
    answer = hand_in(house, "new.yaml", PEOPLE.format(second="Ode Marsh").encode())

    assert answer.status_code == 422
    assert "new.yaml:4:" in answer.text
    assert "Nova Lind" not in house.visitor("reader").get("/people?q=nova").text


@pytest.mark.parametrize(
    ("name", "content"), [("new.exe", b"MZ"), ("", b""), ("new.xlsx", b"no sheet"), ("a.csv", b"")]
)
def test_a_file_that_is_none_is_refused_with_a_reason(
    house: Served, name: str, content: bytes
) -> None:
    answer = hand_in(house, name, content)

    assert answer.status_code in {400, 409, 422}
    assert '<div class="told">' in answer.text


def test_the_first_page_of_an_empty_book_says_what_to_do_first(tmp_path: Path) -> None:
    import secrets

    from tests.web.conftest import PASSWORD, Clock, served

    from standfast.cli.app import run
    from standfast.desk.access import add_account

    folder = tmp_path / "new"
    assert run(["new", str(folder), "--name", "Sandhof"]) == 0
    with open_desk(folder, Moment(Clock().now, "test", secrets.token_bytes)) as desk:
        add_account(desk, "office", ["office"], PASSWORD)
    with served(folder, Clock()) as house:
        office = house.visitor("office")

        assert "/people/import" in office.get("/").text
        assert "Nobody is in the record book yet" in office.get("/people").text
        assert "Nothing falls due" in office.get("/due").text
