"""What devices beside the mat have sent: records as they came, and those held for the office.

Beside the journal: a signed sheet becomes an entry there.  People stand here under opaque ids, as
in the journal.  A record is never changed.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeAlias

from sqlalchemy import Row, delete, func, insert, select

from standfast.model.mat import Record
from standfast.store.journal import instant
from standfast.store.tables import held, records
from standfast.store.transactions import Transactions
from standfast.store.writing import Reading

JSON: TypeAlias = dict[str, Any]

PEOPLE = ("candidate", "assessor")
"""Of a lesson's begin: the fields that name somebody."""


@dataclass(frozen=True)
class Kept:
    """A record that is kept, and from which account it came."""

    record: Record
    sent: JSON
    """As the device wrote it: what is signed is a hash of that."""
    account: str


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


class Records:
    """The records of one book; `Book.records` gives it."""

    def __init__(self, transactions: Transactions) -> None:
        self._reading = transactions.reading
        self._writing = transactions.writing

    def find(self, record: str) -> Kept | None:
        """The record of that id."""
        with self._reading() as reading:
            row = reading.conn.execute(select(records).where(records.c.id == record)).one_or_none()
            return None if row is None else _kept(reading, row)

    def of_sheet(self, sheet: str) -> tuple[Kept, ...]:
        """The records of a sheet, in order."""
        query = select(records).where(records.c.sheet == sheet).order_by(records.c.n)
        with self._reading() as reading:
            return tuple(_kept(reading, row) for row in reading.conn.execute(query))

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

    def put(self, record: Record, sent: JSON, account: str, now: datetime) -> None:
        """Keeps a record that is new in its id, and in its number of the sheet."""
        with self._writing() as writing:
            body = _renamed(sent["body"], writing.names.ref)
            row = (record.id, record.sheet, record.n, record.at, instant(now), account)
            writing.conn.execute(insert(records).values((*row, json.dumps(body))))

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
        """What is held, oldest first."""
        with self._reading() as reading:
            return tuple(
                Held(r.key, r.record, r.sheet, r.why, r.got, r.account, r.body)
                for r in reading.conn.execute(select(held).order_by(held.c.key))
            )


def forget_held(writing: Reading, person: str) -> None:
    """Deletes what is held and names that person by slug: nobody can be asked about it any more."""
    named = held.c.body.contains(person, autoescape=True)
    writing.conn.execute(delete(held).where(named))


def _kept(reading: Reading, row: Row[Any]) -> Kept:
    body = _renamed(json.loads(row.body), reading.names.handle)
    sent = {"id": row.id, "sheet": row.sheet, "n": row.n, "at": row.at, "body": body}
    return Kept(Record.model_validate(sent), sent, row.account)


def _renamed(body: JSON, rename: Callable[[str], str]) -> JSON:
    """The body with other names for people, where it names any."""
    if body["kind"] != "begin":
        return body
    return {key: rename(value) if key in PEOPLE else value for key, value in body.items()}
