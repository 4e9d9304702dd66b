"""Which awards could have something due: found by index, so that a large book answers at once.

What is found here is never too little and hardly too much; `engine.due` decides what is due.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from sqlalchemy import (
    ColumnElement,
    CompoundSelect,
    Select,
    and_,
    exists,
    false,
    func,
    literal,
    or_,
    select,
    union,
    union_all,
)

from standfast.model.award import Award, Ruling
from standfast.model.people import Person
from standfast.store.bodies import AwardGranted, AwardRuled, PersonSet
from standfast.store.tables import awards, documents, identity, journal, people, rulings
from standfast.store.transitions import KeptTransition, find_transitions
from standfast.store.writing import Reading


@dataclass(frozen=True)
class Days:
    """What is asked about: from a day to a day, both included, seen from a day."""

    first: date
    last: date
    on: date


@dataclass(frozen=True)
class HeldAward:
    """An award that stood on the day, with its holder and what was ruled of it."""

    award: Award
    holder: Person
    rulings: tuple[Ruling, ...]


STANDS = and_(awards.c.renewed_by.is_(None), awards.c.superseded_by.is_(None))
"""Of an award: that none has taken its place, as far as is known."""


def renewed_since(on: date) -> ColumnElement[bool]:
    """That another took its place after that day."""
    return and_(awards.c.renewed_on > on.isoformat(), awards.c.superseded_by.is_(None))


def stood(on: date) -> ColumnElement[bool]:
    """That it had been granted by that day, and none had taken its place by then."""
    return and_(awards.c.first_day <= on.isoformat(), or_(STANDS, renewed_since(on)))


def own_days(first: date, last: date) -> list[ColumnElement[bool]]:
    """That what stands has its last day in those days, and that it has its refresher."""
    return [
        and_(column.between(first.isoformat(), last.isoformat()), STANDS)
        for column in (awards.c.last_day, awards.c.refresher_due)
    ]


def in_days(first: date, last: date) -> CompoundSelect[int]:
    """The numbers of what stands and has its last day or refresher in those days.

    One that has both there is given twice.  Only the bench asks for these, to say what the index
    alone takes.
    """
    return union_all(*(select(awards.c.seq).where(one) for one in own_days(first, last)))


def how_many(first: date, last: date) -> Select[int]:
    """How many last days and refreshers lie in those days; only the bench asks, as `in_days`."""
    counts = (
        select(func.count()).select_from(awards).where(one).scalar_subquery()
        for one in own_days(first, last)
    )
    return select(sum(counts, start=literal(0)))


def could_be_due(reading: Reading, days: Days) -> CompoundSelect[int]:
    """The numbers of every award that could have something due, each once.

    One that was renewed later than the day is among them: on the day it was still to be renewed.
    """
    on = days.on.isoformat()
    overdue = or_(awards.c.refresher_due < on, awards.c.last_day < on)
    return union(
        *(select(awards.c.seq).where(one) for one in own_days(days.first, days.last)),
        select(awards.c.seq).where(STANDS, awards.c.mendable_until >= on, overdue),
        select(awards.c.seq).where(renewed_since(days.on)),
        _document_ends(days),
        *(_document_lacks(kind, on) for kind in sorted(_kinds(reading, on))),
        *(_version_ends(one, days) for one in find_transitions(reading)),
    )


def _document_ends(days: Days) -> Select[int]:
    """Whose holder has a document, known on the day, that ends in those days."""
    ends = select(documents.c.person).where(
        documents.c.last_day.between(days.first.isoformat(), days.last.isoformat()),
        documents.c.issued <= days.on.isoformat(),
    )
    wanted = (STANDS, awards.c.documents != "", awards.c.candidate.in_(ends))
    return select(awards.c.seq).where(*wanted)


def _document_lacks(kind: str, on: str) -> Select[int]:
    """Which can still be mended, and whose holder has no running document of a kind it needs."""
    running = exists().where(
        documents.c.person == awards.c.candidate,
        documents.c.kind == kind,
        documents.c.last_day >= on,
        documents.c.issued <= on,
    )
    needs = awards.c.documents.contains(f" {kind} ")
    return select(awards.c.seq).where(STANDS, awards.c.mendable_until >= on, needs, ~running)


def _version_ends(said: KeptTransition, days: Days) -> Select[int]:
    """Which are under an earlier version that is honoured until one of those days.

    Once it is honoured no more, also which can still be mended.
    """
    of_version = and_(
        STANDS, awards.c.rubric == said.rubric.id, awards.c.version < said.rubric.version
    )
    found = select(awards.c.seq).where(of_version)
    if days.first <= said.until <= days.last:
        return found
    if said.until < days.on:
        return found.where(awards.c.mendable_until >= days.on.isoformat())
    return found.where(false())


def _kinds(reading: Reading, on: str) -> set[str]:
    """Every kind of document that an award needs which can still be mended."""
    query = select(awards.c.documents).where(STANDS, awards.c.mendable_until >= on).distinct()
    return {kind for text in reading.conn.scalars(query) for kind in text.split()}


def find_held(
    reading: Reading, days: Days, site: str | None = None, rubric: str | None = None
) -> Iterator[HeldAward]:
    """Every award that could have something due, in the order of the journal.

    Awards of erased people are left out: nobody can be asked to do anything about them.
    """
    entry, state = journal.alias(), journal.alias()
    query = (
        select(entry.c.about, entry.c.body, state.c.body.label("person"))
        .add_columns(identity.c.name, identity.c.contact, identity.c.site)
        .join(identity, identity.c.ref == entry.c.about)
        .join(people, people.c.ref == entry.c.about)
        .join(state, state.c.seq == people.c.seq)
        .where(entry.c.seq.in_(could_be_due(reading, days)))
        .order_by(entry.c.seq)
    )
    if site is not None:
        query = query.where(identity.c.site == site)
    ruled = _ruled(reading)
    known: dict[str, Person] = {}
    for row in reading.conn.execute(query):
        award = reading.named(AwardGranted.model_validate_json(row.body).award)
        if rubric not in {None, award.rubric.id} or award.granted > days.on:
            continue
        holder = known.get(row.about)
        if holder is None:
            told = reading.named(PersonSet.model_validate_json(row.person).person)
            holder = known[row.about] = told.with_name(row.name, row.contact, row.site)
        bodies = (AwardRuled.model_validate_json(body) for body in ruled.get(award.id, ()))
        yield HeldAward(award, holder, tuple(reading.named(body.ruling) for body in bodies))


def _ruled(reading: Reading) -> dict[str, list[str]]:
    """What was ruled of each award, as it stands in the journal, oldest first."""
    found: dict[str, list[str]] = defaultdict(list)
    query = select(rulings.c.award, journal.c.body).join(journal, journal.c.seq == rulings.c.seq)
    for award, body in reading.conn.execute(query.order_by(rulings.c.seq)):
        found[award].append(body)
    return found


def find_rubrics(reading: Reading) -> tuple[str, ...]:
    """The rubrics that somebody holds a standing award under, sorted."""
    found = reading.conn.scalars(select(awards.c.rubric).where(STANDS).distinct())
    return tuple(sorted(found))
