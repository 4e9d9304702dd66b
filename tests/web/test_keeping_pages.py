"""Held records, shared devices, audit, and what anybody may ask of a certificate."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing

import httpx
import pytest
from tests.schools import bytes_of_book
from tests.web.conftest import NOW, PASSWORD, Sent, Served, Visit
from tests.web.records import SHEET, begin, lesson, post, record, sign

from standfast.cli.app import run
from standfast.desk.access import change_account
from standfast.desk.opening import Moment, open_desk


@pytest.fixture
def pin(house: Served) -> str:
    """Hana's, from before she signs in."""
    with open_desk(house.folder, Moment(NOW, "test", bytes)) as desk:
        change_account(desk, "hana", pin="4711")
    return "4711"


@pytest.fixture
def hana(house: Served) -> httpx.Client:
    return house.visitor("hana")


@pytest.fixture
def office(house: Served) -> httpx.Client:
    return house.visitor("office")


@pytest.fixture
def candidate(hana: httpx.Client) -> str:
    return str(hana.get("/api/kits").json()["candidates"][0]["id"])


# Held records


def test_a_held_record_is_shown_as_it_came_and_settled_with_words(
    hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    post(hana, begin(candidate))
    assert post(hana, record(2, kind="note", t=1, text="<b>bold</b>", extra=1)) == ["held"]
    page = office.get("/book/held").text

    assert "&lt;b&gt;bold&lt;/b&gt;" in page
    assert "<b>bold" not in page
    assert "mill-2026-11-24, scored by Hana Dvořáková; sent by hana" in page
    assert "<strong>1</strong> held record to look at" in office.get("/").text
    assert office.post("/book/held/1/settle", data={"because": " "}).status_code == 422
    assert office.post("/book/held/1/settle", data={"because": "typed anew"}).status_code == 303
    again = office.post("/book/held/1/settle", data={"because": "once more"})
    assert again.status_code == 409
    after = office.get("/book/held").text
    assert "Nothing waits" in after
    assert "typed anew" in after
    assert hana.get("/api/sheets").json()[0]["held"] == 0


def test_a_record_is_taken_once_what_stood_in_its_way_is_mended(
    house: Served, hana: httpx.Client, office: httpx.Client
) -> None:
    unknown = begin("nobody-yet")
    assert post(hana, unknown) == ["held"]
    assert office.post("/book/held/1/take").status_code == 409
    people = house.folder / "new.yaml"
    people.write_text("people:\n  - person: nobody-yet\n    name: Nobody Yet\n", "utf-8")
    files = {"file": ("new.yaml", people.read_bytes())}
    assert office.post("/people/import", files=files).status_code == 200
    taken = office.post("/book/held/1/take")

    assert taken.status_code == 303
    assert Sent(house.folder).records.keys() == {unknown["id"]}
    assert "taken after all" in office.get("/book/held").text
    assert post(hana, unknown) == ["seen"]


def test_what_somebody_was_named_in_goes_with_her_name(
    house: Served, hana: httpx.Client, office: httpx.Client
) -> None:
    """Erasing takes held records that name her, settled ones too."""
    post(hana, begin("tendai-mukwashi", assessor="leilani-kahananui"))
    assert "tendai-mukwashi" in office.get("/book/held").text
    office.post("/book/held/1/settle", data={"because": "not hers"})
    assert run(["book", "forget", "tendai-mukwashi", "--yes", "--school", str(house.folder)]) == 0

    assert "tendai-mukwashi" not in office.get("/book/held").text


def handed_in(office: httpx.Client, content: bytes) -> httpx.Response:
    return office.post("/book/copies", files={"file": ("sheet.json", content)})


def test_the_copy_of_a_dead_device_is_taken_once_and_confirmed_by_who_signed(
    house: Served, hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    taps = lesson(hana, candidate)
    post(hana, *taps[:3])
    copy = json.dumps({"sheet": SHEET, "records": [*taps, sign(taps)]}).encode()
    first, again = handed_in(office, copy).text, handed_in(office, copy).text

    assert f"{len(taps) - 2} records taken, 3 were here before, 0 held" in first
    assert f"0 records taken, {len(taps) + 1} were here before" in again
    assert len(Sent(house.folder).records) == len(taps) + 1
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "to confirm"
    assert hana.post(f"/sheets/{SHEET}/confirm").status_code == 303
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "signed"


@pytest.mark.parametrize("content", [b"", b"not json", b"[1]", b'{"records": [{"id": 1}]}'])
def test_what_is_no_copy_is_refused_and_nothing_kept(
    house: Served, office: httpx.Client, content: bytes
) -> None:
    answer = handed_in(office, content)

    assert answer.status_code == 409
    assert "Save a copy" in answer.text
    assert not Sent(house.folder).records


# Shared devices


def enrolled(office: httpx.Client, name: str = "Tablet 1") -> str:
    page = office.post("/book/devices", data={"name": name}).text
    (word,) = re.findall(r'<code class="word">([^<]+)</code>', page)
    return str(word)


def device(house: Served, word: str) -> httpx.Client:
    found = house.visitor()
    found.headers["authorization"] = f"Bearer {word}"
    return found


def test_the_word_of_a_device_is_shown_once_and_nowhere_kept(
    house: Served, office: httpx.Client
) -> None:
    word = enrolled(office)

    assert word not in office.get("/book/devices").text
    kept = bytes_of_book(house.folder)
    assert word.encode() not in kept
    assert office.post("/book/devices", data={"name": "Tablet 1"}).status_code == 409


def test_a_sheet_signed_on_a_shared_device_is_taken_when_the_pin_was_right(
    house: Served, pin: str, hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    taps = lesson(hana, candidate)
    tablet = device(house, enrolled(office))
    assert set(post(tablet, *taps, sign(taps))) == {"stored"}
    address = f"/api/sheets/{SHEET}"

    assert tablet.get(address).json()["state"] == "to confirm"
    assert tablet.post(f"{address}/confirm", json={"pin": "0000"}).status_code == 409
    assert tablet.post(f"{address}/confirm", json={}).status_code == 422
    assert tablet.get(address).json()["state"] == "to confirm"
    right = tablet.post(f"{address}/confirm", json={"pin": pin}).json()
    assert right["state"] == "signed"
    with open_desk(house.folder, Moment(NOW, "test", bytes)) as desk:
        kept = desk.book.find_sheet(SHEET)
        entry = next(one for one in desk.book.history() if one.id == right["entry"])
    assert kept is not None
    assert (kept.sheet.assessor, entry.who) == ("hana-dvorakova", "hana-dvorakova")


def test_she_may_confirm_where_she_is_signed_in_and_nobody_else_can(
    house: Served, hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    taps = lesson(hana, candidate)
    tablet = device(house, enrolled(office))
    post(tablet, *taps, sign(taps))
    refused = tablet.post(f"/api/sheets/{SHEET}/confirm", json={"pin": "4711"})
    leilani = house.visitor("leilani")

    assert refused.status_code == 409  # she has no PIN
    assert "no PIN" in refused.json()["error"]
    assert leilani.post(f"/sheets/{SHEET}/confirm").status_code == 404
    assert "Confirm mill-2026-11-24" in hana.get("/").text
    assert hana.post(f"/sheets/{SHEET}/confirm").status_code == 303
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "signed"
    assert "Confirm mill-2026-11-24" not in hana.get("/").text


def test_she_sets_her_pin_herself_with_her_password(
    house: Served, hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    taps = lesson(hana, candidate)
    tablet = device(house, enrolled(office))
    post(tablet, *taps, sign(taps))
    wrong = hana.post("/pin", data={"password": "another one", "pin": "2580"})
    odd = hana.post("/pin", data={"password": PASSWORD, "pin": "25x"})
    right = hana.post("/pin", data={"password": PASSWORD, "pin": "2580"})

    assert (wrong.status_code, odd.status_code, right.status_code) == (409, 409, 303)
    assert hana.get("/").status_code == 303  # signed out everywhere
    confirmed = tablet.post(f"/api/sheets/{SHEET}/confirm", json={"pin": "2580"})
    assert confirmed.json()["state"] == "signed"


def test_pins_cannot_be_tried_one_after_the_other(
    house: Served, pin: str, hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    taps = lesson(hana, candidate)
    tablet = device(house, enrolled(office))
    post(tablet, *taps, sign(taps))
    address = f"/api/sheets/{SHEET}/confirm"
    told = [tablet.post(address, json={"pin": f"{n:04}"}).status_code for n in range(6)]
    right = tablet.post(address, json={"pin": pin})

    assert told == [409] * 5 + [429]
    assert right.status_code == 429
    assert int(right.headers["retry-after"]) > 20
    house.clock.later(minutes=20)
    assert tablet.post(address, json={"pin": pin}).json()["state"] == "signed"


def test_a_device_appends_and_reads_nothing_else(
    house: Served, office: httpx.Client, candidate: str
) -> None:
    tablet = device(house, enrolled(office))

    for address in ("/", "/people", "/mat", "/due"):
        assert tablet.get(address).status_code == 303
    for address in ("/api/kits", "/api/sheets", f"/api/lesson-kit?rubric=x&candidate={candidate}"):
        assert tablet.get(address).status_code == 401
    assert tablet.get(f"/api/sheets/{SHEET}").status_code == 404


def test_nothing_is_taken_for_somebody_who_does_not_score_here(
    house: Served, hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    tablet = device(house, enrolled(office))
    of_a_certifier = begin(candidate, assessor="marit-solheim-aune")

    assert post(tablet, of_a_certifier) == ["held"]
    assert post(tablet, record(2, kind="note", t=1, text="no begin")) == ["held"]
    assert "sent by Tablet 1" in office.get("/book/held").text


def test_a_revoked_device_sends_nothing_and_one_that_was_never_there_neither(
    house: Served, hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    tablet = device(house, enrolled(office))
    assert post(tablet, begin(candidate)) == ["stored"]
    (key,) = re.findall(r"/book/devices/([^/]+)/revoke", office.get("/book/devices").text)
    assert office.post(f"/book/devices/{key}/revoke").status_code == 303
    note = {"records": [record(2, kind="note", t=1, text="late")]}

    assert tablet.post("/api/records", json=note).status_code == 401
    for word in ("x", "A" * 43, "?" * 43):
        stranger = device(house, word)
        stranger.headers["cookie"] = hana.headers["cookie"]
        assert stranger.post("/api/records", json=note).status_code == 401
    assert hana.post("/api/records", json=note).status_code == 200
    assert "no, revoked" in office.get("/book/devices").text


# The book, and who asks from outside


@pytest.mark.of_the_file(why="its file is changed aside of us")
def test_the_audit_says_what_it_checked_and_finds_a_changed_row(house: Served) -> None:
    lead = house.visitor("lead")
    clean = lead.post("/book/audit").text
    with closing(sqlite3.connect(house.folder / "standfast.db")) as raw, raw:
        raw.execute("UPDATE sheets SET practical = 'another' WHERE practical = 'mill-2026-11-03'")
    broken = lead.post("/book/audit").text

    assert "No fault was found." in clean
    assert re.search(r"[0-9a-f]{64}", clean)
    assert "cannot be believed" in broken


def test_the_newest_entries_stand_in_the_book(visit: Visit, reading_house: Served) -> None:
    with open_desk(reading_house.folder, Moment(NOW, "test", bytes)) as desk:
        size = desk.book.size()
        newest = desk.book.newest(3)
    page = visit("reader").get("/book").text

    assert [one.seq for one in newest] == [size, size - 1, size - 2]
    assert f"{size} entries" in page
    assert page.count('<td class="number"') == 50


def test_whoever_is_signed_in_stays_so_where_anybody_may_ask(visit: Visit) -> None:
    assert "Sign out" in visit("office").get("/certificate").text
    assert "Sign out" in visit("office").get("/certificate?number=LT1-1999-0001").text
    assert "Sign out" not in visit("").get("/certificate").text


def test_anybody_may_ask_whether_a_certificate_counts_and_learns_no_more(
    house: Served,
) -> None:
    with open_desk(house.folder, Moment(NOW, "test", bytes)) as desk:
        holders = {one.id: one.name for one in desk.book.people()}
        award = desk.book.awards("ines-carvalho-teles")[-1].award
    stranger = house.visitor()
    counts = stranger.get("/certificate", params={"number": award.number})
    unknown = stranger.get("/certificate", params={"number": "LT1-1999-0001"})
    empty = stranger.get("/certificate")

    assert f"Certificate {award.number} counts on 24 November 2026" in counts.text
    assert "stays on the ground" in counts.text
    assert not [name for name in holders.values() if name in counts.text]
    assert not [slug for slug in holders if slug in counts.text]
    assert (unknown.status_code, empty.status_code) == (404, 200)
    assert "has no certificate" in unknown.text
    odd = stranger.get("/certificate", params={"number": "<script>alert(1)</script>"})
    assert "<script>alert" not in odd.text
