"""Tree heads over the journal, and proofs about them for whoever kept one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, insert, select

from standfast.model import tree
from standfast.problems import NotFound, RecordBookError
from standfast.store.journal import instant
from standfast.store.tables import heads, journal
from standfast.store.writing import Reading, Writing


@dataclass(frozen=True)
class Head:
    """The whole journal in one hash, as of a moment."""

    size: int
    """Number of entries."""
    root: bytes
    """32 bytes."""
    at: str
    """ISO 8601, UTC."""


@dataclass(frozen=True)
class Inclusion:
    """Shows with `tree.includes` that an entry is in the journal that a head stands for."""

    leaf: bytes
    index: int
    """From 0."""
    size: int
    root: bytes
    path: tuple[bytes, ...]


def head_now(reading: Reading, at: datetime) -> Head:
    """The head over every entry so far."""
    growing = tree_now(reading.conn)
    return Head(growing.size, growing.root(), instant(at))


def tree_now(conn: Connection) -> tree.GrowingTree:
    """The tree over every entry so far."""
    growing = tree.GrowingTree()
    growing.extend(_leaves(conn))
    return growing


def remember_head(writing: Writing, at: datetime) -> Head:
    """The head over every entry so far, kept so that `audit` holds the journal to it."""
    head = head_now(writing, at)
    row = writing.conn.execute(select(heads).where(heads.c.size == head.size)).one_or_none()
    if row is None:
        writing.conn.execute(insert(heads), {"size": head.size, "root": head.root, "at": head.at})
        return head
    if row.root != head.root:
        raise RecordBookError(
            f"the first {head.size} entries are not those of the head remembered at {row.at};"
            " run the audit, and take the last good copy of the book"
        )
    return Head(*row)


def remembered(reading: Reading) -> tuple[Head, ...]:
    """Every head that was kept, smallest first."""
    return tuple(Head(*row) for row in reading.conn.execute(select(heads).order_by(heads.c.size)))


def inclusions(
    reading: Reading, entries: Sequence[str], size: int | None = None
) -> tuple[Inclusion, ...]:
    """For each the proof that it is among the first `size` entries; among all when not given.

    Raises:
        NotFound: no such entry, or not among those.
    """
    leaves = list(_leaves(reading.conn, size))
    places = [_place(reading, entry, len(leaves)) for entry in entries]
    root = tree.root(leaves)
    return tuple(
        Inclusion(leaves[at], at, len(leaves), root, path)
        for at, path in zip(places, tree.inclusion_proofs(leaves, places), strict=True)
    )


def _place(reading: Reading, entry: str, size: int) -> int:
    """From 0."""
    seq: int | None = reading.conn.scalar(select(journal.c.seq).where(journal.c.id == entry))
    if seq is None or seq > size:
        raise NotFound(f"entry among the first {size}", entry, ())
    return seq - 1


def consistency(reading: Reading, first: int) -> tuple[bytes, ...]:
    """The proof (`tree.extends`) that the journal begins with the tree of its `first` entries.

    Raises:
        NotFound: the journal has fewer entries, or `first` is not at least 1.
    """
    leaves = list(_leaves(reading.conn))
    if not 1 <= first <= len(leaves):
        raise NotFound(f"head among sizes 1 to {len(leaves)}", str(first), ())
    return tree.consistency_proof(leaves, first)


def _leaves(conn: Connection, size: int | None = None) -> Iterator[bytes]:
    query = select(journal.c.leaf).order_by(journal.c.seq)
    return iter(conn.scalars(query if size is None else query.limit(size)))
