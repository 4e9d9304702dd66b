"""How assessors and certifiers stay approved, and how an approval stands on a day."""

from __future__ import annotations

from typing import Literal

from standfast.model.base import Count, Day, Hash, Key, Line, Noun, PersonId, Slug, Text, Whole
from standfast.model.sheet import Sheet

Role = Literal["assessor", "certifier"]
"""Who is approved to score under a rubric, or to confirm decisions under it."""

Result = Literal["in step", "not in step", "not settled"]
"""Not settled: too little to tell, and the approval stands as it did."""


class Calibration(Noun):
    """What the result of a reference practical was worked out from, so that it can be again."""

    rubric: Hash
    syllabus: Hash
    """The texts that the panel scored under."""
    panel: tuple[Key, ...]
    """The sheets of the panel, sorted."""
    sheet: Sheet
    """The assessor's own; no evidence about the candidate."""
    trials: Count
    """Criteria on which the panel agreed."""
    misses: Whole
    """Of them those marked otherwise than agreed."""
    trials_before: Whole = 0
    misses_before: Whole = 0
    """Of the reference practicals since the last result that was settled."""
    grave: tuple[Line, ...] = ()
    """What nobody may miss, and was: each puts the assessor out of step by itself."""


class ReferenceScore(Noun):
    """That an assessor scored a reference practical, and whether in step with its agreed marks."""

    assessor: PersonId
    rubric: Slug
    practical: Slug
    """The short name of the reference practical; it names nobody."""
    on: Day
    result: Result
    by: PersonId
    """The certifier who holds the result."""
    because: Text
    calibration: Calibration | None = None
    """None for a result that was found elsewhere, and typed in."""


ApprovalState = Literal["current", "reference due", "lapsed"]


class ApprovalStanding(Noun):
    """How an approval stands on a day, why, and what comes next."""

    rubric: Slug
    role: Role
    state: ApprovalState
    because: str
    until: Day | None = None
    """The last day on which the approval counts, all else unchanged; None when it does not."""
    next_step: str = ""
    by_reference: bool = False
    """Whether a reference practical, not the approval's own days, made it lapse."""
