"""Taking in what another copy of the record book holds: a laptop that worked alone for a month.

Both began as one book.  An entry that both have is there once; one that only the other has is added
at the end, with its own id, time and content.  What contradicts the book is held back and listed
with its reason, and stays in the other file: nothing is dropped, and nothing is decided by machine.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import func, insert, select, update
from sqlalchemy.exc import IntegrityError

from standfast.problems import Refused
from standfast.store import names, people
from standfast.store.bodies import KIND_OF, AwardGranted, Erased, PersonSet
from standfast.store.journal import Draft, Entry, Stamp
from standfast.store.tables import awards, held, identity, journal, records
from standfast.store.writing import Reading, Writing

_PERSON, _ERASED, _AWARD = (KIND_OF[kind] for kind in (PersonSet, Erased, AwardGranted))


@dataclass(frozen=True)
class HeldBack:
    """An entry of the other book that was not taken in."""

    entry: str
    kind: str
    at: str
    why: str


@dataclass
class Merged:
    """What became of the other book's entries."""

    added: int = 0
    seen: int = 0
    """Entries that both have."""
    held: list[HeldBack] = field(default_factory=list)
    renamed: list[tuple[str, str]] = field(default_factory=list)
    """Slug in the other book, and here: the same slug meant somebody who was entered in each."""
    kept: list[str] = field(default_factory=list)
    """Slugs of people whose name or contact both books changed: it stays as it was here."""
    records: int = 0
    """What devices beside the mat had sent to the other."""
    records_held: int = 0


def merge(writing: Writing, theirs: Reading, new_stamp: Callable[[], Stamp]) -> Merged:
    """Takes in what the other book has and this one has not.

    Raises:
        Refused: the other is no copy of this book: they do not begin with the same entry.
    """
    _same_begin(writing, theirs)
    done = Merged()
    changed_here = set(_changed_people(writing, theirs))
    _take_identities(writing, theirs, done)
    for entry in _entries(theirs):
        _take(writing, entry, done)
    _settle_names(writing, theirs, changed_here, done, new_stamp)
    _take_records(writing, theirs, done)
    return done


def _same_begin(writing: Writing, theirs: Reading) -> None:
    first = select(journal.c.leaf).where(journal.c.seq == 1)
    ours, other = (one.conn.scalar(first) for one in (writing, theirs))
    if ours is None or ours != other:
        raise Refused(
            "the other file is no copy of this record book",
            ["they do not begin with the same entry; only copies of one book are joined"],
        )


def _entries(reading: Reading) -> Iterator[Entry]:
    for row in reading.conn.execute(select(journal).order_by(journal.c.seq)):
        yield Entry(*row)


# --- entries ------------------------------------------------------------------------------------


def _take(writing: Writing, entry: Entry, done: Merged) -> None:
    body: dict[str, Any] = json.loads(entry.body)
    before = writing.next_seq
    why = _contradicts(writing, entry, body)
    if not why:
        draft = Draft(*entry[1:-2], body)
        try:
            with writing.conn.begin_nested():
                writing.append([draft])
        except Refused as error:
            why = str(error).splitlines()[0]
        except IntegrityError as error:
            writing.next_seq = before
            why = _in_words(error, entry)
    if why:
        done.held.append(HeldBack(entry.id, entry.kind, entry.at, why))
        return
    if writing.next_seq == before:
        done.seen += 1
        return
    done.added += 1
    if entry.kind == _ERASED:
        _forget(writing, Erased.model_validate(body).person)


def _contradicts(writing: Writing, entry: Entry, body: dict[str, Any]) -> str:
    """Why the entry cannot stand beside what was entered here; empty when it can."""
    if writing.conn.scalar(select(journal.c.seq).where(journal.c.id == entry.id)) is not None:
        return ""
    if entry.supersedes is not None:
        query = select(journal.c.id).where(journal.c.supersedes == entry.supersedes)
        other = writing.conn.scalar(query)
        if other is not None:
            return f"corrects entry {entry.supersedes}, which {other} corrects here"
    if entry.kind == _AWARD:
        renews = body["award"].get("renews")
        row = writing.conn.execute(
            select(awards.c.number, awards.c.renewed_by).where(awards.c.id == renews)
        ).one_or_none()
        if row is not None and row.renewed_by is not None:
            return f"renews {row.number}, which was renewed here already"
    return ""


def _in_words(error: IntegrityError, entry: Entry) -> str:
    text = str(error.orig).lower()
    if "unique" in text:
        return "has a number or id that something else has here"
    if "foreign" in text or "not null" in text:
        return "rests on an entry that was held back"
    return f"does not fit in here ({entry.kind})"


def _forget(writing: Writing, ref: str) -> None:
    """The other book erased a name: it goes here too."""
    handle = writing.names.handle(ref)
    if handle != ref:
        people.forget(writing, handle)


# --- people -------------------------------------------------------------------------------------


def _changed_people(ours: Reading, theirs: Reading) -> Iterator[str]:
    """Opaque ids of people of both, of whom the newest entry here is unknown there."""
    known = set(theirs.conn.scalars(select(journal.c.id)))
    for ref in ours.names.handles:
        entry = people.latest(ours, ref)
        if entry is not None and entry.id not in known and ref in theirs.names.handles:
            yield ref


def _take_identities(writing: Writing, theirs: Reading, done: Merged) -> None:
    """Who is new there is known here too, unless this book had to forget her."""
    added: dict[str, str] = {}
    for row in theirs.conn.execute(select(identity).order_by(identity.c.handle)):
        if row.ref in writing.names.handles or row.ref in writing.names.erased:
            continue
        handle = _free(row.handle, {**writing.names.refs, **added})
        if handle != row.handle:
            done.renamed.append((row.handle, handle))
        writing.conn.execute(insert(identity), {**row._asdict(), "handle": handle})
        added[handle] = row.ref
    if added:
        version = names.next_version(writing.conn, writing.names)
        writing.names = writing.names.with_more(version, added)


def _free(handle: str, taken: dict[str, str]) -> str:
    """That slug, or the first with a number that nobody has."""
    number, found = 1, handle
    while found in taken:
        number += 1
        found = f"{handle}-{number}"
    return found


def _settle_names(
    writing: Writing,
    theirs: Reading,
    changed_here: set[str],
    done: Merged,
    new_stamp: Callable[[], Stamp],
) -> None:
    """The newest entry of each person and her name agree again, as an audit asks for."""
    for ref in theirs.names.handles:
        if ref not in writing.names.handles:
            continue
        entry = people.latest(writing, ref)
        row, other = names.find(writing.conn, ref), names.find(theirs.conn, ref)
        if entry is None or row is None or other is None:
            continue
        if PersonSet.model_validate_json(entry.body).commitment == names.commitment(row):
            continue
        if ref in changed_here:
            done.kept.append(row.handle)
        else:
            wanted = {name: getattr(other, name) for name in ("name", "contact", "site")}
            writing.conn.execute(update(identity).where(identity.c.ref == ref).values(wanted))
        person = people.find_person(writing, ref)
        if person is not None:
            people.put_people(writing, [person], new_stamp)


# --- what devices sent ------------------------------------------------------------------------


def _take_records(writing: Writing, theirs: Reading, done: Merged) -> None:
    """Records of sheets; one whose place is taken by another waits for the office."""
    for row in theirs.conn.execute(select(records).order_by(records.c.sheet, records.c.n)):
        ours = writing.conn.execute(select(records).where(records.c.id == row.id)).one_or_none()
        if ours is not None and ours.body == row.body:
            continue
        at = (records.c.sheet == row.sheet) & (records.c.n == row.n)
        if ours is None and writing.conn.scalar(select(records.c.id).where(at)) is None:
            writing.conn.execute(insert(records), row._asdict())
            done.records += 1
            continue
        if writing.conn.scalar(select(held.c.key).where(held.c.body == row.body)) is not None:
            continue
        key = (writing.conn.scalar(select(func.max(held.c.key))) or 0) + 1
        why = "another copy of the record book has something else in this place"
        told = {"key": key, "record": row.id, "sheet": row.sheet, "body": row.body, "why": why}
        writing.conn.execute(insert(held), {**told, "got": row.got, "account": row.account})
        done.records_held += 1
