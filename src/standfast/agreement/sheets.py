"""Whole score sheets as numbers: what can be put together, and what a sheet comes to."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from standfast.agreement.ratings import Codes, Ratings, Values, joined_codes

MOST_LEVELS = 10
"""The highest whole number that is taken as a level when nobody says the scale.  Ours."""


def on_scale(ratings: Ratings, known: Values) -> Ratings:
    """The same marks as shares of their scale: 0 the lowest that can be given, 1 the highest.

    `known` has lowest and highest for each criterion (criteria x 2), NaN where nobody says.  There
    levels (whole numbers up to `MOST_LEVELS`, but for yes and no) are taken to be of one scale,
    the lowest to the highest that occurs on any: otherwise a criterion on which only two levels
    occur would seem to have its assessors at opposite ends.  Anything else has a scale of its own.
    """
    count = len(ratings.criteria)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, ratings.criterion, ratings.score)
    np.maximum.at(high, ratings.criterion, ratings.score)
    parts = np.bincount(ratings.criterion, ratings.score % 1 != 0, minlength=count) > 0
    levels = ~parts & (low >= 0) & (high > 1) & (high <= MOST_LEVELS)
    if levels.any():
        low[levels], high[levels] = low[levels].min(), high[levels].max()
    low, high = (np.where(np.isnan(k), own, k) for k, own in zip(known.T, (low, high), strict=True))
    span = (high - low)[ratings.criterion]
    share = (ratings.score - low[ratings.criterion]) / np.where(span > 0, span, 1.0)
    return replace(ratings, score=np.where(span > 0, share, 0.5))


def marked_once(ratings: Ratings) -> NDArray[np.bool_]:
    """For each criterion whether it is marked, and by no assessor twice in a lesson."""
    cell = joined_codes(ratings.lesson, ratings.assessor, ratings.criterion)
    often = np.zeros(len(ratings.criteria), dtype=np.int64)
    np.maximum.at(often, ratings.criterion, np.bincount(cell)[cell])
    return np.asarray(often == 1, dtype=np.bool_)


def once_on_a_sheet(ratings: Ratings) -> Ratings:
    """The marks of criteria that no assessor marked twice in a lesson."""
    return ratings.only(marked_once(ratings)[ratings.criterion])


def largest_set(ratings: Ratings) -> Ratings:
    """The marks of the largest set of criteria that lessons have in common.

    Two rubrics share no lesson, so what they show cannot be put on one scale.
    """
    from standfast.agreement.severity import scales_of

    return max(scales_of(ratings), key=len)


@dataclass(frozen=True, eq=False)
class Sheets:
    """One total for each assessor and lesson."""

    lesson: Codes
    assessor: Codes
    total: Values
    """Mean over criteria, in shares of the scale."""

    @property
    def twice(self) -> NDArray[np.bool_]:
        """Whether another assessor scored the lesson too."""
        return np.asarray(np.bincount(self.lesson)[self.lesson] > 1, dtype=np.bool_)


def sheet_totals(ratings: Ratings) -> Sheets:
    """What each sheet comes to: the mean over its criteria, whose scores are shares of their scale.

    A criterion that was not seen counts as it does on average.
    """
    share = ratings.score
    total, count = (np.bincount(ratings.criterion, of) for of in (share, np.ones(len(ratings))))
    usual = total / np.maximum(count, 1)
    sheet = joined_codes(ratings.lesson, ratings.assessor)
    off = np.bincount(sheet, share - usual[ratings.criterion]) / np.bincount(sheet)
    first = np.unique(sheet, return_index=True)[1]
    level = float(usual[count > 0].mean())
    return Sheets(ratings.lesson[first], ratings.assessor[first], level + off)
