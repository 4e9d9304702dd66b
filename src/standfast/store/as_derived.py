"""Whether the derived tables are what the journal gives, with a few thousand entries in memory.

Each row is looked at when its entry is read.  What a later entry says in a row of an earlier one
is waited for; and of entries that take each other's place a row is that of the last one.  Whatever
is odd counts as other than it should be: `audit` then looks at everything at once to name it.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from itertools import islice
from typing import Any, TypeAlias

from sqlalchemy import Column, Connection, Table, func, select

from standfast.store.derived import OF_A_PERSON, REPLACED, Batch, Row, derive
from standfast.store.journal import Entry
from standfast.store.tables import (
    AT_ONCE,
    OF_ENTRIES,
    appeals,
    awards,
    batched,
    decisions,
    people,
    sheets,
)

_ENTRIES = 5_000
_MARKED = {
    sheets: ("superseded_by",),
    decisions: ("superseded_by",),
    awards: ("renewed_by", "renewed_on", "superseded_by"),
    appeals: ("answer",),
}
"""Columns in which a later entry may say something."""

Cell: TypeAlias = tuple[Table, str, str]
"""Table, column, key."""


def is_as_derived(conn: Connection, entries: Iterable[Entry]) -> bool:
    """Whether every table whose rows come from one entry each is what the whole journal gives."""
    looking, rest = _Looking(conn), iter(entries)
    while some := list(islice(rest, _ENTRIES)):
        batch = Batch()
        for entry in some:
            derive(batch, entry.seq, entry.id, entry.kind, json.loads(entry.body))
        if not looking.finds(batch):
            return False
    return looking.found_everything()


class _Looking:
    def __init__(self, conn: Connection) -> None:
        self._conn = conn
        self._rows: Counter[Table] = Counter()
        self._waited_for: dict[Cell, Any] = {}
        """What a table says already, and no entry has said so far."""

    def finds(self, batch: Batch) -> bool:
        """Whether the tables have all that the entries of the batch say."""
        others = (t for t in OF_ENTRIES if t not in OF_A_PERSON)
        return (
            all(self._finds_rows(table, batch.rows[table]) for table in others)
            and all(self._finds_of_people(table, batch) for table in OF_A_PERSON)
            and all(self._comes(cell, value) for cell, value in batch.marks())
        )

    def found_everything(self) -> bool:
        """Whether nothing is waited for, and no table has a row more."""
        counts = {t: self._conn.scalar(select(func.count()).select_from(t)) for t in OF_ENTRIES}
        return not self._waited_for and all(self._rows[t] == many for t, many in counts.items())

    def _finds_rows(self, table: Table, wanted: dict[str, Row]) -> bool:
        for keys in batched(wanted, AT_ONCE):
            there = {row[0]: row for row in self._of(table, table.columns[0], keys)}
            if not all(key in there and self._fits(table, wanted[key], there[key]) for key in keys):
                return False
        return True

    def _fits(self, table: Table, wanted: Row, there: Row) -> bool:
        if table in REPLACED and there[1] > wanted[1]:
            return True  # a later entry took its place
        self._rows[table] += 1
        if there == wanted:
            return True
        for column, said, kept in zip(table.columns, wanted, there, strict=True):
            if said == kept:
                continue
            if said is not None or column.name not in _MARKED.get(table, ()):
                return False
            self._waited_for[table, column.name, wanted[0]] = kept
        return True

    def _comes(self, cell: Cell, value: object) -> bool:
        """Whether what an entry says in an earlier row is there."""
        return bool(self._waited_for.pop(cell, None) == value)

    def _finds_of_people(self, table: Table, batch: Batch) -> bool:
        """Whether those of whom the batch has the last entry have its rows, and no others."""
        wanted = batch.rows[people]
        for some in batched(wanted, AT_ONCE):
            last = {
                row[0]
                for row in self._of(people, people.c.ref, some)
                if row[1] == wanted[row[0]][1]
            }
            said = [row for row in batch.rows[table].values() if row[2] in last]
            if sorted(said) != sorted(self._of(table, table.c.person, sorted(last))):
                return False
            self._rows[table] += len(said)
        return True

    def _of(self, table: Table, column: Column[Any], values: list[str]) -> list[Row]:
        rows = self._conn.execute(select(table).where(column.in_(values)))
        return [tuple(row) for row in rows]
