"""Held records, shared devices, audit, and what anybody may ask of a certificate."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing

import httpx
import pytest
from tests.schools import bytes_of_book
from tests.web.conftest import NOW, PASSWORD, Sent, Served, Visit, filled_in, hidden
from tests.web.records import JSON, SHEET, begin, key, lesson, post, record, sign

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


def settle(office: httpx.Client, because: str) -> httpx.Response:
    return filled_in(office, "/book/held", "/book/held/1/settle", because=because)


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
    form = {**hidden(page, "/book/held/1/settle"), "because": "once more"}
    assert settle(office, " ").status_code == 422
    assert settle(office, "typed anew").status_code == 303
    assert office.post("/book/held/1/settle", data=form).status_code == 409
    after = office.get("/book/held").text
    assert "Nothing waits" in after
    assert "typed anew" in after
    assert hana.get("/api/sheets").json()[0]["held"] == 0


def test_a_record_is_taken_once_what_stood_in_its_way_is_mended(
    house: Served, hana: httpx.Client, office: httpx.Client
) -> None:
    unknown = begin("nobody-yet")
    assert post(hana, unknown) == ["held"]
    assert filled_in(office, "/book/held", "/book/held/1/take").status_code == 409
    people = house.folder / "new.yaml"
    people.write_text("people:\n  - person: nobody-yet\n    name: Nobody Yet\n", "utf-8")
    files = {"file": ("new.yaml", people.read_bytes())}
    assert filled_in(office, "/people/import", files=files).status_code == 200
    taken = filled_in(office, "/book/held", "/book/held/1/take")

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
    settle(office, "not hers")
    assert run(["book", "forget", "tendai-mukwashi", "--yes", "--school", str(house.folder)]) == 0

    assert "tendai-mukwashi" not in office.get("/book/held").text


def test_words_for_a_record_that_is_gone_settle_no_other_of_its_number(
    house: Served, hana: httpx.Client, office: httpx.Client
) -> None:
    """The newest held record goes after its time, the next one takes its number, the form comes."""
    post(hana, begin("tendai-mukwashi", assessor="leilani-kahananui"))
    old = hidden(office.get("/book/held").text, "/book/held/1/settle")
    settle(office, "not hers")
    with open_desk(house.folder, Moment(NOW, "test", bytes)) as desk:
        desk.book.keeping.forget_settled([1])
    assert post(hana, record(2, number=7, kind="stray")) == ["held"]
    late = office.post("/book/held/1/settle", data={**old, "because": "not hers"})
    taken = office.post("/book/held/1/take", data=old)

    assert (late.status_code, taken.status_code) == (404, 404)
    with open_desk(house.folder, Moment(NOW, "test", bytes)) as desk:
        (other,) = desk.book.records.held()
    assert (other.key, other.settled) == (1, None)


def test_a_begin_that_comes_again_after_an_erasure_brings_no_name_back(
    house: Served, hana: httpx.Client, office: httpx.Client
) -> None:
    first = begin("tendai-mukwashi")
    assert post(hana, first) == ["stored"]
    assert run(["book", "forget", "tendai-mukwashi", "--yes", "--school", str(house.folder)]) == 0

    assert post(hana, first) == ["seen"]
    assert post(hana, {**first, "n": 2}) == ["held"]  # other content is so still
    assert b"tendai-mukwashi" not in json.dumps(Sent(house.folder).records).encode()


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
    assert filled_in(hana, "/", f"/sheets/{SHEET}/confirm").status_code == 303
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
    page = filled_in(office, "/book/devices", name=name).text
    (word,) = re.findall(r'<code class="word">([^<]+)</code>', page)
    return str(word)


def signed_as(taps: list[JSON], pin: str | None = None) -> dict[str, str]:
    """What confirms that these were signed."""
    return {"sha256": sign(taps)["body"]["sha256"], **({"pin": pin} if pin else {})}


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
    assert filled_in(office, "/book/devices", name="Tablet 1").status_code == 409


def test_a_sheet_signed_on_a_shared_device_is_taken_when_the_pin_was_right(
    house: Served, pin: str, hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    taps = lesson(hana, candidate)
    tablet = device(house, enrolled(office))
    assert set(post(tablet, *taps, sign(taps))) == {"stored"}
    address = f"/api/sheets/{SHEET}"

    assert tablet.get(address).json()["state"] == "to confirm"
    assert tablet.post(f"{address}/confirm", json=signed_as(taps, "0000")).status_code == 409
    assert tablet.post(f"{address}/confirm", json={}).status_code == 422
    assert tablet.get(address).json()["state"] == "to confirm"
    right = tablet.post(f"{address}/confirm", json=signed_as(taps, pin)).json()
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
    refused = tablet.post(f"/api/sheets/{SHEET}/confirm", json=signed_as(taps, "4711"))
    leilani = house.visitor("leilani")

    assert refused.status_code == 409  # she has no PIN
    assert "no PIN" in refused.json()["error"]
    assert leilani.post(f"/sheets/{SHEET}/confirm", data=signed_as(taps)).status_code == 404
    assert "Confirm mill-2026-11-24" in hana.get("/").text
    assert filled_in(hana, "/", f"/sheets/{SHEET}/confirm").status_code == 303
    assert hana.get(f"/api/sheets/{SHEET}").json()["state"] == "signed"
    assert "Confirm mill-2026-11-24" not in hana.get("/").text


def signed_anew(taps: list[JSON]) -> list[JSON]:
    """Those of a sheet that is signed, opened again, mended, and signed once more."""
    n, began = len(taps) + 1, taps[0]["body"]["began"]
    more = [
        *taps,
        sign(taps),
        record(n + 1, number=4001, kind="reopened"),
        record(n + 2, number=4002, kind="mended", practical="mill-anew", began=began, site=None),
    ]
    return [*more, sign(more) | {"id": key(4003)}]


@pytest.mark.parametrize("by", ["tablet", "hana"])
def test_a_confirmation_is_of_what_was_signed_and_of_nothing_signed_since(
    house: Served, pin: str, hana: httpx.Client, office: httpx.Client, candidate: str, by: str
) -> None:
    """The sheet was confirmed, refused, mended and signed anew; then the old word comes again."""
    taps = lesson(hana, candidate)
    taps[0]["body"]["practical"] = candidate
    every, of = signed_anew(taps), f"sheets/{SHEET}/confirm"
    tablet = device(house, enrolled(office))

    def confirm(taps: list[JSON]) -> int:
        if by == "hana":
            return hana.post(f"/{of}", data=signed_as(taps)).status_code
        return tablet.post(f"/api/{of}", json=signed_as(taps, pin)).status_code

    post(tablet, *every[: len(taps) + 1])
    assert confirm(taps) in {200, 303}
    assert tablet.get(f"/api/sheets/{SHEET}").json()["state"] == "refused"
    post(tablet, *every)
    waiting = tablet.get(f"/api/sheets/{SHEET}").json()
    late = confirm(taps)

    assert waiting["state"] == "to confirm"
    assert waiting["sha256"] == every[-1]["body"]["sha256"]
    assert late == 409
    assert tablet.get(f"/api/sheets/{SHEET}").json() == waiting
    assert confirm(every[:-1]) in {200, 303}
    assert tablet.get(f"/api/sheets/{SHEET}").json()["state"] == "signed"


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
    confirmed = tablet.post(f"/api/sheets/{SHEET}/confirm", json=signed_as(taps, "2580"))
    assert confirmed.json()["state"] == "signed"


def test_pins_cannot_be_tried_one_after_the_other(
    house: Served, pin: str, hana: httpx.Client, office: httpx.Client, candidate: str
) -> None:
    taps = lesson(hana, candidate)
    tablet = device(house, enrolled(office))
    post(tablet, *taps, sign(taps))
    address = f"/api/sheets/{SHEET}/confirm"
    told = [tablet.post(address, json=signed_as(taps, f"{n:04}")).status_code for n in range(6)]
    right = tablet.post(address, json=signed_as(taps, pin))

    assert told == [409] * 5 + [429]
    assert right.status_code == 429
    assert int(right.headers["retry-after"]) > 20
    house.clock.later(minutes=20)
    assert tablet.post(address, json=signed_as(taps, pin)).json()["state"] == "signed"


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


def test_a_form_that_comes_again_after_its_device_was_revoked_enrols_none(
    house: Served, office: httpx.Client
) -> None:
    form = {**hidden(office.get("/book/devices").text, "/book/devices"), "name": "Tablet 1"}
    first, again = (office.post("/book/devices", data=form) for _ in range(2))
    (key,) = re.findall(r"/book/devices/([^/]+)/revoke", first.text)
    office.post(f"/book/devices/{key}/revoke")
    late = office.post("/book/devices", data=form)

    assert (first.status_code, again.status_code, late.status_code) == (200, 409, 409)
    assert "sent before" in late.text
    assert 'class="word"' not in again.text + late.text
    with open_desk(house.folder, Moment(NOW, "test", bytes)) as desk:
        (only,) = desk.book.access.devices()
    assert only.revoked is not None
    assert filled_in(office, "/book/devices", name="Tablet 1").status_code == 200


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
