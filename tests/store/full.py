"""A book with something in every table, and its rows to compare."""

from __future__ import annotations

from datetime import timedelta
from hashlib import sha256

from sqlalchemy import select
from tests.store.school import BEGAN, School

from standfast.model.account import Account, Device
from standfast.model.mat import Record
from standfast.store.access import Secrets
from standfast.store.book import Book
from standfast.store.records import Kept
from standfast.store.tables import metadata

NOW = BEGAN + timedelta(hours=1)
SHEET = "01890000-0000-7000-8000-00000000f001"


def fill_everything(school: School) -> None:
    """One of everything in the journal and beside it."""
    school.fill()
    book = school.book
    book.remember_head(NOW)
    account = Account(id=school.key(), login="ann", person="ann", roles=("assessor",))
    book.access.add(account, Secrets("hashed", None), NOW)
    book.access.begin_session(account.id, b"in the browser", NOW)
    book.access.failed("account ann", NOW)
    device = Device(id=school.key(), name="the blue tablet", enrolled=NOW, by="ann")
    book.access.enrol(device, b"in the tablet")
    book.records.put([begun(school)], NOW)
    for what in ("first", "second"):
        book.records.hold(school.key(), SHEET, f'{{"said": "{what}"}}', "no such person", "a", NOW)
    book.records.settle(1, "office", "asked on the phone", NOW)
    book.records.wait_for_confirmation(SHEET, "device", NOW)


def begun(school: School) -> Kept:
    """The first record of a lesson, as a device sent it."""
    body = {
        "kind": "begin",
        "practical": "hall-2026-03-01",
        "rubric": "bar-1",
        "rubric_version": 1,
        "candidate": "cato",
        "assessor": "ann",
        "began": "2026-03-01T09:00:00+00:00",
        "students": [{"student": "S1", "log": {}}],
    }
    sent = {"id": school.key(), "sheet": SHEET, "n": 1, "at": "2026-03-01T09:00:00Z", "body": body}
    return Kept(Record.model_validate(sent), sent, "an account")


def rows(book: Book) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table."""
    with book._transactions.reading() as reading:
        return {
            table.name: sorted((tuple(r) for r in reading.conn.execute(select(table))), key=repr)
            for table in metadata.sorted_tables
        }


def lines_of(book: Book) -> dict[str, list[bytes]]:
    """Every part as lines."""
    from standfast.store.contents import PARTS

    with book.still(NOW) as still:
        return {table.name: list(still.contents.lines(table.name)) for table in PARTS}


def root_by_hand(lines: list[bytes]) -> bytes:
    """The root over the lines by the recursion of RFC 9162, 2.1.1, as it is printed there."""
    if not lines:
        return sha256().digest()
    if len(lines) == 1:
        return sha256(b"\x00" + lines[0].rstrip(b"\n")).digest()
    half = 1
    while half * 2 < len(lines):
        half *= 2
    halves = (root_by_hand(lines[:half]), root_by_hand(lines[half:]))
    return sha256(b"\x01" + halves[0] + halves[1]).digest()
