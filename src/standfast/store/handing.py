"""A person's record that goes to another school, and what came from one."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from standfast.model.base import rename_people
from standfast.model.handing import FromElsewhere, HandOver
from standfast.store import names
from standfast.store.bodies import (
    KIND_OF,
    AwardGranted,
    AwardRuled,
    Body,
    DecisionMade,
    HandedOver,
    PersonSet,
    SheetTaken,
    TakenIn,
    TextKept,
)
from standfast.store.journal import Entry, Stamp
from standfast.store.tables import journal, texts
from standfast.store.writing import Reading, Writing, body_of

ABOUT_HER: tuple[type[Body], ...] = (PersonSet, SheetTaken, DecisionMade, AwardGranted, AwardRuled)
"""What a record is made of.  Complaints, appeals and reference practicals stay: they are of others
too."""
HANDED_OVER, TAKEN_IN, TEXT = (KIND_OF[kind] for kind in (HandedOver, TakenIn, TextKept))


@dataclass(frozen=True)
class ToHandOver:
    """The entries that are handed over, and who stands in them by name."""

    ref: str
    """The person's opaque id."""
    entries: tuple[Entry, ...]
    """In the order of the journal."""
    people: tuple[tuple[str, str, str], ...]
    """Opaque id, slug and name of those who judged or trained, and still have a name."""


@dataclass(frozen=True)
class KeptFromElsewhere:
    """What came from another school, as it stands in the book."""

    entry: str
    at: str
    """ISO 8601, UTC."""
    record: FromElsewhere


def put_hand_over(writing: Writing, what: HandOver, stamp: Stamp) -> Entry:
    """Enters that a record is handed over.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    opaque = writing.opaque(HandedOver(hand_over=what))
    return writing.write(stamp, opaque, about=opaque.hand_over.person)


def put_taken_in(writing: Writing, record: FromElsewhere, stamp: Stamp) -> Entry:
    """Enters a record that came from another school.

    Raises:
        NotFound: somebody of it is not in the book.
    """
    opaque = writing.opaque(TakenIn(record=record))
    return writing.write(stamp, opaque, about=opaque.record.person)


def find_taken_in(reading: Reading, person: str | None = None) -> tuple[KeptFromElsewhere, ...]:
    """What came from other schools about a person (slug or opaque id), or all."""
    query = select(journal.c.seq).where(journal.c.kind == TAKEN_IN)
    if person is not None:
        query = query.where(journal.c.about == reading.names.refs.get(person, person))
    found = reading.bodies(TakenIn, query)
    return tuple(KeptFromElsewhere(entry.id, entry.at, body.record) for entry, body in found)


def find_record(reading: Reading, person: str, hand_over: str) -> ToHandOver:
    """The person's record and the texts it rests on; `hand_over` is the entry that says so.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    ref = reading.names.ref(person)
    kinds = [KIND_OF[kind] for kind in ABOUT_HER]
    about = select(journal).where(journal.c.about == ref)
    wanted = about.where(journal.c.kind.in_(kinds) | (journal.c.id == hand_over))
    own = [Entry(*row) for row in reading.conn.execute(wanted)]
    bodies = [body_of(entry) for entry in own]
    rests_on = select(journal).join(texts, texts.c.seq == journal.c.seq)
    hashes = sorted({one for body in bodies for one in _hashes(body)})
    kept = [Entry(*row) for row in reading.conn.execute(rests_on.where(texts.c.hash.in_(hashes)))]
    entries = tuple(sorted((*own, *kept), key=lambda entry: entry.seq))
    return ToHandOver(ref, entries, tuple(_named(reading, bodies, ref)))


def _hashes(body: Body) -> Iterator[str]:
    """Of the rubrics and syllabuses that it rests on."""
    match body:
        case SheetTaken():
            yield from (body.rubric.hash, body.syllabus.hash)
        case DecisionMade():
            yield from (body.decision.rubric.hash, body.decision.syllabus.hash)
        case AwardGranted():
            yield body.award.rubric.hash
        case _:
            return


def _named(reading: Reading, bodies: Iterable[Body], own: str) -> Iterator[tuple[str, str, str]]:
    refs: dict[str, None] = {}
    for body in bodies:
        rename_people(_without_ties(body), lambda ref: refs.setdefault(ref) or ref)
    for ref in refs:
        row = names.find(reading.conn, ref)
        if row is not None and ref != own:
            yield ref, row.handle, row.name


def _without_ties(body: Body) -> Body:
    shortened = without_ties(json.loads(body.model_dump_json(exclude_defaults=True)))
    return type(body).model_validate(shortened)


def without_ties(body: dict[str, Any]) -> dict[str, Any]:
    """The body, as JSON values, without conflicts of interest: they are of somebody else too."""
    return {
        key: without_ties(part) if isinstance(part, dict) else part
        for key, part in body.items()
        if key != "conflicts" or not isinstance(part, list)
    }
