"""What good looks like, what suffices, and what a pass grants: the rubric."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from standfast.model.base import (
    Count,
    Day,
    Line,
    Noun,
    OpenShare,
    Period,
    Share,
    Slug,
    Text,
    Whole,
    Yes,
)

Method = Literal["clopper-pearson", "wilson", "jeffreys"]
"""The one-sided interval that turns a count into a bound; see `engine.intervals`."""


class Level(Noun):
    """One level of a rating, in words that two strangers would tick alike."""

    level: Count
    title: Line
    words: Text


class ShareStandard(Noun):
    """At least this share, with this assurance, from at least so many, with few lapses."""

    share: OpenShare
    assurance: OpenShare
    least: Count
    """The least number of answers that were seen."""
    lapses: Whole | None = None
    """The most lapses allowed, whatever the share; no limit when empty."""
    method: Method = "clopper-pearson"


class ClearanceStandard(Noun):
    """How right the candidate's choices to let go or hold back must be."""

    false_clearances: Whole = 0
    """The most students let go who were not ready.  More than this is a safety matter."""
    accuracy: OpenShare
    assurance: OpenShare
    least: Count
    method: Method = "clopper-pearson"


class IdleStandard(Noun):
    """The most idle share of waiting students, with an assurance that knows looks are alike."""

    idle: OpenShare
    assurance: OpenShare
    least: Count
    """The least number of looks at which somebody was waiting."""
    every: Annotated[int, Field(strict=True, ge=10, le=3600)]
    """Seconds from one look to the next."""


class RatingStandard(Noun):
    """The least level, and the floor under any single assessor's mark."""

    least: Count
    floor: Count


class IncidentStandard(Noun):
    """What an incident does: stop the practical, or count against a limit."""

    effect: Literal["stops", "counts"]
    limit: Whole = 0
    """The most that may be counted in all the practicals together; 0 for a stop."""


class _Criterion(Noun):
    id: Slug
    title: Line
    look_for: Text
    """What is seen when it is there, and what is seen when it is not."""
    critical: Yes = False
    points: Count = 1
    source: Line = "common practice, no source"


class AttemptsCriterion(_Criterion):
    """A yes/no question asked of each student attempt."""

    kind: Literal["attempts"]
    question: Line
    """As short as it can be read with eyes on the mat."""
    asked: Literal["every", "failed"] = "every"
    """Of every attempt, or only of those that the student did not complete."""
    skills: tuple[Slug, ...] = ()
    """Only of attempts at these skills; of all when empty."""
    standard: ShareStandard


class ClearancesCriterion(_Criterion):
    """Whether students were let go or held back as the syllabus and their log say."""

    kind: Literal["clearances"]
    standard: ClearanceStandard


class SamplesCriterion(_Criterion):
    """How many of the waiting students were idle, looked at every so many seconds."""

    kind: Literal["samples"]
    standard: IdleStandard


class RatingCriterion(_Criterion):
    """A level chosen by its words."""

    kind: Literal["rating"]
    levels: tuple[Level, ...]
    standard: RatingStandard


class IncidentCriterion(_Criterion):
    """Something that must not happen, or not often."""

    kind: Literal["incident"]
    standard: IncidentStandard


Criterion = Annotated[
    AttemptsCriterion
    | ClearancesCriterion
    | SamplesCriterion
    | RatingCriterion
    | IncidentCriterion,
    Field(discriminator="kind"),
]


class Competency(Noun):
    """A group of criteria that together show one thing an instructor must be able to do."""

    id: Slug
    title: Line
    about: Text
    weight: Share
    """Its part of the overall points; the weights of a rubric sum to 1."""
    least_share: Share
    """The least share of its points that must be met."""
    criteria: tuple[Criterion, ...]


class Scope(Noun):
    """What a pass permits the school to say: who may teach what, and under what conditions."""

    id: Slug
    title: Line
    words: Text
    skills: tuple[Slug, ...]
    conditions: tuple[Line, ...] = ()


class DecisionRule(Noun):
    """One rule for everybody, applied in the order of its fields."""

    practicals: Count
    assessors: Count
    """The least number of different assessors."""
    independent_assessors: Whole = 1
    """Of these, how many did not train the candidate."""
    days_apart: Whole = 0
    """The least number of days from the first practical to the last."""
    window: Period
    """Evidence older than this on the day of the decision does not count."""
    overall_share: Share
    """The least share of the overall points."""


class Refresher(Noun):
    """How an award is kept current between full practicals."""

    every: Period
    window: Period
    """How long before the due day a refresher keeps the anniversary."""


class Validity(Noun):
    """For how long a pass counts."""

    period: Period
    last_day: Literal["same-date", "day-before"] = "same-date"
    """Whether the first day is counted: the printed last day is inclusive either way."""
    refresher: Refresher | None = None
    grace: Period | None = None
    """After a missed day, how long a refresher still suffices."""
    in_grace: Line | None = None
    """What the holder may do meanwhile."""
    lapse_limit: Period | None = None
    """Lapsed for longer than this needs a full practical again."""


class CoversRule(Noun):
    """What a refresher practical covers; everything else in the rubric is then not asked for."""

    always: tuple[Slug, ...]
    """The competencies that every refresher covers."""
    weakest: Whole = 2
    """How many more: those that were weakest last time.  Two is common practice, no source."""


class Transition(Noun):
    """What becomes of awards that were granted under earlier versions of the rubric."""

    honoured_until: Day | None = None
    """The last day on which they count; their own last day when that is earlier, or when empty."""
    top_up: Yes = False
    """Whether a practical on what is new brings them under this version."""
    practicals: Count = 1
    """How many practicals a top-up takes.  One is common practice, no source."""


Joining = Literal["lower", "majority", "higher"]
"""How marks of several assessors of one practical become one: the lower mark; the mark of
most, the lower of a tie; the higher mark."""


class JoiningPolicy(Noun):
    """How several sheets of one practical are joined."""

    critical: Joining = "lower"
    other: Joining = "lower"


class Rubric(Noun):
    """A versioned document: what is looked for, what suffices, what a pass grants."""

    id: Slug
    title: Line
    version: Count
    language: str = "en"
    about: Text | None = None
    in_force: Day
    in_force_until: Day | None = None
    syllabus: Slug
    grants: Scope | None = None
    """What a pass grants; empty for a refresher."""
    refreshes: Slug | None = None
    """The rubric whose award a pass keeps current; empty for a full practical."""
    competencies: tuple[Competency, ...]
    decision: DecisionRule
    validity: Validity | None = None
    """Empty for a refresher: the refreshed rubric says."""
    covers: CoversRule | None = None
    """Of a refresher: what it covers; everything when empty."""
    transition: Transition | None = None
    """What becomes of awards under earlier versions; they run to their last day when empty."""
    documents: tuple[Slug, ...] = ()
    """Kinds of document that must run on the day of the award, and with which it ends."""
    joining: JoiningPolicy = JoiningPolicy()

    def criteria(self) -> Iterator[Criterion]:
        """Every criterion, in the order of the rubric."""
        for competency in self.competencies:
            yield from competency.criteria

    def criterion(self, wanted: str) -> Criterion | None:
        """The criterion of that id, or None."""
        return next((found for found in self.criteria() if found.id == wanted), None)

    def competency(self, wanted: str) -> Competency | None:
        """The competency of that id, or None."""
        return next((found for found in self.competencies if found.id == wanted), None)

    def in_force_on(self, day: Day) -> bool:
        """Whether a practical on that day may be scored under this version."""
        return self.in_force <= day and (self.in_force_until is None or day <= self.in_force_until)
