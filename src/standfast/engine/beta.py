"""The beta distribution, as far as intervals need it: the standard library has none.

Checked against: scipy.stats.beta over counts up to 2,000 (tests/engine/test_intervals.py).
"""

from __future__ import annotations

import math

TINY = 1e-300
PRECISE = 1e-15
MOST_TERMS = 20_000
MOST_HALVINGS = 200


def beta_share(p: float, a: float, b: float) -> float:
    """The part of a beta(a, b) distribution that lies below `p`, from 0 to 1.

    The regularized incomplete beta function; a, b > 0 and need not be whole.

    Source: continued fraction 8.17.22 of the NIST Digital Library of Mathematical Functions,
    evaluated by Lentz's method (Press et al., Numerical Recipes, 6.4; from memory).
    """
    if p <= 0:
        return 0.0
    if p >= 1:
        return 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(p) + b * math.log1p(-p)
    )
    if p < (a + 1) / (a + b + 2):
        return front * _fraction(p, a, b) / a
    return 1 - front * _fraction(1 - p, b, a) / b


def beta_point(share: float, a: float, b: float) -> float:
    """The point below which that share of a beta(a, b) distribution lies, to about 1e-14.

    The middle of an interval that holds it is taken until the interval can shrink no more, so
    that no start value and no slope can mislead it.
    """
    low, high = 0.0, 1.0
    for _ in range(MOST_HALVINGS):
        middle = (low + high) / 2
        if middle in {low, high}:
            break
        if beta_share(middle, a, b) < share:
            low = middle
        else:
            high = middle
        if high - low < PRECISE * high:
            break
    return (low + high) / 2


def _fraction(p: float, a: float, b: float) -> float:
    above, below = 1.0, _safe(1 - (a + b) * p / (a + 1))
    below = 1 / below
    value = below
    for m in range(1, MOST_TERMS):
        even = m * (b - m) * p / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * p / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            below = 1 / _safe(1 + term * below)
            above = _safe(1 + term / above)
            value *= above * below
        if abs(above * below - 1) < PRECISE:
            break
    return value


def _safe(value: float) -> float:
    return value if abs(value) > TINY else TINY
