"""Reference practicals that assessors scored, in the record book."""

from __future__ import annotations

from sqlalchemy import select

from standfast.model.approval import ReferenceScore
from standfast.store.bodies import ReferenceScored
from standfast.store.journal import Entry, Stamp
from standfast.store.tables import reference_scores
from standfast.store.writing import Reading, Writing


def put_reference(writing: Writing, score: ReferenceScore, stamp: Stamp) -> Entry:
    """Enters that an assessor scored a reference practical.

    Raises:
        NotFound: assessor or certifier are not in the book.
    """
    opaque = writing.opaque(ReferenceScored(score=score))
    return writing.write(stamp, opaque, about=opaque.score.assessor)


def find_references(reading: Reading, assessor: str | None = None) -> tuple[ReferenceScore, ...]:
    """What that assessor scored, or all did, in the order of the journal."""
    query = select(reference_scores.c.seq)
    if assessor is not None:
        query = query.where(reference_scores.c.assessor == reading.names.ref(assessor))
    return tuple(body.score for _, body in reading.bodies(ReferenceScored, query))
