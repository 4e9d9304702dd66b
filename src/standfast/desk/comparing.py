"""Are the assessors in step?  Agreement of each criterion and pair, and the habits of each.

For the lead instructor, who may know everybody's name; nothing here is for outsiders.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from standfast.desk.bounds import Bounds, bounds_of
from standfast.desk.figures import OneCriterion, figures_of, why_misleading
from standfast.desk.marks import Marks
from standfast.desk.observed import Observed, observed
from standfast.desk.opening import Desk
from standfast.desk.otherwise import Asked, decided_otherwise
from standfast.desk.panels import Panels, panels
from standfast.desk.severities import Severity, severity_of
from standfast.desk.sources import NotTold, Origins, origins
from standfast.engine import calibrating
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.agreement.criteria import Wording
    from standfast.agreement.estimate import Estimate
    from standfast.agreement.habits import Habit, Pair
    from standfast.agreement.ratings import Ratings, Shared, Values

ALIKE_ENOUGH = float(calibrating.ALIKE_ENOUGH)
"""The share of marks alike from which assessors count as in step, as beside a panel."""

WORTH_A_WORD = 0.05
"""Of the scale: a smaller shift is only in the tables.  Common practice, no source."""

MOST_NAMED = 3
"""Of a kind in a sentence, after whom nobody is looked for; the tables have all."""

Word = Literal["in step", "not in step", "cannot be told"]


@dataclass(frozen=True)
class OfCriterion:
    """How far two assessors mark one criterion alike."""

    criterion: str
    marks: int
    """How often two assessors marked the same thing."""
    alike: Estimate
    word: Word
    figures: tuple[Estimate, ...]
    left_out: tuple[str, ...]
    """Why other figures are not there."""
    misleading: str | None
    """Why kappa misleads here, where it does."""
    wording: Wording | None
    """Whether they differ more here than on the others; None where too few lessons tell."""


@dataclass(frozen=True)
class OfPair:
    """Two assessors who saw the same lessons."""

    first: str
    second: str
    alike: Estimate
    """Its `n` is the lessons that both saw."""
    sided: Pair | None
    """None where they saw too few lessons together."""


@dataclass(frozen=True)
class Habits:
    """What each assessor is like beside the others; see `agreement/habits.py`."""

    severity: tuple[Habit, ...]
    drift: tuple[Habit, ...]
    halo: tuple[Habit, ...]
    central_tendency: tuple[Habit, ...]
    shifted: tuple[Habit, ...]
    """Of severity: who is off even beside those who are left when the ones before are not there."""
    drifted: tuple[Habit, ...]
    """Of drift, likewise."""


@dataclass(frozen=True)
class Comparison:
    """Everything that is said of the marks."""

    marks: Marks
    assessors: int
    lessons: int
    """Scored by two assessors or more."""
    all_lessons: int
    alike: Estimate
    word: Word
    criteria: tuple[OfCriterion, ...]
    """Least alike first."""
    pairs: tuple[OfPair, ...]
    habits: Habits
    origins: Origins | NotTold
    """Where the differences come from."""
    panels: Panels | NotTold
    """What a second assessor or practical buys."""
    bounds: Mapping[str, Bounds]
    """For each criterion the figures beyond chance with bounds by drawing lessons again."""
    observed: tuple[Observed, ...]
    """Tries and looks, as two observers saw them."""
    severity: Severity
    """Freed of which lessons each happened to score."""
    otherwise: Asked | None = None
    """Decisions that severity may have tipped; None of a table, which has none."""

    @property
    def unclear(self) -> tuple[OfCriterion, ...]:
        """The criteria whose words need work.

        On which they differ more than on the others, severity taken off.  Where nobody is severe
        and none is worse than the others, all that are not marked alike.
        """
        worse = sorted(
            (one for one in self.criteria if one.wording and one.wording.stands_out),
            key=lambda one: -one.wording.beside.value if one.wording else 0.0,
        )
        found = tuple(one for one in worse if one.word != "in step")
        if found or self.habits.shifted:
            return found
        return tuple(one for one in self.criteria if one.word == "not in step")

    @property
    def one_sided(self) -> tuple[Pair, ...]:
        """The pairs of whom one gives less more often than chance."""
        return tuple(p.sided for p in self.pairs if p.sided and p.sided.stands_out)


def compare(marks: Marks, desk: Desk | None = None, rubric: str | None = None) -> Comparison:
    """What the marks say of assessors and criteria.

    With the desk whose book they come from, also which of its decisions, of that rubric or all,
    severity may have tipped.

    Raises:
        Refused: no two assessors marked the same thing.
    """
    from standfast.agreement.percent import alike, over_criteria
    from standfast.agreement.ratings import shared

    ratings = marks.ratings
    both = shared(ratings)
    if not len(both.first):
        raise Refused(
            f"{marks.source}: no two assessors marked the same thing, so nobody can say whether"
            " they are in step",
            ["have some lessons scored by two assessors ('standfast plan' can see to it)"],
        )
    same = alike(ratings, both, marks.within)
    lesson = ratings.lesson[both.first]
    every = over_criteria(same, lesson, ratings.criterion[both.first])
    criteria = _criteria(marks, both, same)
    severity = severity_of(marks)
    return Comparison(
        marks,
        len(set(ratings.assessor.tolist())),
        every.n,
        len(set(ratings.lesson.tolist())),
        every,
        in_step(every),
        criteria,
        _pairs(marks, both, same),
        _habits(marks),
        origins(marks),
        panels(marks),
        bounds_of(marks, {one.criterion: one.figures for one in criteria}),
        observed(marks, both),
        severity,
        decided_otherwise(desk, severity, rubric) if desk else None,
    )


def in_step(alike: Estimate) -> Word:
    """Whether the interval lies above what is alike enough, below it, or on both sides."""
    if alike.low is None or alike.high is None or alike.low < ALIKE_ENOUGH <= alike.high:
        return "cannot be told"
    return "in step" if alike.low >= ALIKE_ENOUGH else "not in step"


def _criteria(marks: Marks, both: Shared, same: Values) -> tuple[OfCriterion, ...]:
    """Least alike first; `same` says of each shared mark whether it is."""
    from standfast.agreement.criteria import wording
    from standfast.agreement.percent import percent_agreement

    ratings = marks.ratings
    criterion = ratings.criterion[both.first]
    worded = {one.criterion: one for one in wording(marks.on_scale, marks.kinds)}
    found = []
    for code, name in enumerate(ratings.criteria):
        of = criterion == code
        if of.any():
            share = percent_agreement(same[of], ratings.lesson[both.first[of]])
            one = OneCriterion(ratings.table(code).scores)
            shown, left_out = figures_of(one)
            beyond = (shown, tuple(dict.fromkeys(left_out)), why_misleading(one))
            told = (in_step(share), *beyond, worded.get(name))
            found.append(OfCriterion(name, int(of.sum()), share, *told))
    return tuple(sorted(found, key=lambda one: (one.alike.value, one.criterion)))


def _pairs(marks: Marks, both: Shared, same: Values) -> tuple[OfPair, ...]:
    """Every two assessors with anything in common, those with the most lessons first."""
    from standfast.agreement.habits import pairs
    from standfast.agreement.percent import over_criteria
    from standfast.agreement.ratings import joined_codes, places_of, shared

    ratings = marks.ratings
    lesson, criterion = ratings.lesson[both.first], ratings.criterion[both.first]
    first, second = ratings.assessor[both.first], ratings.assessor[both.second]
    two = joined_codes(first, second)
    judged = marks.judged
    sided = {(one.first, one.second): one for one in pairs(judged, shared(judged))}
    found = []
    for of in places_of(two):
        a, b = (ratings.assessors[int(side[of[0]])] for side in (first, second))
        share = over_criteria(same[of], lesson[of], criterion[of])
        found.append(OfPair(a, b, share, sided.get((a, b))))
    return tuple(sorted(found, key=lambda one: (-one.alike.n, one.first, one.second)))


def _habits(marks: Marks) -> Habits:
    from standfast.agreement import habits

    judged = marks.judged

    def drift(of: Ratings) -> tuple[Habit, ...]:
        return habits.drift(of, *marks.periods)

    return Habits(
        habits.severity(judged),
        drift(judged),
        habits.halo(judged),
        habits.central_tendency(judged),
        _one_after_the_other(judged, habits.severity),
        _one_after_the_other(judged, drift),
    )


def _one_after_the_other(
    ratings: Ratings, ask: Callable[[Ratings], tuple[Habit, ...]]
) -> tuple[Habit, ...]:
    """Who is off, the furthest first, as it shows beside everybody.

    The one who is furthest off makes those who saw lessons with her seem off to the other side.
    So her marks are put aside, and it is asked again of the rest.  Two who are equally far off,
    as when only two ever saw the same, go together: nobody can say which one it is.
    """
    import numpy as np

    at_first = {one.assessor: one for one in ask(ratings)}
    found: list[Habit] = []
    while len(found) < MOST_NAMED:
        off = [one for one in ask(ratings) if one.stands_out and _matters(one)]
        if not off:
            break
        most = max(abs(one.mean.value) for one in off)
        furthest = [one.assessor for one in off if abs(one.mean.value) > most - _ROUNDING]
        found.extend(at_first[who] for who in furthest)
        codes = [ratings.assessors.index(who) for who in furthest]
        ratings = ratings.only(~np.isin(ratings.assessor, codes))
    return tuple(found)


def _matters(one: Habit) -> bool:
    return abs(one.mean.value) >= WORTH_A_WORD


_ROUNDING = 1e-9
