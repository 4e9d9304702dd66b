"""Sums of squares of scores of subjects x raters: all that intraclass correlations ask of them.

One pass over the scores, so that tens of thousands of subjects cost no more than reading them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from standfast.problems import Refused

Floats = NDArray[np.float64]

LEAST_SUBJECTS = 2
LEAST_RATERS = 2
_PIECE = 9_000  # scores at a time
_TOGETHER = 200
_NEAR = 10  # times the squares about the mean: up to there at most one digit cancels


@dataclass(frozen=True)
class MeanSquares:
    """What the scores of subjects x raters come to; `n` subjects, `k` raters."""

    n: int
    k: int
    subjects: float
    raters: float
    error: float
    within: float


def mean_squares(ratings: ArrayLike) -> MeanSquares:
    """The mean squares of subjects, raters, error and within subjects.

    `ratings` is subjects x raters without gaps.

    Raises:
        Refused: fewer than two subjects or raters, a gap, or all scores the same.

    Source: Shrout & Fleiss (1979), table 2.
    """
    x = _rectangle(ratings)
    n, k = x.shape
    squares = _squares(x)
    if not squares.sure:
        x = _complete(x)
        squares = _squares(x - x.mean())
    whole, subjects, raters = squares.whole, squares.subjects, squares.raters
    within = max(whole - subjects, 0.0)
    error = no_less_than_rounding(within - raters, whole)
    if no_less_than_rounding(subjects, whole) == error == 0:
        raise Refused(
            "every subject has the same scores: with no differences between subjects nothing can"
            " be said of how well raters tell them apart; subjects who differ are needed"
        )
    return MeanSquares(
        n=n,
        k=k,
        subjects=subjects / (n - 1),
        raters=raters / (k - 1),
        error=error / ((n - 1) * (k - 1)),
        within=no_less_than_rounding(within, whole) / (n * (k - 1)),
    )


@dataclass(frozen=True)
class _Squares:
    """Sums of squares about the mean."""

    whole: float
    subjects: float
    raters: float
    sure: bool
    """Whether nothing is missing, and the mean so near to zero that few digits cancel."""


def _squares(x: Floats) -> _Squares:
    """In pieces too small for a matrix library to start threads for; see `icc.summed`."""
    n, k = x.shape
    ones, step = np.ones(k), max(1, _PIECE // k)
    whole = of_subjects = 0.0
    with np.errstate(invalid="ignore"):  # an infinite score is refused afterwards
        for start in range(0, n, step):
            piece = x[start : start + step]
            own, flat = piece @ ones, piece.ravel()
            of_subjects += float(own @ own)
            whole += float(flat @ flat)
        by_rater = _down(x)
    middle = float(by_rater.sum()) ** 2 / (n * k)
    about = whole - middle
    return _Squares(
        about,
        of_subjects / k - middle,
        float((by_rater * by_rater).sum()) / n - middle,
        bool(middle < _NEAR * about),  # not true of NaN, nor where all is the same
    )


def _down(x: Floats) -> Floats:
    """The sum of each column; many short rows are taken as fewer long ones, which is quicker."""
    n, k = x.shape
    whole = n - n % _TOGETHER
    long = x[:whole].reshape(-1, _TOGETHER * k).sum(axis=0)
    return np.asarray(long.reshape(-1, k).sum(axis=0) + x[whole:].sum(axis=0))


def _rectangle(ratings: ArrayLike) -> Floats:
    """The scores as floats; refused when there are too few for any coefficient."""
    x = np.ascontiguousarray(ratings, dtype=np.float64)
    if x.ndim != 2:  # noqa: PLR2004 - rows and columns
        raise Refused("the scores are not subjects x raters: two dimensions are needed")
    n, k = x.shape
    if n < LEAST_SUBJECTS or k < LEAST_RATERS:
        raise Refused(
            f"{n} x {k} scores: an intraclass correlation compares how subjects differ with how"
            " raters differ; at least 2 subjects, each seen by at least 2 raters, are needed"
        )
    return x


def _complete(x: Floats) -> Floats:
    """The same scores; refused when they have gaps or are all the same."""
    if not np.isfinite(x).all():
        raise Refused(
            f"{int((~np.isfinite(x)).sum())} of {x.size} scores are missing: the six forms need"
            " every rater on every subject; leave out subjects with gaps, or use ICC(1) for"
            " unequal numbers or the variance components by REML"
        )
    if np.ptp(x) == 0:
        raise all_the_same(float(x.flat[0]))
    return x


def all_the_same(score: float) -> Refused:
    """Why there is no coefficient of such scores."""
    return Refused(
        f"every score is {score:g}: with no differences between subjects nothing can be said of"
        " how well raters tell them apart; subjects who differ are needed"
    )


def no_less_than_rounding(squares: float, whole: float) -> float:
    """Nothing, when what is left is only what rounding leaves of the whole."""
    return squares if squares > 1e-13 * whole else 0.0
