"""What a refresher covers: what its rubric always names, and what was weakest last time.

How strong a criterion was is its headroom: how far what was seen lay above its standard, as a share
of the way from the standard to the best there is; 0 is on the standard, 1 could not be better, and
below 0 is under it.  So an idle share, a count of lapses and a level can be held side by side.
What was not met comes before what was not seen enough, and that before what was met.  A competency
is as strong as its weakest criterion, among those that the refresher can show again where there are
any; of equal ones the lower mean headroom is weaker, and then the one that comes first in the
rubric.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from standfast.engine.rules import figure_words
from standfast.model.base import exact
from standfast.model.decision import Finding
from standfast.model.focus import Covered, Focus
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Competency,
    Criterion,
    IncidentCriterion,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
)

ALWAYS = "always covered"
NEVER_SEEN = "not seen in an earlier practical"
_WEAKER_FIRST = {"not met": 0, "open": 1, "met": 2}


@dataclass(frozen=True)
class Seen:
    """What an earlier decision found, and under which text."""

    rubric: Rubric
    findings: Sequence[Finding]


def refresher_focus(rubric: Rubric, earlier: Sequence[Seen]) -> Focus | None:
    """What a refresher under that rubric covers, and why; None when it covers everything.

    `earlier` are the decisions that the award rests on, the newest first; of each competency the
    newest one counts that covered it.  One that none has seen counts as the weakest.
    """
    rule = rubric.covers
    if rule is None or not earlier:
        return None
    others = [one for one in rubric.competencies if one.id not in rule.always]
    ranked = sorted((_strength(one, earlier), place) for place, one in enumerate(others))
    weakest = {others[place].id: rank.because for rank, place in ranked[: rule.weakest]}
    because = {**dict.fromkeys(rule.always, ALWAYS), **weakest}
    return Focus(
        kind="refresher",
        covered=tuple(
            Covered(
                competency=one.id,
                criteria=tuple(criterion.id for criterion in one.criteria),
                because=because[one.id],
            )
            for one in rubric.competencies
            if one.id in because
        ),
    )


@dataclass(frozen=True, order=True)
class Strength:
    """How strong a competency was last time; the smaller, the weaker."""

    state: int
    headroom: Fraction
    mean: Fraction
    because: str = field(compare=False)
    """Its weakest criterion in words."""


def _strength(competency: Competency, earlier: Sequence[Seen]) -> Strength:
    """By the newest decision that covered the competency."""
    for seen in earlier:
        own = seen.rubric.competency(competency.id)
        pairs = [
            (criterion, found)
            for criterion in (own.criteria if own else ())
            for found in seen.findings
            if found.criterion == criterion.id
        ]
        if _was_covered(own, pairs):
            again = {criterion.id for criterion in competency.criteria}
            return _of([pair for pair in pairs if pair[0].id in again] or pairs)
    return Strength(-1, Fraction(0), Fraction(0), NEVER_SEEN)


_Pair = tuple[Criterion, Finding]


def _was_covered(competency: Competency | None, pairs: Sequence[_Pair]) -> bool:
    """Whether everything was judged of it, and not only its incidents."""
    return competency is not None and 0 < len(pairs) == len(competency.criteria)


def _of(pairs: Sequence[_Pair]) -> Strength:
    rooms = [(_WEAKER_FIRST[found.state], headroom(c, found)) for c, found in pairs]
    least = min(rooms)
    criterion, found = pairs[rooms.index(least)]
    mean = sum((room for _, room in rooms), Fraction(0)) / len(rooms)
    return Strength(*least, mean, f"weakest last time: {_words(criterion, found)}")


def _words(criterion: Criterion, found: Finding) -> str:
    figure = figure_words(found) or "nothing seen"
    if isinstance(criterion, RatingCriterion) and found.figure.value is not None:
        figure += f" of {len(criterion.levels)}"
    return f"'{criterion.title}', {figure}"


def headroom(criterion: Criterion, found: Finding) -> Fraction:
    """How far above its standard the criterion was, as a share of the way to the best; exact.

    What was not seen has none: 0.
    """
    figure = found.figure
    if figure.value is None:
        return Fraction(0)
    if isinstance(criterion, IncidentCriterion):
        limit = 0 if criterion.standard.effect == "stops" else criterion.standard.limit
        return _room(Fraction(-figure.lapses), Fraction(-limit), Fraction(0))
    if isinstance(criterion, RatingCriterion):
        best = max(level.level for level in criterion.levels)
        level, least = Fraction(int(figure.value)), Fraction(criterion.standard.least)
        return _room(level, least, Fraction(best))
    if isinstance(criterion, SamplesCriterion):
        return _room(-exact(figure.value), -exact(criterion.standard.idle), Fraction(0))
    seen = Fraction(figure.counted - figure.lapses, figure.counted)
    return _room(seen, _share(criterion), Fraction(1))


def _share(criterion: AttemptsCriterion | ClearancesCriterion) -> Fraction:
    if isinstance(criterion, AttemptsCriterion):
        return exact(criterion.standard.share)
    return exact(criterion.standard.accuracy)


def _room(value: Fraction, standard: Fraction, best: Fraction) -> Fraction:
    """Where the standard is the best there is, what reaches it has all the room, else none."""
    if best == standard:
        return Fraction(1) if value >= best else Fraction(0)
    return (value - standard) / (best - standard)
