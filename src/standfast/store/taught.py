"""When practicals were taught and decided: rows to count, without keeping any entry."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select

from standfast.store.tables import decisions, rulings, sheets
from standfast.store.writing import Reading


@dataclass(frozen=True)
class Lesson:
    """One practical of a candidate under a rubric, however many sheets it has."""

    candidate: str
    rubric: str
    practical: str
    day: date
    """The first, should its sheets disagree."""


@dataclass(frozen=True)
class Decided:
    """One decision that nothing corrects."""

    candidate: str
    rubric: str
    rubric_hash: str
    day: date
    outcome: str
    entry: str
    """Id of its journal entry."""


@dataclass(frozen=True)
class Rests:
    """Which sheets were handed in for a decision that nothing corrects."""

    entry: str
    """Id of its journal entry."""
    day: date
    sheets: tuple[str, ...]


def find_lessons(reading: Reading) -> tuple[Lesson, ...]:
    """Every practical of which a sheet stands, by day."""
    columns = (sheets.c.candidate, sheets.c.rubric, sheets.c.practical)
    query = select(*columns, sheets.c.day).where(sheets.c.superseded_by.is_(None))
    first: dict[tuple[str, str, str], str] = {}
    for candidate, rubric, practical, day in reading.conn.execute(query):
        key = (candidate, rubric, practical)
        first[key] = min(day, first.get(key, day))
    handle = reading.names.handle
    found = [Lesson(handle(c), r, p, date.fromisoformat(day)) for (c, r, p), day in first.items()]
    return tuple(sorted(found, key=lambda one: (one.day, one.candidate, one.rubric, one.practical)))


def find_decided(reading: Reading) -> tuple[Decided, ...]:
    """Every decision that stands, by day, those of one day as they were entered."""
    columns = (decisions.c.candidate, decisions.c.rubric, decisions.c.rubric_hash)
    query = (
        select(*columns, decisions.c.day, decisions.c.outcome, decisions.c.entry)
        .where(decisions.c.superseded_by.is_(None))
        .order_by(decisions.c.day, decisions.c.seq)
    )
    handle = reading.names.handle
    return tuple(
        Decided(handle(candidate), rubric, text, date.fromisoformat(day), outcome, entry)
        for candidate, rubric, text, day, outcome, entry in reading.conn.execute(query)
    )


def find_rests(reading: Reading, rubric: str | None = None) -> tuple[Rests, ...]:
    """Every decision that stands, in the order of the journal; of its entry only this is kept."""
    query = select(decisions.c.seq, decisions.c.day).where(decisions.c.superseded_by.is_(None))
    if rubric is not None:
        query = query.where(decisions.c.rubric == rubric)
    days = {row.seq: date.fromisoformat(row.day) for row in reading.conn.execute(query)}
    return tuple(
        Rests(entry.id, days[entry.seq], tuple(json.loads(entry.body)["inputs"]["sheets"]))
        for entry in reading.in_pieces(days)
    )


def find_ruled(reading: Reading) -> frozenset[str]:
    """The awards of which anything was ever ruled."""
    return frozenset(reading.conn.scalars(select(rulings.c.award).distinct()))
