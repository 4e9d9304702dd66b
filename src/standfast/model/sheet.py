"""One assessor's record of one practical."""

from __future__ import annotations

from datetime import date
from typing import Literal

from standfast.model.base import Count, Key, Line, Moment, Noun, PersonId, Slug, Text
from standfast.model.evidence import (
    Attempt,
    Clearance,
    Incident,
    Note,
    Rating,
    Sample,
    Student,
)


class Correction(Noun):
    """Why this sheet takes the place of an earlier one of the same assessor."""

    of: Key
    because: Text


class Sheet(Noun):
    """What one assessor saw of one practical.  Two assessors make two sheets of it."""

    id: Key
    practical: Slug
    """The lesson; sheets of different assessors carry the same."""
    rubric: Slug
    rubric_version: Count
    candidate: PersonId
    assessor: PersonId
    began: Moment
    minutes: Count
    site: Line | None = None
    source: Literal["file", "terminal", "paper", "web"] = "file"
    students: tuple[Student, ...]
    attempts: tuple[Attempt, ...] = ()
    clearances: tuple[Clearance, ...] = ()
    samples: tuple[Sample, ...] = ()
    ratings: tuple[Rating, ...] = ()
    incidents: tuple[Incident, ...] = ()
    notes: tuple[Note, ...] = ()
    corrects: Correction | None = None
    covers: tuple[Slug, ...] = ()
    """The criteria that were asked about, incidents apart; all of the rubric when empty."""

    @property
    def on(self) -> date:
        """The day of the lesson, where it was taught."""
        return self.began.date()

    def student(self, code: str) -> Student | None:
        """The student of that code, or None."""
        return next((student for student in self.students if student.student == code), None)
