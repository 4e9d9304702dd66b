"""Ratings made ready for coefficients, and refused where no coefficient could mean anything.

A figure about agreement can be computed from nearly everything; this is where it is said what
cannot support one: nobody scored the same subject twice, or a score is outside the rubric's list.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from standfast.agreement.counting import MISSING, Floats, Ints, coded, counted
from standfast.problems import Refused

_SHOWN = 6


@dataclass(frozen=True, eq=False)
class Scores:
    """Scores of subjects by assessors, as places in a list of categories."""

    categories: Floats
    """The levels that could be given, ascending; q of them."""
    codes: Ints
    """n x r: place in `categories`, or `MISSING`.  Without columns when only counts are known."""
    subjects: Ints
    """n: which rows of the ratings these are; empty ones were left out."""
    assessors: Ints
    """r: which columns of the ratings these are."""
    known: Floats | None = None
    """The counts, where nothing else is known."""
    times: Floats | None = None
    """n: how many subjects each row of known counts stands for; None for one each."""

    @cached_property
    def counts(self) -> Floats:
        """How many assessors gave each subject each category (n x q)."""
        return counted(self.codes, len(self.categories)) if self.known is None else self.known

    @cached_property
    def of_each(self) -> Floats:
        """How often each assessor gave each category (r x q)."""
        return counted(self.codes.T, len(self.categories))

    @property
    def scored_twice(self) -> NDArray[np.bool_]:
        """n: whether at least two assessors scored the subject."""
        return np.asarray(self.counts.sum(axis=1) >= 2)  # noqa: PLR2004 - a pair


def scores_of(ratings: ArrayLike, categories: Sequence[float] | None = None) -> Scores:
    """What the coefficients take: checked scores, without empty rows and columns.

    `ratings` is subjects x assessors, NaN = missing.  Without `categories` the list is every
    value that was given, which makes chance look smaller than with levels nobody used.

    Raises:
        Refused: not a rectangle of numbers, a score outside the list, or fewer than two
            assessors with a subject in common.
    """
    table = rectangle(ratings)
    levels, codes = coded(table)
    rows, columns = np.arange(len(codes)), np.arange(codes.shape[1])
    gaps = codes == MISSING
    if gaps.any():
        rows, columns = np.flatnonzero(~gaps.all(axis=1)), np.flatnonzero(~gaps.all(axis=0))
        codes = codes[np.ix_(rows, columns)]
    if categories is not None:
        levels, codes = _in_the_list(levels, codes, categories)
    scores = Scores(levels, codes, rows, columns)
    _refuse_without_pairs(scores)
    return scores


def scores_of_counts(
    counts: ArrayLike,
    categories: Sequence[float] | None = None,
    *,
    times: ArrayLike | None = None,
) -> Scores:
    """Scores of which only is known how many assessors gave a subject each category.

    `counts` is n x q; with `times` each row stands for so many subjects.  Coefficients that ask
    who gave a score refuse them.

    Raises:
        Refused: a count that is no whole number, or no subject scored twice.
    """
    table = rectangle(counts)
    if np.isnan(table).any() or (table < 0).any() or (table != np.rint(table)).any():
        raise Refused("a count of assessors is a whole number, at least 0")
    levels = np.arange(table.shape[1], dtype=float)
    if categories is not None:
        levels = np.asarray(categories, dtype=float)
    rows = np.flatnonzero(table.sum(axis=1) > 0)
    nobody = np.empty((len(rows), 0), dtype=np.int64)
    many = None if times is None else np.asarray(times, dtype=float)[rows]
    scores = Scores(levels, nobody, rows, nobody[:0].ravel(), table[rows], many)
    _refuse_without_pairs(scores)
    return scores


def ratings_of_table(table: ArrayLike, categories: Sequence[float] | None = None) -> Floats:
    """The ratings (n x 2) that a square table counts: row the first assessor, column the second."""
    cells = np.asarray(table, dtype=np.int64)
    levels = np.arange(len(cells)) if categories is None else np.asarray(categories)
    first, second = np.indices(cells.shape)
    both = np.stack([first.ravel(), second.ravel()], axis=1)
    return np.asarray(levels[np.repeat(both, cells.ravel(), axis=0)], dtype=float)


def rectangle(ratings: ArrayLike) -> Floats:
    """The ratings as a rectangle of numbers and gaps.

    Raises:
        Refused: not two-dimensional, or an infinite number.
    """
    table = np.asarray(ratings, dtype=float)
    if table.ndim != 2:  # noqa: PLR2004 - subjects and assessors
        raise Refused("ratings have a row for each subject and a column for each assessor")
    if np.isinf(table).any():
        raise Refused("a score is infinite; it must be a number or missing")
    return table


def shown(values: Iterable[float]) -> str:
    """Numbers as a person writes them, the first few: `1, 2, 2.5`."""
    words = [f"{value:g}" for value in values]
    return ", ".join(words[:_SHOWN]) + (", ..." if len(words) > _SHOWN else "")


def _in_the_list(seen: Floats, codes: Ints, categories: Sequence[float]) -> tuple[Floats, Ints]:
    """The list, ascending, and the codes as places in it."""
    levels = np.unique(np.asarray(categories, dtype=float))
    outside = np.setdiff1d(seen, levels)
    if outside.size:
        raise Refused(
            f"a score outside the list: {shown(outside)}; the list is {shown(levels)}",
            ["correct the score, or name every level that could be given"],
        )
    place = np.append(np.searchsorted(levels, seen), MISSING)
    return levels, place[codes]  # the last place is that of a gap, -1


def _refuse_without_pairs(scores: Scores) -> None:
    first = scores.codes[:1]  # nearly always enough to see, without counting a million marks
    if (first != MISSING).sum() < 2 and not scores.scored_twice.any():  # noqa: PLR2004 - a pair
        raise Refused(
            "no two assessors scored the same subject, so nothing says whether they agree",
            ["needed: at least two assessors who score the same practicals"],
        )
