"""What a pass grants, and how it stands on a day."""

from __future__ import annotations

from typing import Literal

from standfast.model.base import Count, Day, Key, Line, Noun, PersonId, Reference, Slug, Text, Yes
from standfast.model.rubric import Scope


class AwardDates(Noun):
    """The days of an award; every last day is inclusive."""

    counted_from: Day
    """The day from which months are counted; a refresher in its window keeps it."""
    first_day: Day
    last_day: Day
    refresher_opens: Day | None = None
    refresher_due: Day | None = None
    grace_until: Day | None = None
    full_practical_after: Day | None = None
    """Lapsed past this day, a refresher no longer suffices."""


class Reduction(Noun):
    """Skills that an award does not cover any more, and since when."""

    without: tuple[Slug, ...]
    since: Day


class Award(Noun):
    """Who may teach what, from when until when, granted by whom on which decision."""

    id: Key
    number: Line
    """Unique; printed on the certificate."""
    candidate: PersonId
    rubric: Reference
    scope: Scope
    decision: Key
    """The journal entry of the decision."""
    granted: Day
    certifier: PersonId
    certifier_took_part: Line | None = None
    """How the certifier had trained or assessed the candidate, when the school allows it."""
    certifier_tied: Yes = False
    """The certifier had a conflict of interest with the candidate, which the school allows."""
    renews: Key | None = None
    """The award that this one continues."""
    dates: AwardDates
    documents: tuple[Slug, ...] = ()
    conditions: tuple[Line, ...] = ()
    reduced: Reduction | None = None
    """The reduction of the award that a refresher renewed, which goes on."""


State = Literal["current", "refresher due", "in grace", "lapsed", "suspended", "withdrawn"]
RulingKind = Literal["suspended", "reinstated", "withdrawn", "reduced", "restored"]


GIVE_BACK: frozenset[RulingKind] = frozenset({"reinstated", "restored"})
"""Rulings that give back what was taken away."""


class Ruling(Noun):
    """What somebody ruled of an award after it was granted, and why."""

    award: Key
    kind: RulingKind
    on: Day
    by: PersonId
    because: Text
    without: tuple[Slug, ...] = ()
    """The skills that a reduction takes away."""
    tied: Yes = False
    """Who ruled had a conflict of interest with the holder, which the school allows."""
    took_part: Line | None = None
    """How who ruled had trained or assessed the holder before."""


class Honoured(Noun):
    """How long awards under one version of a rubric count, by what a later version says."""

    version: Count
    """The award's own."""
    until: Day
    """The last day on which it is honoured."""
    step: str
    """What is needed after it."""
    top_up: Yes = False
    """Whether that is a top-up; a full practical otherwise."""


COUNTING: frozenset[State] = frozenset({"current", "refresher due", "in grace"})
"""The states in which an award counts."""


class Standing(Noun):
    """How an award stands on a day, why, and the next day that matters."""

    state: State
    because: str
    until: Day | None = None
    """The last day on which this state holds, all else unchanged."""
    next_step: str = ""
    next_day: Day | None = None
    """The next day that matters: a last day while it runs, a first day before it comes."""
    next_because: str = ""
    ends: Day
    """The last day of the award: the earliest of its own and that of each document."""
    ends_by: str
    """What that last day comes from: the award, or which document."""
    counts_until: Day | None = None
    """The last day on which it counts if nothing more is done; None when it does not count."""
    limit: str = ""
    """What holds while it is in grace, in the rubric's words: does not teach alone."""
