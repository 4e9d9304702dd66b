"""Rubric versions that say what becomes of awards under earlier ones."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select

from standfast.model.base import Reference
from standfast.store.tables import texts
from standfast.store.writing import Reading


@dataclass(frozen=True)
class KeptTransition:
    """A version with a transition, as it was kept last."""

    rubric: Reference
    honoured_until: str
    """The last day, as text; that of what has none when no end is set."""

    @property
    def until(self) -> date:
        """The last day on which earlier versions are honoured."""
        return date.fromisoformat(self.honoured_until)


def find_transitions(reading: Reading) -> tuple[KeptTransition, ...]:
    """Every version whose text, as kept last, has a transition; by id and version."""
    named = select(texts.c.id).where(texts.c.honoured_until.is_not(None)).distinct()
    query = (
        select(texts.c.id, texts.c.version, texts.c.hash, texts.c.honoured_until)
        .where(texts.c.kind == "rubric", texts.c.id.in_(named))
        .order_by(texts.c.id, texts.c.version, texts.c.seq)
    )
    last = {(row.id, row.version): row for row in reading.conn.execute(query)}
    return tuple(
        KeptTransition(Reference(id=id, version=version, hash=row.hash), row.honoured_until)
        for (id, version), row in last.items()  # noqa: A001
        if row.honoured_until is not None
    )
