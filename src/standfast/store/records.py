"""What devices beside the mat have sent: records as they came, and those held for the office.

Beside the journal: a signed sheet becomes an entry there.  People stand here under opaque ids, as
in the journal.  A record is never changed.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeAlias

from sqlalchemy import Row, delete, func, insert, or_, select, update

from standfast.model.mat import Record
from standfast.problems import NotFound, Refused
from standfast.store.journal import instant
from standfast.store.tables import add_rows, confirmations, held, records, settled, sheets
from standfast.store.transactions import Transactions
from standfast.store.writing import Reading

JSON: TypeAlias = dict[str, Any]

PEOPLE = ("candidate", "assessor")
"""Of a lesson's begin: the fields that name somebody."""


FORGOTTEN = ""
"""In place of a held body that named somebody who was erased: its id stays, so that what a device
sends again is known and not held again."""


@dataclass(frozen=True)
class Kept:
    """A record that is kept, and from which account it came."""

    record: Record
    sent: JSON
    """As the device wrote it: what is signed is a hash of that."""
    account: str


@dataclass(frozen=True)
class Settled:
    """What the office did about a record that was held."""

    by: str
    """Login."""
    at: str
    because: str


@dataclass(frozen=True)
class Held:
    """A record that the office must look at."""

    key: int
    record: str
    """Its id."""
    sheet: str
    why: str
    got: str
    account: str
    body: str
    """As it came."""
    settled: Settled | None
    """What was done about it; None while somebody must look."""


@dataclass(frozen=True)
class Unfinished:
    """A sheet that was begun beside the mat and is not in the record book."""

    begin: Kept
    records: int
    last: str
    """When the newest of them came in."""


class Records:
    """The records of one book; `Book.records` gives it."""

    def __init__(self, transactions: Transactions) -> None:
        self._reading = transactions.reading
        self._writing = transactions.writing

    def find(self, ids: Iterable[str]) -> dict[str, Kept]:
        """Those of these ids that are kept."""
        query = select(records).where(records.c.id.in_(list(ids)))
        with self._reading() as reading:
            return {row.id: _kept(reading, row) for row in reading.conn.execute(query)}

    def forgotten(self, ids: Iterable[str]) -> frozenset[str]:
        """Those of these ids under which something was held that named somebody erased since."""
        of = held.c.record.in_(list(ids)) & (held.c.body == FORGOTTEN)
        with self._reading() as reading:
            return frozenset(reading.conn.scalars(select(held.c.record).where(of)))

    def of_sheet(self, sheet: str) -> tuple[Kept, ...]:
        """The records of a sheet, in order."""
        query = select(records).where(records.c.sheet == sheet).order_by(records.c.n)
        with self._reading() as reading:
            return tuple(_kept(reading, row) for row in reading.conn.execute(query))

    def naming(self, person: str) -> tuple[Kept, ...]:
        """The records of each sheet whose begin names that person, slug or opaque id."""
        with self._reading() as reading:
            ref = reading.names.ref(person)
            named = records.c.body.contains(f'"{ref}"', autoescape=True)
            theirs = select(records.c.sheet).where(records.c.n == 1, named)
            query = select(records).where(records.c.sheet.in_(theirs))
            rows = reading.conn.execute(query.order_by(records.c.sheet, records.c.n))
            return tuple(_kept(reading, row) for row in rows)

    def sheets(self, account: str) -> tuple[tuple[str, int, int], ...]:
        """Each sheet of an account with how many records it has, and its highest number."""
        query = (
            select(records.c.sheet, func.count(), func.max(records.c.n))
            .where(records.c.account == account)
            .group_by(records.c.sheet)
            .order_by(func.min(records.c.got))
        )
        with self._reading() as reading:
            return tuple((row[0], row[1], row[2]) for row in reading.conn.execute(query))

    def unfinished(self) -> tuple[Unfinished, ...]:
        """The sheets that were begun and are not in the book, those begun first first."""
        first = records.alias()
        query = (
            select(first, func.count(records.c.id), func.max(records.c.got))
            .join(records, records.c.sheet == first.c.sheet)
            .where(first.c.n == 1, first.c.sheet.not_in(select(sheets.c.id)))
            .group_by(*first.c)  # PostgreSQL knows only a whole key to stand for its row
            .order_by(first.c.got)
        )
        with self._reading() as reading:
            rows = reading.conn.execute(query).all()
            return tuple(Unfinished(_kept(reading, row), row[-2], row[-1]) for row in rows)

    def put(self, new: Sequence[Kept], now: datetime) -> None:
        """Keeps records, each of which is new in its id, and in its number of the sheet."""
        with self._writing() as writing:
            rows = [_row(one, writing.names.ref, now) for one in new]
            if rows:
                add_rows(writing.conn, records, rows)

    def hold(
        self, record: str, sheet: str, body: str, why: str, account: str, now: datetime
    ) -> None:
        """Keeps for the office what cannot be taken; the same again is kept once."""
        with self._writing() as writing:
            same = select(held.c.key).where(held.c.record == record, held.c.body == body)
            if writing.conn.scalar(same) is None:
                key = (writing.conn.scalar(select(func.max(held.c.key))) or 0) + 1
                row = (key, record, sheet, body, why, instant(now), account)
                writing.conn.execute(insert(held).values(row))

    def held(self) -> tuple[Held, ...]:
        """What was ever held, oldest first, but for what an erasure took."""
        query = select(held, settled).outerjoin(settled, settled.c.held == held.c.key)
        query = query.where(held.c.body != FORGOTTEN)
        with self._reading() as reading:
            return tuple(map(_held, reading.conn.execute(query.order_by(held.c.key))))

    def held_naming(self, person: str) -> tuple[Held, ...]:
        """What was ever held and names that person."""
        with self._reading() as reading:
            who = {person, reading.names.ref(person)}
        return tuple(one for one in self.held() if names_one_of(one.body, who))

    def settle(self, key: int, by: str, because: str, now: datetime) -> None:
        """Keeps what was done about a held record.

        Raises:
            NotFound: none of that number is held.
            Refused: it was settled before.
        """
        with self._writing() as writing:
            if writing.conn.scalar(select(held.c.key).where(held.c.key == key)) is None:
                raise NotFound("held record", str(key), ())
            if writing.conn.scalar(select(settled.c.held).where(settled.c.held == key)):
                raise Refused(f"held record {key} was settled before; read the list again")
            writing.conn.execute(insert(settled).values((key, by, instant(now), because)))

    # --- sent for somebody else -------------------------------------------------------------

    def wait_for_confirmation(self, sheet: str, sender: str, now: datetime) -> None:
        """Keeps that a shared device or the office sent the signature; each waits anew."""
        with self._writing() as writing:
            of = confirmations.c.sheet == sheet
            told = {"sender": sender, "got": instant(now), "confirmed": None}
            if not writing.conn.execute(update(confirmations).where(of).values(told)).rowcount:
                writing.conn.execute(insert(confirmations).values({"sheet": sheet, **told}))

    def confirm(self, sheet: str, now: datetime) -> None:
        """Keeps that whoever signed the sheet showed who she is."""
        of = (confirmations.c.sheet == sheet) & confirmations.c.confirmed.is_(None)
        with self._writing() as writing:
            writing.conn.execute(update(confirmations).where(of).values(confirmed=instant(now)))

    def waits_for_confirmation(self, sheet: str) -> bool:
        """Whether the signature was sent for somebody who has not confirmed it."""
        of = (confirmations.c.sheet == sheet) & confirmations.c.confirmed.is_(None)
        with self._reading() as reading:
            return reading.conn.scalar(select(confirmations.c.sheet).where(of)) is not None


def forget_held(writing: Reading, person: str) -> None:
    """Deletes what is held and names that person: nobody can be asked about it any more.

    Of each its number, its id and when it came are left.
    """
    who = {person, writing.names.ref(person)}
    perhaps = or_(*(held.c.body.contains(one, autoescape=True) for one in sorted(who)))
    rows = writing.conn.execute(select(held).where(perhaps)).all()
    gone = [row for row in rows if names_one_of(row.body, who)]
    keys = [row.key for row in gone]
    writing.conn.execute(delete(settled).where(settled.c.held.in_(keys)))
    writing.conn.execute(delete(held).where(held.c.key.in_(keys)))
    if gone:
        left = [(row.key, row.record, "", FORGOTTEN, "", row.got, "") for row in gone]
        add_rows(writing.conn, held, left)


def names_one_of(body: str, who: Collection[str]) -> bool:
    """Whether what came names one of them as somebody; where nobody can read it, as a word."""
    try:
        waiting = [json.loads(body)]
    except (ValueError, RecursionError):
        return any(re.search(rf"(?<![\w-]){re.escape(one)}(?![\w-])", body) for one in who)
    while waiting:
        part = waiting.pop()
        if isinstance(part, dict):
            if any(isinstance(part.get(one), str) and part[one] in who for one in PEOPLE):
                return True
            waiting += part.values()
        elif isinstance(part, list):
            waiting += part
    return False


def _held(row: Row[Any]) -> Held:
    told = None if row.by is None else Settled(row.by, row.at, row.because)
    return Held(row.key, row.record, row.sheet, row.why, row.got, row.account, row.body, told)


def _row(one: Kept, rename: Callable[[str], str], now: datetime) -> tuple[str | int, ...]:
    record, body = one.record, json.dumps(_renamed(one.sent["body"], rename))
    return (record.id, record.sheet, record.n, record.at, instant(now), one.account, body)


def _kept(reading: Reading, row: Row[Any]) -> Kept:
    body = _renamed(json.loads(row.body), reading.names.handle)
    sent = {"id": row.id, "sheet": row.sheet, "n": row.n, "at": row.at, "body": body}
    return Kept(Record.model_validate(sent), sent, row.account)


def _renamed(body: JSON, rename: Callable[[str], str]) -> JSON:
    """The body with other names for people, where it names any."""
    if body["kind"] != "begin":
        return body
    return {key: rename(value) if key in PEOPLE else value for key, value in body.items()}
