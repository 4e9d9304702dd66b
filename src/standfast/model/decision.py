"""What the evidence says, and what was decided: findings, reasons, the decision."""

from __future__ import annotations

from typing import Literal

from standfast.model.base import Day, Key, Noun, PersonId, Reference, Slug, Whole, Yes
from standfast.model.focus import Focus

State = Literal["met", "not met", "open"]
"""Of a finding: the standard was reached, cannot be reached, or not enough was seen."""

Outcome = Literal["pass", "fail", "more", "stopped"]
"""Pass, fail, more evidence needed, stopped for safety."""

OUTCOME_WORDS: dict[str, str] = {
    "pass": "pass",
    "fail": "fail",
    "more": "more evidence needed",
    "stopped": "stopped for safety",
}
STATE_WORDS: dict[str, str] = {"met": "met", "not met": "not met", "open": "not enough seen"}


class Figure(Noun):
    """A number, what it was counted from, and the bounds around it."""

    value: float | None = None
    """The share, level or count; empty when nothing was seen."""
    low: float | None = None
    """Lower one-sided bound at the standard's assurance."""
    high: float | None = None
    """Upper one-sided bound at the standard's assurance."""
    counted: Whole = 0
    """Answers, choices, looks or marks that were seen."""
    lapses: Whole = 0
    unseen: Whole = 0
    effective: float | None = None
    """For looks: how many independent looks they are worth."""
    false_clearances: Whole = 0
    false_holds: Whole = 0
    method: str = ""


class Finding(Noun):
    """What the evidence says of one criterion."""

    criterion: Slug
    competency: Slug
    kind: Literal["attempts", "clearances", "samples", "rating", "incident"]
    state: State
    critical: Yes
    points: Whole
    figure: Figure
    standard: str
    """The standard, in words."""
    says: str
    """What was found, in words, with the figure."""
    settles: str = ""
    """For an open finding: what would settle it."""
    sheets: tuple[Key, ...] = ()
    """The sheets whose marks were counted."""


class Reason(Noun):
    """One step of the rule: what was asked, what was found, and whether it holds."""

    step: Literal["incident", "sufficiency", "critical", "competency", "overall"]
    state: State
    says: str
    figure: str = ""
    standard: str = ""
    criterion: Slug | None = None
    competency: Slug | None = None
    sheets: tuple[Key, ...] = ()


class Mark(Noun):
    """What one sheet says about one thing that two assessors both saw."""

    sheet: Key
    mark: str


class Disagreement(Noun):
    """One thing that assessors of the same practical marked differently."""

    practical: Slug
    criterion: Slug
    about: str
    """Which attempt, choice, look or mark, in words."""
    marks: tuple[Mark, ...]
    joined: str
    """What the joining policy made of it."""


class LeftOut(Noun):
    """A sheet that does not count, and why."""

    sheet: Key
    because: str


class Decision(Noun):
    """The outcome for one candidate under one rubric on one day, with all its reasons."""

    candidate: PersonId
    rubric: Reference
    syllabus: Reference
    on: Day
    outcome: Outcome
    reasons: tuple[Reason, ...]
    findings: tuple[Finding, ...]
    disagreements: tuple[Disagreement, ...] = ()
    near: tuple[str, ...] = ()
    """Single marks that, answered otherwise, would have changed the outcome."""
    next_steps: tuple[str, ...] = ()
    sheets: tuple[Key, ...] = ()
    """The sheets that were counted, sorted."""
    left_out: tuple[LeftOut, ...] = ()
    tied: tuple[Key, ...] = ()
    """Counted sheets whose assessor had a conflict of interest, which the school allows."""
    focus: Focus | None = None
    """What was judged, and why just that; the whole rubric when empty."""

    @property
    def is_top_up(self) -> bool:
        """Whether only what is new in a version was judged."""
        return self.focus is not None and self.focus.kind == "top-up"
