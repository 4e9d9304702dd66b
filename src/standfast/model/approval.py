"""How assessors and certifiers stay approved, and how an approval stands on a day."""

from __future__ import annotations

from typing import Literal

from standfast.model.base import Day, Noun, PersonId, Slug, Text

Role = Literal["assessor", "certifier"]
"""Who is approved to score under a rubric, or to confirm decisions under it."""

Result = Literal["in step", "not in step"]


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
