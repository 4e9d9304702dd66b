"""Whether a difference could be chance, and how many such questions were asked at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standfast.agreement.ratings import Values


@dataclass(frozen=True)
class Mean:
    """The mean of independent differences, its 95 % interval, and how surprising it is."""

    value: float
    low: float
    high: float
    n: int
    p: float
    """Two-sided, that a mean as far from 0 comes by chance alone."""


def mean_difference(differences: Values) -> Mean:
    """The mean of two or more differences against 0, by Student's t.

    The p value is never below that of the sign-flipping test, 2 / 2^n, which is all that so few
    differences can show: five equal ones have no spread, and are no proof either.

    Sources: Student (1908); Fisher (1935), The Design of Experiments, section 21; from memory.
    """
    from scipy.special import stdtr, stdtrit  # Student's t, without loading scipy.stats

    n = len(differences)
    value = float(differences.mean())
    error = float(differences.std(ddof=1)) / float(np.sqrt(n))
    half = float(stdtrit(n - 1, 0.975)) * error
    if error > _ROUNDING:
        p = float(2 * stdtr(n - 1, -abs(value) / error))
    else:
        p = 0.0 if abs(value) > _ROUNDING else 1.0
    return Mean(value, value - half, value + half, n, min(1.0, max(p, 2.0 ** (1 - n))))


_ROUNDING = 1e-12


def change(before: Values, now: Values) -> Mean:
    """How far the mean of `now` lies from that of `before`, by Student's t; `n` is of `now`.

    One variance for both: with four or six lessons on a side Welch's (1947) form finds too much
    when a small p value is asked for.  The p value is never below that of shuffling the two.

    Source: Student (1908), Biometrika 6, 1-25; from memory.
    """
    from scipy.special import comb, stdtr, stdtrit

    sides = (len(before), len(now))
    freedom = sum(sides) - 2
    squares = (sides[0] - 1) * before.var(ddof=1) + (sides[1] - 1) * now.var(ddof=1)
    error = float(np.sqrt(squares / freedom * (1 / sides[0] + 1 / sides[1])))
    value = float(now.mean() - before.mean())
    least = min(1.0, 2 / float(comb(sum(sides), len(now))))
    half = float(stdtrit(freedom, 0.975)) * error
    if error > _ROUNDING:
        p = float(2 * stdtr(freedom, -abs(value) / error))
    else:
        p = 0.0 if abs(value) > _ROUNDING else 1.0
    return Mean(value, value - half, value + half, len(now), min(1.0, max(p, least)))


def sign_test(lower: int, higher: int) -> float:
    """How surprising so many lower and so many higher are when either is as likely.

    Two-sided, exact; ties are left out before.  Source: Dixon and Mood (1946), Journal of the
    American Statistical Association 41, 557-566; from memory.
    """
    from scipy.special import bdtr

    both = lower + higher
    return min(1.0, 2 * float(bdtr(min(lower, higher), both, 0.5))) if both else 1.0


def adjusted(p_values: Sequence[float]) -> tuple[float, ...]:
    """The p values after Benjamini and Hochberg: under 0.05 at most 1 in 20 of those is chance.

    In the given order.  Source: Benjamini and Hochberg (1995), Journal of the Royal Statistical
    Society B 57, 289-300.  Checked against: statsmodels, multipletests(method="fdr_bh").

    >>> adjusted([0.01, 0.04, 0.03])
    (0.03, 0.04, 0.04)
    """
    p = np.array(p_values, dtype=np.float64)
    if not len(p):
        return ()
    order: NDArray[np.int64] = np.argsort(p, kind="stable")
    ranks = np.arange(1, len(p) + 1)
    stepped = np.minimum.accumulate((p[order] * len(p) / ranks)[::-1])[::-1]
    found = np.empty(len(p))
    found[order] = np.minimum(stepped, 1.0)
    return tuple(float(one) for one in found)
