"""Today, what falls due, people, records, documents: as the office uses them."""

from __future__ import annotations

import csv
import html
import io
import re
import secrets
from pathlib import Path

import httpx
import pytest
from tests.content.lessons import lesson
from tests.web.conftest import TODAY, Served, Visit, filled_in, hidden
from tests.web.test_deciding_pages import text_of

from standfast.cli.app import run
from standfast.desk.approvals import approvals
from standfast.desk.definitions import written
from standfast.desk.due import Asked, due
from standfast.desk.opening import Moment, open_desk
from standfast.desk.records import record_of
from standfast.desk.sheets import take_sheet
from standfast.model.canonical import content_hash
from standfast.model.people import Document, Person
from standfast.paper.view.words import in_words
from standfast.web.naming import named, names_of

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
        assert in_words(by) in text


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


def test_the_page_of_an_assessor_shows_her_approvals_and_until_when(
    reading_house: Served, visit: Visit
) -> None:
    text = html.unescape(visit("office").get("/people/hana-dvorakova").text)
    now = Moment(Served(reading_house.folder, "").clock.now, "test", bytes, TODAY)
    with open_desk(reading_house.folder, now) as desk:
        told = [one.standing for one in approvals(desk, "hana-dvorakova")]

    assert "<h2>Approvals</h2>" in text
    assert {one.rubric for one in told} >= {"low-trapeze-1"}
    for one in told:
        assert f"<strong>{one.state}</strong>: {in_words(one.because)}" in text
    assert "<h2>Approvals</h2>" not in visit("office").get(f"/people/{INES}").text


def test_a_record_tells_next_steps_findings_and_the_story(visit: Visit) -> None:
    text = visit("marit").get(f"/people/{INES}").text

    assert "Carvalho Teles" in text
    assert "The story, as entered" in text
    assert text.count("<svg") > 3
    assert f"/people/{INES}/record.pdf" in text


def test_what_is_open_follows_from_the_newest_sheet_and_what_was_entered_stays(
    house: Served,
) -> None:
    who, rubric = "parvin-shirazi-nooshabadi", "low-trapeze-1"
    marit = house.visitor("marit")
    path = f"/decisions/{who}/{rubric}"
    assert filled_in(marit, path, f"{path}/keep").status_code == 303
    before = text_of(marit.get(f"/people/{who}"))
    now = Moment(house.clock.now, "test", secrets.token_bytes, TODAY)
    with open_desk(house.folder, now) as desk:
        texts = written(desk, rubric)
        made = lesson(texts.rubric, texts.syllabus, "hana-dvorakova", TODAY)
        take_sheet(desk, made.model_copy(update={"candidate": who}))
        (part,) = record_of(desk, who).parts
        steps = [named(one, names_of(desk)) for one in part.next_steps]
    after = text_of(marit.get(f"/people/{who}"))
    settled = "1 more practical scored under this rubric"

    assert settled in before.partition("Awards")[0]
    assert settled not in after.partition("Awards")[0]
    assert all(step in after.partition("Awards")[0] for step in steps)
    assert "Since then 1 score sheet came in" in after
    assert f"{part.title}: {part.outcome}" in after
    assert "as entered in the record book" in after


def test_awards_that_were_renewed_stand_with_the_one_that_goes_on_from_them(
    visit: Visit, reading_house: Served
) -> None:
    now = Moment(reading_house.clock.now, "test", bytes, TODAY)
    with open_desk(reading_house.folder, now) as desk:
        kept = {one.award.id: one.award for one in desk.book.awards(past=True)}
        pairs = [(kept[one.renews], one) for one in kept.values() if one.renews]
    assert len(pairs) > 3
    for before, after in pairs:
        page = text_of(visit("office").get(f"/people/{after.candidate}"))
        awards, _, _ = page.partition("Documents")
        assert before.number in awards
        assert f"renewed by {after.number} on" in awards
        old = text_of(visit("office").get(f"/awards/{before.number}"))
        new = text_of(visit("office").get(f"/awards/{after.number}"))
        assert "Today:" not in old
        assert "Print the certificate" not in old
        assert f"{after.number} , granted on" in old
        assert f"goes on from  {before.number}" in new


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
    return filled_in(visitor, f"/people/{INES}", f"/people/{INES}/documents", **form)


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
        ({"last_day": "2026-10-31"}, 409, "its last day is 31 October 2026"),
        ({"issued": "31.12.2026"}, 422, "no day of the calendar"),
        ({"document": "First Aid"}, 422, "First Aid"),
        ({"document": "first-ade"}, 409, "no document is &#39;first-ade&#39;"),
        ({"document": ""}, 422, "document"),
        ({"issued": "1899-12-31"}, 409, "issued: 31 December 1899 cannot be"),
        ({"last_day": "2077-01-01"}, 409, "last day: 1 January 2077 cannot be"),
        ({"last_day": "9999-12-31"}, 409, "mend the year, from 1900 to 2076"),
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


def test_a_document_at_the_edge_of_what_can_be_is_entered(house: Served) -> None:
    assert document(house.visitor("office"), issued="1900-01-01").status_code == 303
    assert document(house.visitor("office"), last_day="2076-12-31").status_code == 303


def in_the_book(house: Served, slug: str) -> Person | None:
    with open_desk(house.folder, Moment(house.clock.now, "test", bytes)) as desk:
        return desk.book.find_person(slug)


def documents_of(house: Served, slug: str) -> tuple[Document, ...]:
    found = in_the_book(house, slug)
    assert found
    return found.documents


def history(house: Served) -> list[str]:
    with open_desk(house.folder, Moment(house.clock.now, "test", bytes)) as desk:
        return [one.kind for one in desk.book.history()]


def test_a_document_whose_form_comes_twice_is_entered_once_and_said_so(house: Served) -> None:
    office = house.visitor("office")
    paper = {"document": "first-aid", "issued": "2026-11-01", "last_day": "2028-10-31"}
    path, before = f"/people/{INES}/documents", len(history(house))
    form = {**hidden(office.get(f"/people/{INES}").text, path), **paper}
    told = [office.post(path, data=form).status_code for _ in range(3)]

    assert told == [303, 303, 303]
    assert history(house)[before:] == ["person-set"]
    assert document(office).status_code == 409  # whoever types it anew is told


def test_a_document_that_was_taken_out_is_not_brought_back_by_its_form(house: Served) -> None:
    """A slip in the office; the file that mends it; then the slip's own form, late."""
    hand_in(house, "new.yaml", PEOPLE.format(second="ode-marsh").encode())
    office, path = house.visitor("office"), "/people/nova-lind/documents"
    paper = {"document": "first-aid", "issued": "2026-11-01", "last_day": "2028-10-31"}
    form = {**hidden(office.get("/people/nova-lind").text, path), **paper}
    assert office.post(path, data=form).status_code == 303
    hand_in(house, "new.yaml", PEOPLE.format(second="ode-marsh").encode())
    late = office.post(path, data=form)

    assert late.status_code == 409
    assert "was changed since the page was read" in late.text
    assert documents_of(house, "nova-lind") == ()


def test_a_file_that_comes_again_changes_nobody_back(house: Served) -> None:
    office, content = house.visitor("office"), PEOPLE.format(second="ode-marsh").encode()
    form = hidden(office.get("/people/import").text, "/people/import")

    def send(content: bytes) -> httpx.Response:
        return office.post("/people/import", data=form, files={"file": ("a.yaml", content)})

    first, again = send(content), send(content)
    hand_in(house, "new.yaml", content.replace(b"Ode Marsh", b"Ode Meadow"))
    late = send(content)

    assert "2 new, 0 changed, 0 the same" in first.text
    assert "0 new, 0 changed, 2 the same" in again.text
    assert late.status_code == 409
    assert "Ode Meadow (invented) was changed since" in late.text
    assert "Ode Meadow" in office.get("/people/ode-marsh").text
    from_that_page = hidden(late.text, "/people/import")
    form.update(from_that_page)
    assert "1 changed" in send(content).text  # who has looked may


def test_a_file_that_comes_again_brings_no_erased_name_back(house: Served) -> None:
    office, content = house.visitor("office"), PEOPLE.format(second="ode-marsh").encode()
    form = hidden(office.get("/people/import").text, "/people/import")
    files = {"file": ("a.yaml", content)}
    assert office.post("/people/import", data=form, files=files).status_code == 200
    assert run(["book", "forget", "nova-lind", "--yes", "--school", str(house.folder)]) == 0
    late = office.post("/people/import", data=form, files=files)

    assert late.status_code == 409
    assert "somebody was erased since" in late.text
    assert in_the_book(house, "nova-lind") is None


def test_a_file_without_the_page_that_sends_it_is_refused(house: Served) -> None:
    files = {"file": ("a.yaml", PEOPLE.format(second="ode-marsh").encode())}
    answer = house.visitor("office").post("/people/import", files=files)

    assert answer.status_code == 409
    assert "open the page anew" in answer.text
    assert in_the_book(house, "nova-lind") is None


CORRECT = f"/people/{INES}/documents/correct"


def correcting(visitor: httpx.Client, wrong: Document, **other: str) -> dict[str, str]:
    """The form for that document, filled in."""
    found = re.search(r'name="read" value="(\d+)"', visitor.get(f"/people/{INES}").text)
    assert found
    form = {
        "was": content_hash(wrong),
        "read": found[1],
        "document": wrong.document,
        "issued": str(wrong.issued),
        "last_day": str(wrong.last_day),
        "because": "a slip in the year",
    }
    return {**form, **other}


def test_a_document_that_was_entered_wrongly_is_entered_anew_with_why(house: Served) -> None:
    office = house.visitor("office")
    before = documents_of(house, INES)
    was = next(one for one in before if one.document == "first-aid")
    ended = str(was.last_day.replace(year=2026, month=12))
    form = correcting(office, was, last_day=ended, reference="Card 77")
    answers = [office.post(CORRECT, data=form) for _ in range(2)]
    after = documents_of(house, INES)

    assert [one.status_code for one in answers] == [303, 303]  # sent twice, entered once
    assert [one for one in before if one != was] == [
        one for one in after if one.reference != "Card 77"
    ]
    (mended,) = set(after) - set(before)
    assert (str(mended.last_day), mended.document) == (ended, "first-aid")
    with open_desk(house.folder, Moment(house.clock.now, "test", bytes)) as desk:
        *_, last = desk.book.history(INES)
    assert (last.who, last.body.because) == ("office", "a slip in the year")
    assert last.supersedes is not None
    page = text_of(office.get(f"/people/{INES}"))
    assert "because: a slip in the year" in page
    assert "No fault was found." in office.post("/book/audit").text


def test_a_correction_that_was_taken_back_does_not_come_again_by_its_form(house: Served) -> None:
    office = house.visitor("office")
    was = documents_of(house, INES)[0]
    form = correcting(office, was, reference="Card 77")
    assert office.post(CORRECT, data=form).status_code == 303
    (wrong,) = set(documents_of(house, INES)) - {was, *documents_of(house, INES)[1:]}
    back = correcting(office, wrong, reference=was.reference or "")
    assert office.post(CORRECT, data=back).status_code == 303
    late = office.post(CORRECT, data=form)

    assert late.status_code == 409
    assert "was changed since the page was read" in late.text
    assert was in documents_of(house, INES)


@pytest.mark.parametrize(
    ("other", "status", "words"),
    [
        ({"because": ""}, 422, "because"),
        ({"because": "Hana Dvořáková typed it"}, 409, "it names"),
        ({"was": "0" * 64}, 409, "does not stand there any more"),
        ({"last_day": "1999-01-01"}, 409, "mend one of the days"),
        ({}, 409, "the same document is there already"),
    ],
)
def test_a_correction_that_cannot_be_comes_back_with_what_was_typed(
    house: Served, other: dict[str, str], status: int, words: str
) -> None:
    office = house.visitor("office")
    before = documents_of(house, INES)
    (was, *_) = before
    form = correcting(office, was, **{"reference": was.reference or "", **other})
    refused = office.post(CORRECT, data=form)

    assert refused.status_code == status
    assert words in html.unescape(refused.text)
    assert refused.text.count('role="alert"') == 1
    assert documents_of(house, INES) == before


PEOPLE = """people:
- person: nova-lind
  name: Nova Lind (invented)
- person: {second}
  name: Ode Marsh (invented)
"""


def hand_in(house: Served, name: str, content: bytes) -> httpx.Response:
    files = {"file": (name, content)}
    return filled_in(house.visitor("office"), "/people/import", files=files)


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


def test_a_refused_form_comes_back_with_what_was_typed(house: Served) -> None:
    office = house.visitor("office")
    typed = {"document": "first-aid", "issued": "31.12.2026", "last_day": "2028-10-01"}
    answer = office.post(f"/people/{INES}/documents", data={**typed, "reference": "<Red> 17"})
    form = answer.text.partition("<summary>Enter a document")[2].partition("</form>")[0]

    assert answer.status_code == 422
    assert "no day of the calendar" in form
    for value in ("first-aid", "31.12.2026", "2028-10-01", "&lt;Red&gt; 17"):
        assert f'value="{value}"' in form


@pytest.mark.parametrize(
    ("path", "form", "there"),
    [
        pytest.param("/book/devices", {"name": "x" * 300}, "x" * 300, id="a device"),
        pytest.param("/people/import", {}, "no file was chosen", id="people without a file"),
        pytest.param("/book/copies", {}, "this is no copy of a sheet", id="a copy without a file"),
        pytest.param(
            "/password",
            {"old": "wrong words here", "new": "secret words one", "again": "secret words two"},
            "the old password is another",
            id="a password",
        ),
    ],
)
def test_no_refused_form_is_a_dead_end_and_no_secret_comes_back(
    house: Served, path: str, form: dict[str, str], there: str
) -> None:
    answer = house.visitor("office").post(path, data=form)

    assert answer.status_code in {409, 422}
    assert there in answer.text
    assert f'action="{path}"' in answer.text
    assert "secret words" not in answer.text
    assert "wrong words here" not in answer.text


def test_a_form_that_was_sent_after_the_end_of_the_session_is_not_lost_in_silence(
    house: Served,
) -> None:
    office = house.visitor("office")
    page = f"{house.address}/people/{INES}?of=form"
    house.clock.later(days=400)
    answer = office.post(f"/people/{INES}/documents", data={}, headers={"referer": page})
    door = house.visitor().get(answer.headers["location"]).text
    elsewhere = office.post("/book/devices", headers={"referer": "http://elsewhere.example/a"})

    assert answer.status_code == 303
    assert "you were signed out before that was sent" in door
    assert f'name="next" value="/people/{INES}?of=form"' in door
    assert elsewhere.headers["location"] == "/sign-in?next=%2F&ended=true"
    assert "signed out before" not in house.visitor().get("/sign-in").text


def door(house: Served, path: str, form: dict[str, str], login: str = "office") -> str:
    """What the door says to somebody who sends that form twelve hours and more too late."""
    visitor = house.visitor(login)
    house.clock.later(hours=13)
    page = f"{house.address}/people/{INES}"
    answer = visitor.post(path, data=form, headers={"referer": page})
    assert answer.status_code == 303
    return house.visitor().get(answer.headers["location"]).text


LATE = {"document": "first-aid", "issued": "2026-11-01", "last_day": "", "reference": "Card 4711"}


def test_what_was_typed_waits_for_whoever_typed_it(house: Served) -> None:
    page = f"/people/{INES}"
    said = door(house, f"{page}/documents", LATE)
    others = [house.visitor(login).get(page).text for login in ("all", "marit", "reader")]
    office = house.visitor("office")
    elsewhere, there = office.get("/book/devices").text, office.get(page).text

    assert "what you typed stands there again" in said
    assert not any("Card 4711" in text for text in [*others, elsewhere])
    assert 'value="Card 4711"' in there
    assert 'value="2026-11-01"' in there
    assert "you were signed out before this was sent" in there
    assert "Card 4711" not in office.get(page).text
    with open_desk(house.folder, Moment(house.clock.now, "test", bytes)) as desk:
        who = desk.book.find_person(INES)
    assert who
    assert "Card 4711" not in {one.reference for one in who.documents}


def test_what_was_typed_does_not_wait_for_ever_nor_any_secret(house: Served) -> None:
    secrets_typed = {"old": "four plain words here", "new": "five plain words", "again": "x"}
    assert "what you typed" not in door(house, "/password", secrets_typed)
    door(house, f"/people/{INES}/documents", LATE)
    house.clock.later(minutes=61)

    assert "Card 4711" not in house.visitor("office").get(f"/people/{INES}").text


@pytest.mark.parametrize(
    ("method", "path", "status", "words"),
    [
        pytest.param("POST", "/people", 405, "Not in this way", id="an address that takes nothing"),
        pytest.param("GET", "/rubrics/low-trapeze-1?version=two", 422, "'two'", id="no number"),
        pytest.param("POST", "/password", 413, "more was sent", id="too much"),
    ],
)
def test_what_cannot_be_is_said_to_a_person_on_a_page(
    house: Served, method: str, path: str, status: int, words: str
) -> None:
    content = b"x" * (1 << 21) if status == 413 else None
    answer = house.visitor("all").request(method, path, content=content)

    assert answer.status_code == status
    assert answer.headers["content-type"].startswith("text/html")
    assert words in html.unescape(answer.text)
    assert "To the first page" in answer.text
    assert answer.headers["content-security-policy"]
    assert (answer.headers.get("allow") == "GET") is (status == 405)


def test_a_script_is_told_the_same_in_json(house: Served) -> None:
    hana = house.visitor("hana")
    wrong = hana.delete("/api/kits")
    lacking = hana.get("/api/lesson-kit")

    assert (wrong.status_code, wrong.headers["allow"]) == (405, "GET")
    assert wrong.json() == {"detail": "Method Not Allowed"}
    assert lacking.status_code == 422
    assert {one["loc"][-1] for one in lacking.json()["detail"]} == {"rubric", "candidate"}


def test_one_of_a_thing_is_not_called_many(house: Served) -> None:
    office = house.visitor("office")
    pages = [office.get(path).text for path in (f"/people/{INES}", "/book", "/")]
    pages.append(office.post("/book/audit").text)
    said = re.sub(r"<[^>]*>", "", " ".join(pages))

    assert re.findall(r"\b1 (?:sheets|entries|records|faults|decisions|practicals)\b", said) == []
    assert re.search(r"from 1 sheet\b", said)
    assert re.search(r"\d+ entries checked", said)
    assert '<a href="/due?span=30d"><strong>' in pages[2].partition("late already")[0][-80:]
