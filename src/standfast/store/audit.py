"""Whether the record book can be believed: file, guards, journal, tree, tables, decisions."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import islice

from sqlalchemy import Table, delete, select
from sqlalchemy.exc import DBAPIError

from standfast.model.tree import GrowingTree
from standfast.problems import RecordBookError
from standfast.store import names, tallies
from standfast.store.as_derived import is_as_derived
from standfast.store.database import Database
from standfast.store.derived import Batch, derive
from standfast.store.heads import Head, remembered
from standfast.store.journal import Entry, leaf_of
from standfast.store.replay import Decide, replay
from standfast.store.tables import DERIVED, OF_ENTRIES, identity, journal, people
from standfast.store.writing import Reading, Writing

_AT_ONCE = 5_000  # entries in memory


@dataclass(frozen=True)
class Fault:
    """Something that must not be; `seq` and `entry` say at which entry, when it is at one."""

    what: str
    seq: int | None = None
    entry: str | None = None

    def __str__(self) -> str:
        return self.what if self.seq is None else f"entry {self.seq} ({self.entry}): {self.what}"


@dataclass
class Audit:
    """What an audit found; the book can be believed when there is no fault."""

    size: int = 0
    root: bytes = b""
    decisions: int | None = None
    """How many decisions were made again; None when that was not asked or not possible."""
    faults: list[Fault] = field(default_factory=list)
    """In the order of the checks, and in each by entry."""
    remarks: list[str] = field(default_factory=list)
    """What is odd but no fault, such as a clock that was set back, or a server that a power cut
    could harm."""

    @property
    def clean(self) -> bool:
        """Whether no fault was found."""
        return not self.faults


def audit(
    reading: Reading,
    database: Database,
    decide: Decide | None = None,
    kept_heads: Iterable[Head] = (),
) -> Audit:
    """Checks everything that can be checked from the book itself.

    `kept_heads` are heads kept elsewhere: only they show a journal that was rewritten from end
    to end by whoever holds the file.  `decide` makes every decision again.
    """
    found = Audit()
    try:
        _check_everything(reading, database, decide, kept_heads, found)
    except DBAPIError as error:
        if not database.means_damage(error):
            raise
        found.faults.append(Fault(f"the file is damaged, nothing more was checked: {error.orig}"))
    return found


def _check_everything(
    reading: Reading,
    database: Database,
    decide: Decide | None,
    kept_heads: Iterable[Head],
    found: Audit,
) -> None:
    there = database.schema(reading.conn)
    found.faults += map(Fault, database.faults(reading.conn))
    found.remarks += database.cautions(reading.conn)
    _check_guards(there, database.schema_as_written(), found)
    if missing := [t.name for t in (journal, identity, *DERIVED) if t.name not in there]:
        found.remarks.append(f"nothing more was checked: no table {', '.join(missing)}")
        return
    before = len(found.faults)
    _check_journal(reading, found, kept_heads)
    if len(found.faults) > before:
        found.remarks.append(
            "not checked, for the journal is damaged: identities, tables, decisions"
        )
        return
    _check_identities(reading, found)
    before = len(found.faults)
    found.faults += check_derived(reading)
    if len(found.faults) == before:  # what is counted over would be wrong as well
        found.faults += check_counted(reading)
    if decide is not None:
        _check_decisions(reading, decide, found)


def _check_guards(there: Mapping[str, str], wanted: Mapping[str, str], found: Audit) -> None:
    for name, written in wanted.items():
        if name not in there:
            found.faults.append(Fault(f"{_what(written)} {name} is missing"))
        elif there[name] != written:
            found.faults.append(Fault(f"{_what(written)} {name} is not as written"))
    for name in sorted(there.keys() - wanted.keys()):
        what = _what(there[name])
        if what in _ACTS:
            found.faults.append(Fault(f"{what} {name} was added"))
        else:
            found.remarks.append(f"{what} {name} was added by somebody")


_ACTS = {"trigger", "rule", "policy"}
"""What can change or hide what somebody else writes."""


def _what(sql: str) -> str:
    words = sql.split()
    return " ".join(words[1:2]).lower() if words[1].upper() != "UNIQUE" else "index"


def entries(reading: Reading) -> Iterator[Entry]:
    """The whole journal in order, a few thousand entries in memory."""
    # Of the statement, not of the connection: PostgreSQL would ask for all that follows in pieces.
    query = select(journal).order_by(journal.c.seq).execution_options(yield_per=_AT_ONCE)
    with reading.conn.execute(query) as rows:  # closed also when nobody asks for the rest
        yield from map(Entry._make, rows)


def _check_journal(reading: Reading, found: Audit, kept_heads: Iterable[Head]) -> None:
    heads = sorted([*remembered(reading), *kept_heads], key=lambda head: head.size)
    growing = GrowingTree()
    expected, latest = 1, ""
    for entry in entries(reading):
        _check_heads(heads, growing, found)
        if entry.seq != expected:
            found.faults.append(
                Fault(f"number {expected} is missing before it", entry.seq, entry.id)
            )
        if leaf_of(entry) != entry.leaf:
            found.faults.append(
                Fault("its content is not what its leaf was made from", entry.seq, entry.id)
            )
        if entry.at < latest:
            found.remarks.append(
                f"entry {entry.seq} ({entry.id}): its clock says {entry.at},"
                f" an entry before it {latest}"
            )
        latest = max(latest, entry.at)
        expected = entry.seq + 1
        growing.extend((entry.leaf,))
    _check_heads(heads, growing, found)
    for head in heads:
        found.faults.append(
            Fault(
                f"a head over {head.size} entries was given out at {head.at},"
                f" and the journal has {growing.size}"
            )
        )
    found.size, found.root = growing.size, growing.root()


def _check_heads(heads: list[Head], growing: GrowingTree, found: Audit) -> None:
    """Compares, and takes off the list, the heads of the size that the tree has now."""
    while heads and heads[0].size == growing.size:
        head = heads.pop(0)
        if head.root != growing.root():
            found.faults.append(
                Fault(f"the first {head.size} entries are not those of the head of {head.at}")
            )


def _check_identities(reading: Reading, found: Audit) -> None:
    query = (
        select(identity, journal.c.seq.label("seq"), journal.c.id.label("entry"), journal.c.body)
        .join(people, people.c.ref == identity.c.ref)
        .join(journal, journal.c.seq == people.c.seq)
    )
    for row in reading.conn.execute(query.execution_options(yield_per=_AT_ONCE)):
        if json.loads(row.body)["commitment"] != names.commitment(row):
            found.faults.append(
                Fault(
                    f"name or contact of {row.handle} are not those that were entered",
                    row.seq,
                    row.entry,
                )
            )


def as_derived(reading: Reading) -> Batch:
    """What the journal puts into the derived tables, not written anywhere."""
    batch = Batch()
    for entry in entries(reading):
        derive(batch, entry.seq, entry.id, entry.kind, json.loads(entry.body))
    return batch


def check_derived(reading: Reading) -> Iterator[Fault]:
    """Rows of derived tables that are not those that the journal gives.

    Only where there are such rows is everything held in memory, to name them.
    """
    if is_as_derived(reading.conn, entries(reading)):
        return
    batch = as_derived(reading)
    for table in OF_ENTRIES:
        yield from _compare(reading, table, dict(batch.rows[table]))


def check_counted(reading: Reading) -> Iterator[Fault]:
    """Counts that are not those of the sheets that stand."""
    kept = tallies.as_kept(reading.conn)
    for table, wanted in tallies.everything(reading.conn).items():
        differ = {key for key, _ in wanted.items() ^ kept[table].items()}
        for key in sorted({row for row, _ in differ}):
            named = " ".join(key)
            yield Fault(f"row {named} of {table.name} is not what the sheets add up to; rebuild")


def _compare(
    reading: Reading, table: Table, wanted: dict[str, tuple[object, ...]]
) -> Iterator[Fault]:
    for row in reading.conn.execute(select(table)):
        expected = wanted.pop(row[0], None)
        if expected is None:
            yield Fault(f"row {row[0]} of {table.name} comes from no entry; rebuild the book")
        elif tuple(row) != expected:
            yield _at(
                reading, expected[1], f"row {row[0]} of {table.name} differs from it; rebuild"
            )
    for key, expected in wanted.items():
        yield _at(reading, expected[1], f"row {key} of {table.name} is missing; rebuild the book")


def _at(reading: Reading, seq: object, what: str) -> Fault:
    row = reading.conn.execute(
        select(journal.c.seq, journal.c.id).where(journal.c.seq == seq)
    ).one()
    return Fault(what, row.seq, row.id)


def _check_decisions(reading: Reading, decide: Decide, found: Audit) -> None:
    try:
        found.decisions, differing = replay(reading, decide)
    except RecordBookError as error:
        found.faults.append(Fault(str(error)))
        return
    for other in differing:
        found.faults.append(
            Fault("decided again: " + "; ".join(other.what), other.seq, other.entry)
        )


def rebuild(writing: Writing) -> int:
    """Makes the derived tables anew from the journal; gives the number of entries read."""
    for table in reversed(DERIVED):
        writing.conn.execute(delete(table))
    rest, count = entries(writing), 0
    while some := list(islice(rest, _AT_ONCE)):
        batch = Batch()
        for entry in some:
            derive(batch, entry.seq, entry.id, entry.kind, json.loads(entry.body))
        batch.flush(writing.conn)
        count += len(some)
    return count
