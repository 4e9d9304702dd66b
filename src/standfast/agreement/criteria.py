"""Criteria whose wording needs work: on which assessors differ more than on the others.

That two levels differ can be because one assessor is strict with everything.  So each assessor's
overall severity beside who saw the same lessons is taken off first; what is left of a criterion's
differences is held against what is left of the other criteria in the same lessons.  The lesson
counts as one witness, as everywhere here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from standfast.agreement.chance import Mean, adjusted, mean_difference
from standfast.agreement.percent import LEAST_LESSONS
from standfast.agreement.ratings import (
    Codes,
    Ratings,
    Shared,
    Values,
    joined_codes,
    places_of,
    shared,
)

MARGIN = 0.05


@dataclass(frozen=True)
class Wording:
    """How far assessors differ on a criterion beside the other criteria of the same lessons."""

    criterion: str
    apart: float
    """Mean distance of two marks, severity taken off, in shares of the scale."""
    beside: Mean
    """That distance less the one on the other criteria of the lesson; `n` counts lessons."""
    p: float
    """Adjusted for all criteria that were asked about."""

    @property
    def stands_out(self) -> bool:
        """Whether they differ more here, by more than chance among so many."""
        return self.beside.value > 0 and self.p < MARGIN


def wording(ratings: Ratings, kinds: Sequence[str]) -> tuple[Wording, ...]:
    """Each criterion with enough shared lessons, most apart first.

    `kinds` says of each criterion what sort it is; only one sort is held against each other, since
    two seldom differ on a yes or no that is nearly always yes.  Values are shares of their scale
    (`sheets.on_scale`).  In a lesson the distance of two marks is that of their scores, less what
    the two assessors' severities differ by; the mean over the marks of a criterion, and over
    pairs of assessors, is what a lesson says of it.  Lessons with no other criterion of the sort,
    and criteria under `LEAST_LESSONS` lessons, are left out.  p values by Student's t over
    lessons, adjusted by Benjamini and Hochberg.

    Severity is fitted to all differences at once by least squares, so that who saw whom does not
    matter (Mosteller 1951, Psychometrika 16, 3-9, for such a fit to pairs; from memory).
    """
    sort = np.unique(np.array(kinds), return_inverse=True)[1][ratings.criterion]
    found = [one for places in places_of(sort) for one in _of_sort(ratings, places)]
    p_values = adjusted([one.p for one in found])
    every = (replace(one, p=p) for one, p in zip(found, p_values, strict=True))
    return tuple(sorted(every, key=lambda one: (-one.beside.value, one.criterion)))


def _of_sort(every: Ratings, places: Codes) -> Iterator[Wording]:
    """The criteria of one sort; p not yet adjusted."""
    there = np.zeros(len(every), dtype=np.bool_)
    there[places] = True
    ratings = every.only(there)
    both = shared(ratings)
    if not len(both.first):
        return
    lesson, criterion = ratings.lesson[both.first], ratings.criterion[both.first]
    difference = ratings.score[both.first] - ratings.score[both.second]
    severe = _severities(ratings, both, difference, joined_codes(lesson, criterion))
    off = severe[ratings.assessor[both.first]] - severe[ratings.assessor[both.second]]
    of_lesson, of_criterion, apart = _by_lesson(lesson, criterion, np.abs(difference - off))
    beside, kept = _beside_the_others(of_lesson, apart)
    for code in np.unique(of_criterion[kept]):
        here = kept & (of_criterion == code)
        if int(here.sum()) >= LEAST_LESSONS:
            mean = mean_difference(beside[here])
            yield Wording(ratings.criteria[code], float(apart[here].mean()), mean, mean.p)


def _severities(ratings: Ratings, both: Shared, difference: Values, cell: Codes) -> Values:
    """How much more each assessor gives, least squares over pairs; each cell counts as one.

    Of assessors who are not linked at all only differences within their group count, which is all
    that is asked.
    """
    size = len(ratings.assessors)
    weight = 1.0 / np.bincount(cell)[cell]
    first, second = ratings.assessor[both.first], ratings.assessor[both.second]
    normal = np.zeros((size, size))
    for one, other, sign in (
        *((first, first, 1.0), (second, second, 1.0)),
        *((first, second, -1.0), (second, first, -1.0)),
    ):
        np.add.at(normal, (one, other), sign * weight)
    side = np.bincount(first, weight * difference, minlength=size)
    side -= np.bincount(second, weight * difference, minlength=size)
    return np.asarray(np.linalg.pinv(normal, hermitian=True) @ side, dtype=np.float64)


def _by_lesson(lesson: Codes, criterion: Codes, apart: Values) -> tuple[Codes, Codes, Values]:
    """Lesson, criterion and mean distance of each criterion of each lesson."""
    cell = joined_codes(lesson, criterion)
    first = np.unique(cell, return_index=True)[1]
    return lesson[first], criterion[first], np.bincount(cell, apart) / np.bincount(cell)


def _beside_the_others(lesson: Codes, apart: Values) -> tuple[Values, NDArray[np.bool_]]:
    """Each distance less the mean of the lesson's other criteria; where there are enough."""
    total, count = np.bincount(lesson, apart), np.bincount(lesson)
    others = count[lesson] - 1
    mean = (total[lesson] - apart) / np.maximum(others, 1)
    return apart - mean, np.asarray(others > 0, dtype=np.bool_)
