"""One transaction on the record book: what may be read in it, and how an entry is written."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from itertools import islice
from typing import TypeVar

from sqlalchemy import Connection, Select, bindparam, func, select

from standfast.model.base import Noun, rename_people
from standfast.model.canonical import canonical, plain
from standfast.model.tree import LEAF
from standfast.problems import RecordBookError, Refused
from standfast.store.bodies import KIND_OF, KINDS, Body
from standfast.store.derived import Batch, derive
from standfast.store.difference import difference
from standfast.store.journal import Draft, Entry, Stamp, canonical_entry, instant
from standfast.store.names import Names, Random
from standfast.store.tables import add_rows, journal

NounT = TypeVar("NounT", bound=Noun)
BodyT = TypeVar("BodyT", bound=Body)

_AT_ONCE = 5_000  # entries in memory during an import
_PIECE = 500  # numbers of entries in one statement

# Asked with every entry: put together once, not each time.
_LAST = select(func.max(journal.c.seq))
_BY_ID = select(journal).where(journal.c.id.in_(bindparam("ids", expanding=True)))


@dataclass
class Reading:
    """A transaction that reads, and the names as of now."""

    conn: Connection
    names: Names

    def named(self, noun: NounT) -> NounT:
        """The noun with slugs in place of opaque ids."""
        return rename_people(noun, self.names.handle)

    def in_pieces(self, wanted: Iterable[int]) -> Iterator[Entry]:
        """The entries of these numbers, in order, some hundred in memory.

        Asked for all at once, a database that has to sort them holds every body meanwhile.
        """
        numbers = sorted(wanted)
        for start in range(0, len(numbers), _PIECE):
            some = journal.c.seq.in_(numbers[start : start + _PIECE])
            rows = self.conn.execute(select(journal).where(some).order_by(journal.c.seq))
            yield from map(Entry._make, rows.all())

    def bodies(self, kind: type[BodyT], of: Select[int]) -> Iterator[tuple[Entry, BodyT]]:
        """The entries of the numbers that `of` selects, in order, read, with slugs."""
        query = select(journal).where(journal.c.seq.in_(of)).order_by(journal.c.seq)
        for row in self.conn.execute(query):
            entry = Entry(*row)
            yield entry, self.named(kind.model_validate_json(entry.body))


@dataclass
class Writing(Reading):
    """A transaction that has its turn to write."""

    next_seq: int
    random: Random | None

    def opaque(self, noun: NounT) -> NounT:
        """The noun with opaque ids in place of slugs.

        Raises:
            NotFound: it names somebody who is not in the book.
        """
        return rename_people(noun, self.names.ref)

    def write(
        self,
        stamp: Stamp,
        body: Body,
        about: str | None = None,
        supersedes: str | None = None,
    ) -> Entry:
        """Writes an entry and its derived rows; `body` and `about` have opaque ids already.

        The same id and content as an entry that is there gives that entry: a retry.

        Raises:
            Refused: the id is there with other content.
        """
        draft = Draft(
            stamp.id,
            instant(stamp.at),
            self.names.actor(stamp.who),
            KIND_OF[type(body)],
            about,
            supersedes,
            plain(body),
        )
        return self.append([draft])[0]

    def append(self, drafts: Iterable[Draft]) -> list[Entry]:
        """Writes many entries, in order; gives all of them, also those that were there."""
        rest, entries = iter(drafts), []
        while some := list(islice(rest, _AT_ONCE)):
            entries += self._append(some)
        return entries

    def _append(self, drafts: Sequence[Draft]) -> list[Entry]:
        known = self._known(drafts)
        batch, new, entries = Batch(), [], []
        for draft in drafts:
            body = canonical(draft.body).decode()
            entry = known.get(draft.id)
            if entry is None:
                entry = self._entry(draft, body)
                known[draft.id] = entry
                new.append(entry)
                derive(batch, entry.seq, entry.id, entry.kind, draft.body)
            else:
                _same_or_refused(entry, draft, body)
            entries.append(entry)
        if new:
            add_rows(self.conn, journal, new)
            batch.flush(self.conn)
        return entries

    def _entry(self, draft: Draft, body: str) -> Entry:
        seq = self.next_seq
        self.next_seq += 1
        columns = (seq, *draft[:-1], body)
        leaf = sha256(LEAF + canonical_entry(*columns)).digest()
        return Entry(*columns, leaf)

    def _known(self, drafts: Sequence[Draft]) -> dict[str, Entry]:
        found: dict[str, Entry] = {}
        rest = iter(drafts)
        while some := [draft.id for draft in islice(rest, 500)]:
            rows = self.conn.execute(_BY_ID, {"ids": some})
            found.update((row.id, Entry(*row)) for row in rows)
        return found


def next_seq(conn: Connection) -> int:
    """The number that the next entry takes."""
    return (conn.scalar(_LAST) or 0) + 1


def body_of(entry: Entry) -> Body:
    """What the entry says, people as opaque ids.

    Raises:
        RecordBookError: a kind that this program does not know.
    """
    kind = KINDS.get(entry.kind)
    if kind is None:
        raise RecordBookError(f"entry {entry.seq}: '{entry.kind}' is no kind of entry known here")
    return kind.model_validate_json(entry.body)


def _same_or_refused(entry: Entry, draft: Draft, body: str) -> None:
    kept = entry[3:-1]
    offered = (draft.who, draft.kind, draft.about, draft.supersedes, body)
    if kept == offered:
        return
    raise Refused(
        f"entry {entry.id} is in the record book already, as number {entry.seq},"
        " with other content",
        difference(_shown(kept), _shown(offered)),
    )


def _shown(content: Sequence[str | None]) -> dict[str, object]:
    *plain_parts, body = content
    names = ("who", "kind", "about", "supersedes")
    return {**dict(zip(names, plain_parts, strict=True)), "body": json.loads(body or "null")}
