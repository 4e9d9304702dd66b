"""A relay that lies stands before every route that writes: acknowledged is stored, once.

Real servers, real requests over the loopback, and between them `tests/web/relay.py`.  People do
what they do in a term, each until it is answered, as somebody presses a button again whose page
did not come.  At the end everything that the relay ever saw is sent once more, in any order, while
sessions last and after they have ended.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from random import Random
from threading import Event

import httpx
import pytest
from fastapi.routing import APIRoute
from sqlalchemy import select
from starlette.routing import Match
from tests.counting import kills, say
from tests.schools import copied
from tests.web.conftest import PASSWORD, hidden, move_to
from tests.web.program import Program
from tests.web.records import JSON, begin, key, lesson, record, sign, signed_lesson
from tests.web.relay import PATIENCE, READ_AND_ENTER, READS, TROUBLES, Passed, Relay, relayed

from standfast.desk.access import matches
from standfast.desk.opening import where_the_book_is
from standfast.engine.decide import decide
from standfast.model.canonical import content_hash, plain
from standfast.model.people import Document
from standfast.store.book import Book
from standfast.store.connect import open_book
from standfast.store.tables import confirmations
from standfast.store.tables import records as kept_records
from standfast.web.app import ROUTERS

WALKS = max(1, kills(3) // 25)
SEED = 20260305
TRIES = 40
BETWEEN_TAPS = 0.15
NOOR, REFRESHER = "noor-van-der-veldt", "trapeze-refresher"
LEILANI = "leilani-kahananui"
PARVIN, TRAPEZE = "parvin-shirazi-nooshabadi", "low-trapeze-1"
OTHER_PASSWORD = "other words entirely"  # noqa: S105 - of an invented account

ONCE = {
    "POST /sign-in": "each that reaches us with the right password begins a session of its own, and"
    " each with a wrong one is a failure; neither is part of the record",
    "POST /sign-out": "the session ends; after that there is nothing to end",
    "POST /password": "it is changed and every session ends, so the same again is nobody's",
    "POST /pin": "as for a password",
    "POST /api/records": "a record is kept under the id that the device gave it",
    "POST /api/sheets/{sheet}/confirm": "what was signed is confirmed, by its hash: never another"
    " signature of the same sheet",
    "POST /sheets/{sheet}/confirm": "as on the device",
    "POST /people/import": "whoever is new or changed is one entry; nobody is changed back",
    "POST /people/{slug}/documents": "a document is one entry, and none after it was taken out",
    "POST /people/{slug}/documents/correct": "it is corrected once, and not again after that was",
    "POST /decisions/{candidate}/{rubric}/keep": "a decision on what was read is one entry",
    "POST /decisions/{candidate}/{rubric}/award": "an award on what was read is one award",
    "POST /awards/{number}/rule": "a ruling on what was read is one entry",
    "POST /awards/{number}/reduce": "as for any ruling",
    "POST /appeals/new/{kind}/{slug}": "a form enters one appeal, and none after it was answered",
    "POST /appeals/{number}/answer": "it is answered once; the same answer again is that one",
    "POST /book/held/{key}/settle": "a held record is settled once",
    "POST /book/held/{key}/take": "a held record is taken once",
    "POST /book/copies": "as for records; a signature in it waits to be confirmed once",
    "POST /book/devices": "a form enrols one device, and none after that was revoked",
    "POST /book/devices/{device}/revoke": "a device is revoked once, when it was first asked",
}
ONCE |= dict.fromkeys(
    ("GET /", "GET /api/sheets", "GET /api/sheets/{sheet}"),
    "a signed sheet that was not taken in before is taken in, as one entry",
)
SPARED = {"POST /book/audit": "it enters nothing: it reads the book and says what it found"}
"""Every route that may enter something, and what it means that it was done once; those that the
walk leaves out, and why."""


def routes() -> Iterator[tuple[str, APIRoute]]:
    for router in ROUTERS:
        for route in router.routes:
            assert isinstance(route, APIRoute)
            yield from (
                (f"{method} {route.path}", route)
                for method in route.methods or ()
                if method not in READS or READ_AND_ENTER.fullmatch(route.path)
            )


def route_of(one: Passed) -> str:
    """The route that the request went to."""
    scope = {"type": "http", "method": one.method, "path": one.path}
    (found,) = (name for name, route in routes() if route.matches(scope)[0] is Match.FULL)
    return found


def test_every_route_that_writes_is_walked_or_says_why_not() -> None:
    assert {name for name, _ in routes()} == ONCE.keys() | SPARED.keys()
    assert not ONCE.keys() & SPARED.keys()


# --- people who do what they do ---------------------------------------------------------------


@dataclass
class Somebody:
    """A browser behind the relay, and whoever presses its buttons until something comes."""

    client: httpx.Client

    def get(self, path: str, allowed: int = 200) -> httpx.Response:
        return self._ask("GET", path, (allowed,))

    def post(self, path: str, *allowed: int, **sent: object) -> httpx.Response:
        return self._ask("POST", path, allowed, **sent)

    def _ask(
        self, method: str, path: str, allowed: tuple[int, ...], **sent: object
    ) -> httpx.Response:
        """Sends it until there is an answer, which must be one of these."""
        for _ in range(TRIES):
            try:
                answer = self.client.request(method, path, **sent)  # type: ignore[arg-type]
            except httpx.TransportError:
                continue
            assert answer.status_code in allowed, f"{path}: {answer.status_code} {answer.text}"
            return answer
        raise AssertionError(f"{path}: no answer")

    def fill_in(self, page: str, action: str, *allowed: int, **fields: str) -> httpx.Response:
        """Opens the page, fills in the form of that action, and sends it."""
        form = hidden(self.get(page).text, action)
        return self.post(action, *allowed, data={**form, **fields})

    def sign_in(self, login: str, password: str = PASSWORD) -> None:
        self.client.headers.pop("cookie", None)
        form = {"login": login, "password": password}
        answer = self.post("/sign-in", 303, data=form)
        self.client.headers["cookie"] = answer.headers["set-cookie"].partition(";")[0]

    def sheets(self) -> list[str]:
        """Those that the server has of hers."""
        return [one["sheet"] for one in self.get("/api/sheets").json()]

    def send(self, records: Sequence[JSON]) -> Counter[str]:
        """Sends records, some at once, each batch until it is answered; counts what was told."""
        told: Counter[str] = Counter()
        for at in range(0, len(records), 6):
            batch = list(records[at : at + 6])
            answers = self.post("/api/records", 200, json={"records": batch}).json()["answers"]
            assert [one["id"] for one in answers] == [one["id"] for one in batch]
            told.update(one["answer"] for one in answers)
        return told


@dataclass
class Known:
    """What was acknowledged: what must be in the book, and no more."""

    entries: Counter[str] = field(default_factory=Counter)
    """Kinds of entries that came in."""
    records: set[str] = field(default_factory=set)
    signed: list[str] = field(default_factory=list)
    devices: dict[str, bool] = field(default_factory=dict)
    """By name, whether it was revoked."""
    held: dict[str, str] = field(default_factory=dict)
    """Record to what was done about it."""
    documents: list[str] = field(default_factory=list)
    """References of those that Ines has."""
    awards: list[str] = field(default_factory=list)

    def counted(self) -> Counter[str]:
        """How many of each were acknowledged."""
        return Counter(
            {
                "records": len(self.records),
                "entries": self.entries.total(),
                "held records settled": len(self.held),
                "devices": len(self.devices),
            }
        )


class Term:
    """A term of the school, lived through behind the relay."""

    def __init__(self, folder: Path, relay: Relay, address: str, stack: ExitStack) -> None:
        self.folder, self.relay, self.known = folder, relay, Known()
        self._address, self._stack = address, stack

    def somebody(self, login: str | None = None) -> Somebody:
        client = httpx.Client(base_url=self._address, timeout=PATIENCE)
        found = Somebody(self._stack.enter_context(client))
        if login:
            found.sign_in(login)
        return found

    def live(self) -> None:
        """Everything that writes, in an order in which it can be."""
        self.relay.honest = False
        self.office, self.hana = self.somebody("office"), self.somebody("hana")
        self.leilani = self.somebody("leilani")
        self.refuse_a_wrong_password()
        self.set_a_pin()
        ended = Event()
        with ThreadPoolExecutor(1) as pool:
            beside = pool.submit(self.tap_beside, ended)
            try:
                self.score()
                self.hold_and_settle()
                self.enter_people()
                self.hand_in_a_copy()
                self.enter_documents()
                self.decide_and_award()
                self.object_and_answer()
                self.sign_anew()
            finally:
                ended.set()
            beside.result()
        self.relay.let_out()

    def tap_beside(self, ended: Event) -> None:
        """Leilani, on her own phone, all the while: what she sends overtakes what others do."""
        candidate = str(self.leilani.get("/api/kits").json()["candidates"][0]["id"])
        of = {"sheet": key(0x90000)}
        one = begin(candidate, assessor=LEILANI) | of | {"id": key(0x90001)}
        while not ended.wait(BETWEEN_TAPS):
            assert self.leilani.send([one]).keys() <= {"stored", "seen"}
            self.known.records.add(one["id"])
            n = one["n"] + 1
            one = record(n, number=0x90000 + n, kind="note", t=n, text="she looks", **of)

    def refuse_a_wrong_password(self) -> None:
        """Nobody comes in; each that reached the server is a failure."""
        form = {"login": "all", "password": "wrong words here"}
        self.somebody().post("/sign-in", 403, 429, data=form)

    def failures(self) -> int:
        """How often the wrong password reached a server and was looked at."""
        wrong = [one for one in self.relay.passed if b"wrong" in one.body]
        return sum(one.delivered.count(403) for one in wrong)

    def set_a_pin(self) -> None:
        """And a password: each was changed, whatever answer came; then she signs in again."""
        page = self.leilani.get("/password").text
        form = hidden(page, "/pin")
        told = self.leilani.post("/pin", 303, data={**form, "password": PASSWORD, "pin": "4711"})
        assert says_nothing_untrue(self.somebody(), told)
        self.leilani.sign_in("leilani")
        reader = self.somebody("reader")
        changed = {"old": PASSWORD, "new": OTHER_PASSWORD, "again": OTHER_PASSWORD}
        told = reader.post("/password", 303, data=changed)
        assert says_nothing_untrue(self.somebody(), told)
        reader.sign_in("reader", OTHER_PASSWORD)

    def enrol(self, name: str) -> Somebody:
        """A device with its word; where that was lost on the way it is revoked and another made."""
        for number in range(TRIES):
            called = f"{name}{number}"
            answer = self.office.fill_in("/book/devices", "/book/devices", 200, 409, name=called)
            self.known.devices[called] = False
            if word := re.findall(r'<code class="word">([^<]+)</code>', answer.text):
                device = self.somebody()
                device.client.headers["authorization"] = f"Bearer {word[0]}"
                return device
            self.revoke(called)
        raise AssertionError("no device was ever told its word")

    def revoke(self, name: str) -> None:
        page = self.office.get("/book/devices").text
        (row,) = re.findall(rf'<th scope="row">{re.escape(name)}</th>.*?</tr>', page)
        (action,) = re.findall(r'action="([^"]+/revoke)"', row)
        self.office.post(action, 303)
        self.known.devices[name] = True

    def score(self) -> None:
        """Hana on her own phone, Leilani on a tablet, at the same time; she confirms by PIN."""
        self.tablet = self.enrol("Tablet ")
        candidate = str(self.hana.get("/api/kits").json()["candidates"][0]["id"])
        self.taps = lesson(self.hana.client, candidate)
        hers = [dict(self.taps[0]), *self.taps[1:]]
        hers[0] = hers[0] | {"body": hers[0]["body"] | {"assessor": LEILANI}}
        self.hers = hers
        own = signed_lesson(self.taps, 0x10000, "mill-2026-11-24-own")
        shared = signed_lesson(hers, 0x20000, "mill-2026-11-24-shared")
        with ThreadPoolExecutor(2) as pool:
            sent = [pool.submit(self.hana.send, own), pool.submit(self.tablet.send, shared)]
            assert all(one.result().keys() <= {"stored", "seen"} for one in sent)
        assert self.confirmed_on(self.tablet, shared) == "signed"
        self.keep_in_mind(own, shared)
        assert self.hana.sheets() == [own[0]["sheet"]]

    def confirmed_on(self, tablet: Somebody, taps: list[JSON]) -> str:
        """How the sheet stands after she confirmed what is signed there with her PIN."""
        body = {"pin": "4711", "sha256": taps[-1]["body"]["sha256"]}
        address = f"/api/sheets/{taps[0]['sheet']}/confirm"
        return str(tablet.post(address, 200, json=body).json()["state"])

    def keep_in_mind(self, *sheets: list[JSON]) -> None:
        for taps in sheets:
            self.known.records |= {one["id"] for one in taps}
            self.known.signed.append(taps[0]["sheet"])
            self.known.entries["sheet-taken"] += 1

    def hold_and_settle(self) -> None:
        """What stands in no sheet is held, and settled with words."""
        alone = [record(2, sheet=key(0x30000), number=0x30002 + n, kind="stray") for n in range(2)]
        assert self.hana.send(alone).keys() == {"held"}
        for one in alone:
            (number,) = self.held(one["id"])
            action = f"/book/held/{number}/settle"
            because = f"typed anew, {one['id'][-5:]}"
            self.office.fill_in("/book/held", action, 303, 409, because=because)
            self.known.held[one["id"]] = because

    def held(self, wanted: str) -> list[str]:
        """The number under which the record waits."""
        page = unescape(self.office.get("/book/held").text)
        cards = re.findall(r'<section class="card">(.*?)</section>', page, re.DOTALL)
        return [re.findall(r"/book/held/(\d+)/settle", card)[0] for card in cards if wanted in card]

    def import_people(self, *people: tuple[str, str], allowed: int = 200) -> str:
        rows = [f"- person: {slug}\n  name: Nova Lind\n  site: {site}\n" for slug, site in people]
        form = hidden(self.office.get("/people/import").text, "/people/import")
        file = ("new.yaml", "".join(["people:\n", *rows]).encode())
        answer = self.office.post("/people/import", allowed, data=form, files={"file": file})
        return answer.text

    def enter_people(self) -> None:
        """New ones, one changed, and one whose name was in the way of a record."""
        unknown = begin("nova-lind") | {"sheet": key(0x40000), "id": key(0x40001)}
        self.hana.send([unknown])
        self.import_people(("nova-lind", "mill"), ("ode-marsh", "mill"))
        self.import_people(("nova-lind", "sandhof"), ("ode-marsh", "mill"))
        self.import_people(("Nova Lind", "mill"), allowed=422)
        self.known.entries["person-set"] += 3
        for number in self.held(unknown["id"]):
            self.office.fill_in("/book/held", f"/book/held/{number}/take", 303, 409)
        self.known.records.add(unknown["id"])
        self.known.held[unknown["id"]] = "taken after all"

    def hand_in_a_copy(self) -> None:
        """Of a dead device; whoever signed confirms it on her first page."""
        taps = signed_lesson(self.taps, 0x50000, "mill-2026-11-24-copy")
        copy = ("sheet.json", json.dumps({"records": taps}).encode())
        self.office.post("/book/copies", 200, files={"file": copy})
        self.hana.fill_in("/", f"/sheets/{taps[0]['sheet']}/confirm", 303)
        self.keep_in_mind(taps)

    def enter_documents(self) -> None:
        """Three; one of them is taken out again, as a slip, by way of a file."""
        page = f"/people/{NOOR}"
        paper = {"document": "first-aid", "issued": "2026-10-01", "last_day": "2028-10-01"}
        for number in range(2):
            reference = f"Card {number}"
            self.office.fill_in(page, f"{page}/documents", 303, **paper, reference=reference)
            self.known.documents.append(reference)
        self.office.fill_in(page, f"{page}/documents", 409, **paper | {"last_day": "2026-09-01"})
        wrong = Document.model_validate({**paper, "reference": "Card 1"})
        self.correct(page, wrong, "Card 1 of two")
        self.office.fill_in(
            "/people/nova-lind", "/people/nova-lind/documents", 303, **paper, reference="A slip"
        )
        self.import_people(("nova-lind", "sandhof"))
        self.known.entries["person-set"] += 5

    def correct(self, page: str, wrong: Document, reference: str) -> None:
        """The page has a form of the same action for each document."""
        read = hidden(self.office.get(page).text, f"{page}/documents")["read"]
        form = {**plain(wrong), "reference": reference, "was": content_hash(wrong), "read": read}
        self.office.post(f"{page}/documents/correct", 303, data={**form, "because": "a slip"})
        self.known.documents[-1] = reference

    def decide_and_award(self) -> None:
        """Each as it was read; what was read before other evidence came in is not entered."""
        self.marit = marit = self.somebody("marit")
        address = f"/decisions/{NOOR}/{REFRESHER}"
        marit.fill_in(address, f"{address}/keep", 303)
        made = marit.fill_in(address, f"{address}/award", 303)
        self.known.awards.append(made.headers["location"].rpartition("/")[2])
        self.rule_on(made.headers["location"])
        page = f"/decisions/{PARVIN}/{TRAPEZE}"
        old = hidden(marit.get(page).text, f"{page}/keep")
        marit.fill_in(page, f"{page}/keep", 303)
        self.another_lesson_of(PARVIN)
        marit.post(f"{page}/keep", 409, data=old)
        self.known.entries.update({"decision-made": 2, "award-granted": 1})

    def rule_on(self, award: str) -> None:
        """Suspended and reinstated, reduced and restored, each as it was read."""
        why = {"because": "a fall, looked into"}
        for kind in ("suspended", "reinstated"):
            self.marit.fill_in(award, f"{award}/rule", 303, kind=kind, **why)
        skill = re.findall(r'name="without" value="([^"]+)"', self.marit.get(award).text)[0]
        self.marit.fill_in(award, f"{award}/reduce", 303, without=skill, **why)
        self.marit.fill_in(award, f"{award}/rule", 303, kind="restored", **why)
        self.known.entries["award-ruled"] += 4

    def object_and_answer(self) -> None:
        """An appeal against the award stays open, a complaint is answered."""
        page = f"/appeals/new/appeal/{NOOR}"
        against = {"against": self.known.awards[-1], "because": "nobody looked twice"}
        self.office.fill_in(page, page, 303, **against)
        page = f"/appeals/new/complaint/{PARVIN}"
        about = {"against": PARVIN, "because": "it began late"}
        made = self.office.fill_in(page, page, 303, **about)
        address = made.headers["location"]
        answer = {"outcome": "upheld", "because": "so it did"}
        self.marit.fill_in(address, f"{address}/answer", 303, **answer)
        self.known.entries.update({"appeal-filed": 2, "appeal-answered": 1})

    def another_lesson_of(self, candidate: str) -> None:
        head = self.taps[0] | {"body": self.taps[0]["body"] | {"candidate": candidate}}
        taps = signed_lesson([head, *self.taps[1:]], 0x60000, "mill-2026-11-24-more")
        self.hana.send(taps)
        self.keep_in_mind(taps)

    def sign_anew(self) -> None:
        """A sheet that was confirmed and refused, mended and signed again, waits for her anew."""
        candidate = self.hers[0]["body"]["candidate"]
        taps = signed_lesson(self.hers, 0x70000, candidate)  # a lesson is not named so
        self.tablet.send(taps)
        assert self.confirmed_on(self.tablet, taps) == "refused"
        n, of = len(taps), {"sheet": taps[0]["sheet"]}
        head = {"practical": "mill-2026-11-24-anew", "began": taps[0]["body"]["began"]}
        more = [
            record(n + 1, number=0x70000 + n + 1, kind="reopened", **of),
            record(n + 2, number=0x70000 + n + 2, kind="mended", site=None, **head, **of),
        ]
        again = sign([*taps, *more]) | of | {"id": key(0x70000 + n + 3)}
        self.tablet.send([*more, again])
        self.known.records |= {one["id"] for one in [*taps, *more, again]}
        state = self.tablet.get(f"/api/sheets/{taps[0]['sheet']}").json()["state"]
        assert state == "to confirm"

    def lose_the_tablet(self) -> None:
        """Its word is withdrawn; what it sent before stays."""
        (name,) = (name for name, revoked in self.known.devices.items() if not revoked)
        self.revoke(name)
        more = signed_lesson(self.hers, 0x80000, "mill-2026-11-24-late")
        self.tablet.post("/api/records", 401, json={"records": more[:3]})
        self.relay.let_out()

    def sign_out(self) -> None:
        """Whatever answer came, the session is worth nothing."""
        for one in (self.office, self.hana, self.leilani, self.marit):
            one.post("/sign-out", 303)
        self.relay.let_out()
        for one in (self.office, self.hana, self.leilani, self.marit):
            one.get("/", 303)


def says_nothing_untrue(visitor: Somebody, told: httpx.Response) -> bool:
    """Of the page to which somebody is led who changed what she asked for."""
    return "nothing of it was entered" not in visitor.get(told.headers["location"]).text


# --- what is there ----------------------------------------------------------------------------


def everything_in(folder: Path) -> tuple[object, ...]:
    """All that a request may have entered, but for sessions and failures."""
    with open_book(where_the_book_is(folder)) as book:
        with book._reading() as reading:
            beside = [
                sorted(map(tuple, reading.conn.execute(select(table)).all()))
                for table in (kept_records, confirmations)
            ]
        return (book.size(), beside, book.records.held(), book.access.devices())


def entries_of(book: Book, since: int) -> Counter[str]:
    """How many of each kind came in since, of those that somebody's request enters."""
    return Counter(one.kind for one in book.history() if one.seq > since)


def check(folder: Path, known: Known, since: int) -> None:
    """What was acknowledged is there once, and nothing else."""
    with open_book(where_the_book_is(folder)) as book:
        assert book.audit(decide).faults == []
        assert entries_of(book, since) == known.entries
        sheets = [one.sheet.id for one in book.sheets() if one.sheet.source == "web"]
        assert sorted(sheets) == sorted(known.signed)
        assert {one.name: one.revoked is not None for one in book.access.devices()} == known.devices
        assert len(book.access.devices()) == len(known.devices)
        done = [(one.record, one.settled and one.settled.because) for one in book.records.held()]
        assert sorted(done) == sorted(known.held.items())
        with book._reading() as reading:
            ids = reading.conn.scalars(select(kept_records.c.id)).all()
        assert sorted(ids) == sorted(known.records)
        noor, nova = book.find_person(NOOR), book.find_person("nova-lind")
        assert noor
        assert nova
        cards = [one.reference for one in noor.documents if "Card" in (one.reference or "")]
        assert cards == known.documents
        assert (nova.site, nova.documents) == ("sandhof", ())
        numbers = [one.award.number for one in book.awards(NOOR, past=True)]
        assert [numbers.count(one) for one in known.awards] == [1] * len(known.awards)
        reader, leilani = book.access.find("reader"), book.access.find("leilani")
        assert reader
        assert matches(reader[1].password, OTHER_PASSWORD)
        assert leilani
        assert matches(leilani[1].pin or "", "4711")


def counts(found: Counter[str]) -> str:
    return ", ".join(f"{count} {what}" for what, count in found.items())


@contextmanager
def walked(folder: Path, servers: int, seed: int) -> Iterator[Term]:
    """A term behind the relay and so many servers."""
    with ExitStack() as stack:
        programs = [Program(folder) for _ in range(servers)]
        for one in programs:
            one.start()
            stack.callback(one.kill)
        for one in programs:
            one.answers()
        addresses = [one.address for one in programs]
        relay, address = stack.enter_context(relayed(addresses, Random(seed)))
        yield Term(folder, relay, address, stack)


@pytest.mark.slow
@pytest.mark.parametrize("database", ["one file", "postgresql"])
def test_whatever_a_relay_repeats_delays_and_reorders_is_stored_once(
    accounts_made: Path, tmp_path: Path, database: str, request: pytest.FixtureRequest
) -> None:
    did: Counter[str] = Counter()
    total: Counter[str] = Counter()
    met: set[str] = set()
    for walk in range(WALKS):
        folder = copied(accounts_made, tmp_path / str(walk) / "school")
        if database == "postgresql":
            move_to(request.getfixturevalue("cluster"), folder)
        with open_book(where_the_book_is(folder)) as book:
            since = book.size()
        seed = SEED + walk
        with walked(folder, 1 if database == "one file" else 2, seed) as term:
            term.live()
            before = everything_in(folder)
            term.relay.play_again()
            assert everything_in(folder) == before, f"seed {seed}: while sessions last"
            term.lose_the_tablet()
            before = everything_in(folder)
            term.relay.play_again(lambda one: one.path.startswith(("/book/devices", "/api/")))
            assert everything_in(folder) == before, f"seed {seed}: when the tablet is lost"
            term.sign_out()
            term.relay.play_again(lambda one: one.path != "/sign-in")  # which lets somebody in
            assert everything_in(folder) == before, f"seed {seed}: when sessions have ended"
            check(folder, term.known, since)
            with open_book(where_the_book_is(folder)) as book:
                failed = book.access.failures("login:all")
            assert failed
            assert failed.count == term.failures()
            assert term.relay.faults == [], f"seed {seed}"
            total += term.known.counted()
            did += term.relay.did
            met |= {route_of(one) for one in term.relay.passed}
    say(
        f"a lying relay, terms: {WALKS}, book in {database}; acknowledged and there once, nothing"
        f" else: {counts(total)}; what it did: {counts(did)}"
    )

    assert met == ONCE.keys()
    assert did.keys() >= {*TROUBLES, "overtaken by another", "over another's connection"}
