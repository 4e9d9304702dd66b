"""From a count to a bound: what share a candidate shows, with what assurance.

All bounds are one-sided.  A two-sided 95 % interval is the lower and the upper bound at an
assurance of 0.975.

Whether a standard is reached is not read off a rounded bound.  For Clopper-Pearson the exact
binomial tail is compared in whole numbers, for Wilson the squared distance in fractions, so that
the same answer comes out on every machine even when bound and standard coincide.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from math import comb, sqrt
from statistics import NormalDist

from standfast.engine.beta import beta_point
from standfast.model.base import exact
from standfast.model.rubric import Method

KEPT = 16_384
"""How many answers are remembered: a decision asks the same ones many times."""
SURE = 10
"""Digits to which a bound without an exact comparison is rounded before it is compared."""
MOST_NEEDED = 4_096
"""Beyond so many answers no lesson plan helps; `needed` says None."""


@lru_cache(KEPT)
def lower_bound(x: float, n: float, assurance: float, method: Method) -> float:
    """The share that the true one reaches with that assurance, given x of n; 0 when n is 0.

    `x` and `n` need not be whole: an effective number of looks is not.

    Source: Clopper & Pearson (1934); Wilson (1927), score, without continuity correction;
    Jeffreys prior, end-adjusted after Brown, Cai & DasGupta (2001).
    Checked against: Newcombe (1998), table I (from memory), statsmodels 0.15, scipy 1.17.
    """
    if n <= 0 or x <= 0:
        return 0.0
    if method == "wilson":
        return _wilson(x, n, -_z(assurance))
    if method == "jeffreys":
        return beta_point(1 - assurance, x + 0.5, n - x + 0.5)
    if x >= n:
        return float((1 - assurance) ** (1 / n))
    return beta_point(1 - assurance, x, n - x + 1)


@lru_cache(KEPT)
def upper_bound(x: float, n: float, assurance: float, method: Method) -> float:
    """The share that the true one does not pass with that assurance, given x of n; 1 at n = 0.

    Sources and checks as for `lower_bound`.
    """
    if n <= 0 or x >= n:
        return 1.0
    if method == "wilson":
        return _wilson(x, n, _z(assurance))
    if method == "jeffreys":
        return beta_point(assurance, x + 0.5, n - x + 0.5)
    if x <= 0:
        return float(1 - (1 - assurance) ** (1 / n))
    return beta_point(assurance, x + 1, n - x)


@lru_cache(KEPT)
def reaches(x: int, n: int, share: float, assurance: float, method: Method) -> bool:
    """Whether the lower bound for x of n is at least the share; exact for ties.

    Clopper-Pearson: the chance of x or more of n under the share is at most 1 - assurance.
    """
    if n <= 0 or x <= 0:
        return False
    if method == "clopper-pearson":
        return at_most(n - x, n, 1 - exact(share)) <= 1 - exact(assurance)
    if method == "wilson":
        return _score_at_least(x, n, exact(share), Fraction(_z(assurance)))
    return round(lower_bound(x, n, assurance, method), SURE) >= share


@lru_cache(KEPT)
def cannot_reach(x: int, n: int, share: float, assurance: float, method: Method) -> bool:
    """Whether the upper bound for x of n is under the share; exact for ties.

    Clopper-Pearson: the chance of x or fewer of n under the share is less than 1 - assurance.
    """
    if n <= 0 or x >= n:
        return False
    if method == "clopper-pearson":
        return 1 - at_most(n - x - 1, n, 1 - exact(share)) < 1 - exact(assurance)
    if method == "wilson":
        return not _score_at_least(x, n, exact(share), -Fraction(_z(assurance)))
    return round(upper_bound(x, n, assurance, method), SURE) < share


@lru_cache(KEPT)
def needed(share: float, assurance: float, lapses: int, method: Method) -> int | None:
    """The least number of answers, that many lapses among them, which reaches the share.

    None when even 4,096 do not.

    >>> needed(0.85, 0.8, 0, "clopper-pearson")
    10
    """

    def enough(n: int) -> bool:
        return reaches(n - lapses, n, share, assurance, method)

    low, high = lapses, lapses + 1
    while not enough(high):
        low, high = high, 2 * high
        if high > MOST_NEEDED:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def at_most(k: int, n: int, p: Fraction) -> Fraction:
    """The exact chance of k or fewer in n when each has the chance p: the binomial tail."""
    if k >= n:
        return Fraction(1)
    if k < 0:
        return Fraction(0)
    hit, miss = p.numerator, p.denominator - p.numerator
    if 2 * k > n:
        return 1 - at_most(n - k - 1, n, 1 - p)
    ways = sum(comb(n, i) * hit**i * miss ** (k - i) for i in range(k + 1))
    return Fraction(ways * miss ** (n - k), p.denominator**n)


def _z(assurance: float) -> float:
    """The normal deviate of that assurance, to 12 digits, so that libraries cannot differ."""
    return round(NormalDist().inv_cdf(assurance), 12)


def _wilson(x: float, n: float, z: float) -> float:
    middle = x + z * z / 2
    spread = z * sqrt(x * (n - x) / n + z * z / 4)
    return min(max((middle + spread) / (n + z * z), 0.0), 1.0)


def _score_at_least(x: int, n: int, share: Fraction, z: Fraction) -> bool:
    """Whether x lies at least z standard deviations above what the share predicts.

    The Wilson bound is where this holds with equality (score test); squared, it needs no root.
    """
    beyond = x - n * share
    square = z * z * n * share * (1 - share)
    if z >= 0:
        return beyond >= 0 and beyond * beyond >= square
    return beyond >= 0 or beyond * beyond <= square
