"""Whole score sheets as numbers: what can be put together, and what a sheet comes to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standfast.agreement.habits import scaled
from standfast.agreement.ratings import Codes, Ratings, Scores, joined_codes


def once_on_a_sheet(ratings: Ratings) -> Ratings:
    """The marks of criteria that no assessor marked twice in a lesson."""
    cell = joined_codes(ratings.lesson, ratings.assessor, ratings.criterion)
    often = np.zeros(len(ratings.criteria), dtype=np.int64)
    np.maximum.at(often, ratings.criterion, np.bincount(cell)[cell])
    return ratings.only((often == 1)[ratings.criterion])


def largest_set(ratings: Ratings) -> Ratings:
    """The marks of the largest set of criteria that lessons have in common.

    Two rubrics share no lesson, so what they show cannot be put on one scale.
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components

    size = int(ratings.lesson.max(initial=-1)) + 1 + len(ratings.criteria)
    ends = (ratings.criterion, ratings.lesson + len(ratings.criteria))
    graph = csr_array((np.ones(len(ratings)), ends), shape=(size, size))
    part = connected_components(graph, directed=False)[1][ratings.criterion]
    return ratings.only(part == np.bincount(part).argmax())


@dataclass(frozen=True, eq=False)
class Sheets:
    """One total for each assessor and lesson."""

    lesson: Codes
    assessor: Codes
    total: Scores
    """Mean over criteria, in shares of the scale."""

    @property
    def twice(self) -> NDArray[np.bool_]:
        """Whether another assessor scored the lesson too."""
        return np.asarray(np.bincount(self.lesson)[self.lesson] > 1, dtype=np.bool_)


def sheet_totals(ratings: Ratings) -> Sheets:
    """What each sheet comes to: the mean over its criteria, each as a share of what occurs on it.

    A criterion that was not seen counts as it does on average.
    """
    share = scaled(ratings)
    total, count = (np.bincount(ratings.criterion, of) for of in (share, np.ones(len(ratings))))
    usual = total / np.maximum(count, 1)
    sheet = joined_codes(ratings.lesson, ratings.assessor)
    off = np.bincount(sheet, share - usual[ratings.criterion]) / np.bincount(sheet)
    first = np.unique(sheet, return_index=True)[1]
    level = float(usual[count > 0].mean())
    return Sheets(ratings.lesson[first], ratings.assessor[first], level + off)
