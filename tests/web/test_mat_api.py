"""What is sent from beside the mat: kept once, answered for each record, signed into the book."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.schools import bytes_of_book
from tests.web.conftest import Clock, Sent, Served, served
from tests.web.records import JSON, RUBRIC, SHEET, begin, key, lesson, post, record, sign

from standfast.cli.app import run
from standfast.desk.mat import NOT_AGAIN
from standfast.desk.opening import where_the_book_is
from standfast.engine.replaying import digest, sheet_of
from standfast.model.mat import Record
from standfast.model.sheet import Sheet
from standfast.store.connect import open_book


@pytest.fixture
def hana(house: Served) -> httpx.Client:
    return house.visitor("hana")


@pytest.fixture
def candidate(hana: httpx.Client) -> str:
    """Somebody whom hana may score."""
    return str(hana.get("/api/kits").json()["candidates"][0]["id"])


@pytest.fixture
def server(house: Served) -> Sent:
    return Sent(house.folder)


def test_the_kit_has_what_a_lesson_needs(hana: httpx.Client, candidate: str) -> None:
    kit = hana.get("/api/lesson-kit", params={"rubric": RUBRIC, "candidate": candidate}).json()

    assert kit["assessor"] == {"id": "hana-dvorakova", "name": "Hana Dvořáková"}
    assert kit["every"] == 60
    assert {"in-place", "feet-still", "contact-kept"} <= {one["id"] for one in kit["questions"]}
    assert any(one["stops"] for one in kit["incidents"])
    assert all(level["words"] for one in kit["ratings"] for level in one["levels"])
    assert "stays on the ground" in kit["caution"]


def test_nobody_scores_under_a_rubric_without_approval(hana: httpx.Client, candidate: str) -> None:
    asked = {"rubric": "floor-tumbling-1", "candidate": candidate}

    assert hana.get("/api/lesson-kit", params=asked).status_code == 409


def test_a_lesson_that_is_signed_becomes_a_sheet_of_the_book(
    house: Served, hana: httpx.Client, candidate: str
) -> None:
    taps = lesson(hana, candidate)
    assert set(post(hana, *taps)) == {"stored"}
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "open"
    assert post(hana, sign(taps)) == ["stored"]
    told = hana.get(f"/api/sheets/{SHEET}").json()

    assert told["state"] == "signed", told
    story = house.visitor("office").get(f"/people/{candidate}").text
    assert "practical mill-2026-11-24" in story
    (own,) = hana.get("/api/sheets").json()
    assert (own["signed"], own["records"], own["entry"]) == (True, len(taps) + 1, told["entry"])
    assert run(["book", "audit", "--school", str(house.folder)]) == 0


def test_the_same_again_is_seen_and_kept_once(
    hana: httpx.Client, candidate: str, server: Sent
) -> None:
    taps = lesson(hana, candidate)
    post(hana, *taps)

    assert set(post(hana, *taps)) == {"seen"}
    assert len(server.records) == len(taps)


def test_a_server_that_ended_between_signature_and_sheet_takes_it_when_it_is_sent_again(
    house: Served, hana: httpx.Client, candidate: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Found by killing the server (`test_server_killed.py`): records were kept, no sheet was."""
    taps = lesson(hana, candidate)
    whole = [*taps, sign(taps)]
    with monkeypatch.context() as ended:
        ended.setattr("standfast.desk.mat._taken", lambda *_: 1 / 0)
        assert hana.post("/api/records", json={"records": whole}).status_code == 500

    assert set(post(hana, *whole)) == {"seen"}
    with open_book(where_the_book_is(house.folder)) as book:
        assert book.find_sheet(SHEET) is not None


def test_one_bad_record_does_not_stop_the_others(
    hana: httpx.Client, candidate: str, server: Sent
) -> None:
    first = begin(candidate)
    bad: list[JSON] = [
        record(2, kind="look", look=1, t=60, waiting=3, idle=9),
        record(3, kind="look", look=True, t=60),
        record(4, kind="look", look="1", t=60),
        record(5, kind="look", look=1.0, t=60),
        record(6, kind="dance", t=60),
        record(7, kind="end", t=60, more="x"),
        record(8, kind="end", t=-1),
        {**record(9, kind="end", t=60), "at": 1764000000},
    ]
    good = record(10, kind="end", t=60)

    assert post(hana, first, *bad, good) == ["stored", *["held"] * len(bad), "stored"]
    assert set(server.records) == {first["id"], good["id"]}
    assert post(hana, bad[0]) == ["held"]
    assert hana.get("/api/sheets").json()[0]["held"] == len(bad)


def test_what_contradicts_the_sheet_is_held_with_its_reason(
    house: Served, hana: httpx.Client, candidate: str
) -> None:
    taps = lesson(hana, candidate)
    post(hana, *taps, sign(taps))
    other = house.visitor("leilani")

    def why(visitor: httpx.Client, one: JSON) -> str:
        (told,) = visitor.post("/api/records", json={"records": [one]}).json()["answers"]
        assert told["answer"] == "held"
        return str(told["why"])

    changed = {**taps[1], "body": {**taps[1]["body"], "answer": "no"}}
    assert "other content" in why(hana, changed)
    assert "is another record" in why(hana, record(2, number=77, kind="end", t=60))
    assert "another assessor" in why(other, record(50, number=78, kind="end", t=60))
    assert "signed before it" in why(hana, record(len(taps) + 2, kind="end", t=60))
    elsewhere = {**begin(candidate, assessor="leilani-kahananui"), "sheet": key(5), "id": key(6)}
    assert "not the assessor" in why(hana, elsewhere)
    nobody = {**begin("nobody-at-all"), "sheet": key(7), "id": key(8)}
    assert "nobody in the record book" in why(hana, nobody)


def test_a_signature_waits_for_records_that_are_missing(hana: httpx.Client, candidate: str) -> None:
    taps = lesson(hana, candidate)
    post(hana, *taps[:3], *taps[4:], sign(taps))
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "incomplete"
    post(hana, taps[3])

    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "signed"


@pytest.mark.parametrize("wrong", [{"count": 2}, {"sha256": "0" * 64}])
def test_a_signature_of_something_else_takes_no_sheet(
    hana: httpx.Client, candidate: str, wrong: JSON
) -> None:
    taps = lesson(hana, candidate)
    signed = sign(taps)
    signed["body"] |= wrong
    post(hana, *taps, signed)
    told = hana.get(f"/api/sheets/{SHEET}").json()

    assert told["state"] == "refused"
    assert told["entry"] is None


def test_a_sheet_that_contradicts_its_rubric_says_why(hana: httpx.Client, candidate: str) -> None:
    taps = lesson(hana, candidate)
    del taps[1]  # one question of the first try
    taps = [{**one, "n": n} for n, one in enumerate(taps, 1)]
    post(hana, *taps, sign(taps))
    told = hana.get(f"/api/sheets/{SHEET}").json()

    assert told["state"] == "refused"
    assert "no answer to" in told["problems"][0]


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{", b'{"records": 1}', b'{"records": [{"id": "x"}]}', b'{"records": [NaN]}'],
)
def test_what_is_no_batch_is_refused_as_a_whole(hana: httpx.Client, body: bytes) -> None:
    answer = hana.post("/api/records", content=body)

    assert answer.status_code == 422
    assert "error" in answer.json()


def test_an_expired_session_is_told_so_and_nothing_is_kept(
    house: Served, hana: httpx.Client, candidate: str, server: Sent
) -> None:
    house.clock.later(days=30)
    answer = hana.post("/api/records", json={"records": [begin(candidate)]})

    assert answer.status_code == 401
    assert server.records == {}


def test_an_erased_person_is_named_in_no_record(
    house: Served, hana: httpx.Client, candidate: str
) -> None:
    post(hana, begin(candidate), record(2, kind="look", look=1, t=60, waiting=3, idle=9))
    held = {**begin(candidate, rubric_version="1"), "id": key(9), "sheet": key(10)}
    assert post(hana, held) == ["held"]
    assert run(["book", "forget", candidate, "--yes", "--school", str(house.folder)]) == 0
    kept = bytes_of_book(house.folder)

    assert candidate.encode() not in kept


def test_what_was_held_and_named_an_erased_person_does_not_come_back(
    house: Served, hana: httpx.Client, candidate: str, server: Sent
) -> None:
    """Its device may have got no answer; and her slug may be somebody else's by then."""
    held = begin(candidate, rubric_version="1")
    assert post(hana, held) == ["held"]
    school = ("--school", str(house.folder))
    assert run(["book", "forget", candidate, "--yes", *school]) == 0
    told = hana.post("/api/records", json={"records": [held]}).json()["answers"]

    assert [(one["answer"], one["why"]) for one in told] == [("held", NOT_AGAIN)]
    assert candidate.encode() not in bytes_of_book(house.folder)
    other = house.folder / "other.yaml"
    other.write_text(f"people:\n  - person: {candidate}\n    name: Somebody Else\n", "utf-8")
    assert run(["people", str(other), *school]) == 0
    assert post(hana, begin(candidate)) == ["held"]
    assert server.records == {}
    with open_book(where_the_book_is(house.folder)) as book:
        assert book.records.held() == ()


def replayed(taps: list[JSON]) -> Sheet:
    sheet = sheet_of(Record.model_validate(one) for one in taps)
    assert sheet
    return sheet


@pytest.fixture(scope="module")
def made() -> list[JSON]:
    """A lesson with something of each kind, and two things taken back."""
    taps: list[JSON] = [begin("cato")]

    def tap(**body: Any) -> JSON:  # noqa: ANN401 - any field
        taps.append(record(len(taps) + 1, **body))
        return taps[-1]

    tried: dict[str, Any] = {"student": "S1", "skill": "hang"}
    slip = tap(kind="mark", try_=1, t=60, criterion="place", answer="no", **tried)
    tap(kind="undo", of=slip["id"])
    tap(kind="mark", try_=1, t=61, criterion="place", answer="yes", **tried)
    tap(kind="failed", try_=1, t=62)
    tap(kind="unassisted", t=70, **tried)
    tap(kind="clearance", t=80, choice="let-go", **tried)
    tap(kind="look", look=1, t=90, waiting=None, idle=None)
    tap(kind="look", look=1, t=95, waiting=3, idle=0)
    tap(kind="rating", criterion="looks", level=2)
    tap(kind="rating", criterion="looks", level=3, note="seen twice")
    tap(kind="stop", t=100, criterion="drop", student="S1")
    tap(kind="resume", t=130)
    gone = tap(kind="incident", t=140, criterion="left")
    tap(kind="undo", of=gone["id"])
    tap(kind="end", t=301)
    return taps


def test_a_lesson_is_replayed_as_it_was_tapped(made: list[JSON]) -> None:
    sheet = replayed(made)

    (attempt,) = sheet.attempts
    assert (attempt.at, attempt.failed, attempt.answers) == (61, True, {"place": "yes"})
    assert [(one.look, one.waiting) for one in sheet.samples] == [(1, None)]
    assert [(one.level, one.note) for one in sheet.ratings] == [(3, "seen twice")]
    assert [(one.criterion, one.at) for one in sheet.incidents] == [("drop", 100)]
    student = sheet.student("S1")
    assert student
    assert student.unassisted("hang", 71) == 1
    assert sheet.minutes == 6
    assert sheet.source == "web"


@given(st.randoms(use_true_random=False))
def test_the_order_in_which_records_arrive_does_not_matter(chance: random.Random) -> None:
    taps = list(next(_made()))
    mixed = list(taps)
    chance.shuffle(mixed)

    assert replayed(mixed) == replayed(taps)
    assert digest(mixed) == digest(taps)


def _made() -> Iterator[list[JSON]]:
    taps: list[JSON] = [begin("cato")]
    for n in range(2, 30):
        kinds: list[JSON] = [
            {"kind": "rating", "criterion": "looks", "level": n % 4 + 1},
            {"kind": "mark", "try": n // 3, "t": n, "student": "S1", "skill": "hang"}
            | {"criterion": "place", "answer": "yes"},
            {"kind": "undo", "of": key(1000 + n - 1)},
        ]
        taps.append({**record(n), "body": kinds[n % 3]})
    yield taps


# Opened again


def with_a_name(hana: httpx.Client, candidate: str) -> list[JSON]:
    """A lesson whose note names somebody: signed, and the record book refuses it."""
    taps = lesson(hana, candidate)
    for one in taps:
        if one["body"]["kind"] == "note":
            one["body"]["text"] = "Leilani Kahananui looked on."
    return taps


def test_a_refused_sheet_is_opened_again_mended_and_signed(
    hana: httpx.Client, candidate: str, house: Served
) -> None:
    taps = with_a_name(hana, candidate)
    (note,) = (one["id"] for one in taps if one["body"]["kind"] == "note")
    taps.append(sign(taps))
    assert set(post(hana, *taps)) == {"stored"}
    address = f"/api/sheets/{SHEET}"
    refused = hana.get(address).json()
    late = record(len(taps) + 1, number=4001, kind="undo", of=note)

    assert refused["state"] == "refused"
    (problem,) = refused["problems"]
    assert problem.startswith("note 1: it names leilani-kahananui")
    assert post(hana, late) == ["held"]
    more = [record(len(taps) + 1, number=4002, kind="reopened")]
    more.append(record(len(taps) + 2, number=4003, kind="undo", of=note))
    assert post(hana, *more) == ["stored", "stored"]
    assert hana.get(address).json()["state"] == "open"
    whole = [*taps, *more]
    again = record(len(whole) + 1, number=4004, kind="sign", count=len(whole), sha256=digest(whole))
    assert post(hana, again) == ["stored"]
    assert hana.get(address).json()["state"] == "signed"
    with open_book(where_the_book_is(house.folder)) as book:
        kept = book.find_sheet(SHEET)
    assert kept is not None
    assert [one.text for one in kept.sheet.notes] == ["Signed with points open: short lesson"]


def test_what_the_record_book_has_is_never_opened_again(hana: httpx.Client, candidate: str) -> None:
    taps = lesson(hana, candidate)
    post(hana, *taps, sign(taps))
    n = len(taps) + 2

    assert post(hana, record(n, number=4002, kind="reopened")) == ["held"]
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "signed"


def test_a_wrong_signature_is_made_anew(hana: httpx.Client, candidate: str) -> None:
    taps = lesson(hana, candidate)
    taps.append(sign(taps))
    taps[-1]["body"]["sha256"] = "0" * 64
    taps.append(record(len(taps) + 1, number=4002, kind="reopened"))
    post(hana, *taps)
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "open"
    right = record(len(taps) + 1, number=4003, kind="sign", count=len(taps), sha256=digest(taps))

    assert post(hana, right) == ["stored"]
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "signed"


def test_a_lesson_of_another_day_is_mended_and_signed_anew(
    hana: httpx.Client, candidate: str, house: Served
) -> None:
    """A rubric that was not in force on the day: the start was wrong, the marks were not."""
    taps = lesson(hana, candidate)
    taps[0]["body"]["began"] = "2019-11-24T10:00:00.000+01:00"
    taps.append(sign(taps))
    post(hana, *taps)
    refused = hana.get(f"/api/sheets/{SHEET}").json()
    head: JSON = {"practical": "hall-2026-11-23", "began": "2026-11-23T10:00:00.000+01:00"}
    taps.append(record(len(taps) + 1, number=4002, kind="reopened"))
    taps.append(record(len(taps) + 1, number=4003, kind="mended", **head))
    again = record(len(taps) + 1, number=4004, kind="sign", count=len(taps), sha256=digest(taps))

    assert any("start of the lesson: the lesson was on" in one for one in refused["problems"])
    assert set(post(hana, *taps[-2:], again)) == {"stored"}
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "signed"
    with open_book(where_the_book_is(house.folder)) as book:
        kept = book.find_sheet(SHEET)
    assert kept is not None
    assert (kept.sheet.practical, str(kept.sheet.on)) == ("hall-2026-11-23", "2026-11-23")
    (told,) = hana.get("/api/sheets").json()
    assert told["practical"] == "hall-2026-11-23"


@pytest.mark.parametrize(
    ("began", "state"),
    [
        pytest.param("2026-11-24T10:10:00+01:00", "signed", id="as far as a clock may be ahead"),
        pytest.param("2026-11-24T10:11:00+01:00", "refused", id="a minute more"),
    ],
)
def test_a_lesson_that_has_not_come_yet_is_refused_until_its_start_is_mended(
    school: Path, candidate: str, began: str, state: str
) -> None:
    settings = school / "school.yaml"  # of a school that lives by the calendar on the wall
    settings.write_text(settings.read_text("utf-8").replace("invented: true\n", ""), "utf-8")
    with served(school, Clock()) as house:
        hana = house.visitor("hana")
        taps = lesson(hana, candidate)
        taps[0]["body"]["began"] = began
        taps.append(sign(taps))
        post(hana, *taps)
        told = hana.get(f"/api/sheets/{SHEET}").json()
        head: JSON = {"practical": "mill-2026-11-24", "began": "2026-11-24T09:00:00+01:00"}
        taps.append(record(len(taps) + 1, number=4002, kind="reopened"))
        taps.append(record(len(taps) + 1, number=4003, kind="mended", **head))
        count: JSON = {"count": len(taps), "sha256": digest(taps)}
        again = record(len(taps) + 1, number=4004, kind="sign", **count)
        post(hana, *taps[-2:], again)
        after = hana.get(f"/api/sheets/{SHEET}").json()

    assert told["state"] == state
    assert ("has not come yet" in " ".join(told["problems"])) is (state == "refused")
    assert after["state"] == "signed"


def test_the_office_sees_a_begun_sheet_under_the_name_that_was_said_last(
    hana: httpx.Client, candidate: str, house: Served
) -> None:
    taps = [begin(candidate, practical="hall-2026-11-24")]
    post(hana, *taps)
    office = house.visitor("office")
    before = office.get("/practicals").text
    head: JSON = {"practical": "mill-2026-11-10", "began": "2026-11-10T09:00:00+01:00"}
    post(hana, record(2, number=4003, kind="mended", **head))
    after = office.get("/practicals").text

    assert "begun by" not in before
    row = next(one for one in after.split("<tr>") if "/practicals/mill-2026-11-10" in one)
    assert "begun by Hana" in row


def test_lines_of_a_paper_sheet_are_in_time_whatever_the_order_in_which_they_were_typed(
    hana: httpx.Client, candidate: str
) -> None:
    taps = [begin(candidate)]
    for n, (kind, t) in enumerate(
        [("clearance", 50), ("clearance", 20), ("unassisted", 40), ("unassisted", 10)], 2
    ):
        choice: JSON = {"choice": "held-back"} if kind == "clearance" else {}
        taps.append(record(n, kind=kind, t=t, student="S1", skill="long-hang", **choice))
    made = sheet_of(Record.model_validate(one) for one in taps)

    assert made is not None
    assert [one.at for one in made.clearances] == [20, 50]
    assert [one.at for one in made.students[0].repetitions] == [10, 40]


def test_everybody_else_is_offered_as_candidate_those_in_training_first(
    house: Served, hana: httpx.Client
) -> None:
    """Who trained somebody need not be on record for her to be assessed."""
    found = hana.get("/api/kits").json()["candidates"]
    with open_book(where_the_book_is(house.folder)) as book:
        everybody = {one.id: bool(one.trained_by) for one in book.people()}
    del everybody["hana-dvorakova"]
    untrained = next(one for one, trained in everybody.items() if not trained)

    assert {one["id"]: one["trained"] for one in found} == everybody
    assert [one["trained"] for one in found] == sorted(everybody.values(), reverse=True)
    asked = {"rubric": RUBRIC, "candidate": untrained}
    assert hana.get("/api/lesson-kit", params=asked).status_code == 200
