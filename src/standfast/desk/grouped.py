"""Agreement from counts that the database grouped, where no mark leaves it and nobody is named."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from standfast.desk.comparing import Word, in_step
from standfast.desk.figures import CountedCriterion, figures_of_counts

if TYPE_CHECKING:
    from standfast.agreement.counting import Tally
    from standfast.agreement.estimate import Estimate
    from standfast.store.grouped import GroupedMarks


@dataclass(frozen=True)
class GroupedCriterion:
    """How far two assessors mark one criterion alike, in all the books that were counted."""

    rubric: str
    kind: str
    criterion: str
    """Empty where the rubric has one of its kind."""
    marks: int
    """How often two assessors marked the same thing."""
    alike: Estimate
    """Its `n` is the lessons that two assessors or more saw."""
    word: Word
    figures: tuple[Estimate, ...]
    left_out: tuple[str, ...]
    """Why other figures are not there."""


def agreement_of(groups: Iterable[GroupedMarks]) -> tuple[GroupedCriterion, ...]:
    """What `compare` says of each criterion, as far as counts tell it; least alike first.

    A criterion that nobody marked twice is left out.  What asks who gave a mark is not there:
    Conger's kappa, the ICC of a panel, habits, severity, and bounds by drawing lessons.
    """
    found = [_one(group) for group in groups if group.sums.pairs]
    return tuple(sorted(found, key=lambda one: (one.alike.value, one.rubric, one.criterion)))


def _one(group: GroupedMarks) -> GroupedCriterion:
    from standfast.agreement.percent import percent_of_sums

    sums = group.sums
    squares = (sums.pairs_squared, sums.pairs_alike, sums.alike_squared)
    share = percent_of_sums(sums.lessons, sums.pairs, sums.alike, squares)
    shown, left_out = figures_of_counts(CountedCriterion(tally_of_group(group)))
    return GroupedCriterion(
        *(group.rubric, group.kind, group.criterion, sums.pairs),
        *(share, in_step(share), shown, tuple(dict.fromkeys(left_out))),
    )


def tally_of_group(group: GroupedMarks) -> Tally:
    """The counts as the statistics take them."""
    import numpy as np

    from standfast.agreement.counting import Tally

    values = sorted({score for given, _ in group.given for score, _ in given})
    place = {score: number for number, score in enumerate(values)}
    counts = np.zeros((len(group.given), len(values)))
    for row, (given, _) in enumerate(group.given):
        for score, how_often in given:
            counts[row, place[score]] = how_often
    times = np.array([subjects for _, subjects in group.given], dtype=np.float64)
    return Tally(np.array(values, dtype=np.float64), counts, times)
