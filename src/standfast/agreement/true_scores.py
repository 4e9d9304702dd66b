"""True shares of the points as a beta distribution: fitted to moments, and integrated over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import isclose, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaln, roots_jacobi

from standfast.problems import Refused

Floats = NDArray[np.float64]
NODES = 200
"""Nodes per side of the cut of true scores; the integrands are polynomials of lower degree."""
MOMENTS = 4


@dataclass(frozen=True)
class TrueScores:
    """A beta distribution of true shares of the points, between `lower` and `upper`."""

    alpha: float
    beta: float
    lower: float = 0.0
    upper: float = 1.0


def true_moments(counts: Floats, points: float) -> Floats:
    """Raw moments of true shares: descending powers of counts over descending powers of points."""
    moments, above, below = [], np.ones_like(counts), 1.0
    for order in range(MOMENTS):
        above = above * (counts - order)
        below *= points - order
        moments.append(float(above.mean()) / below)
    return np.array(moments)


def two_parameter_beta(moments: Floats) -> TrueScores:
    """The beta on 0 to 1 with the first two moments.

    Raises:
        Refused: there is none.
    """
    mean, variance = float(moments[0]), float(moments[1] - moments[0] ** 2)
    if not 0 < variance < mean * (1 - mean):
        raise Refused("the scores leave no spread of true scores for a beta distribution")
    total = mean * (1 - mean) / variance - 1
    return TrueScores(mean * total, (1 - mean) * total)


def four_parameter_beta(moments: Floats) -> TrueScores | None:
    """The beta with the first four moments, or None where there is none.

    Source: Hanson (1991); Johnson, Kotz & Balakrishnan (1995), vol. 2, ch. 25.
    """
    m1, m2, m3, m4 = map(float, moments)
    variance = m2 - m1**2
    if variance <= 0:
        return None
    skew = (m3 - 3 * m1 * m2 + 2 * m1**3) / variance**1.5
    kurtosis = (m4 - 4 * m1 * m3 + 6 * m1**2 * m2 - 3 * m1**4) / variance**2
    below = 6 + 3 * skew**2 - 2 * kurtosis
    if isclose(below, 0, abs_tol=1e-12):
        return None
    total = 6 * (kurtosis - skew**2 - 1) / below
    inner = (total + 2) ** 2 * skew**2 + 16 * (total + 1)
    if total <= 0 or inner <= 0:
        return None
    lean = total / 2 * (total + 2) * abs(skew) / sqrt(inner)
    small, large = total / 2 - lean, total / 2 + lean
    if small <= 0:
        return None
    alpha, beta = (large, small) if skew < 0 else (small, large)
    width = sqrt(variance * total**2 * (total + 1) / (alpha * beta))
    lower = m1 - alpha / total * width
    return TrueScores(alpha, beta, lower, lower + width)


def share_below(truth: TrueScores, cut: float) -> float:
    """The share of true scores below the cut."""
    at = min(max((cut - truth.lower) / (truth.upper - truth.lower), 0.0), 1.0)
    return float(betainc(truth.alpha, truth.beta, at))


def over(
    truth: TrueScores, passing: Callable[[Floats], Floats], cut: float, *, upper: bool
) -> tuple[float, float]:
    """The integral of the chance of passing, and of its square, on one side of the cut.

    Gauss-Jacobi with the density's own power at the outer bound, so that a density without
    limit there costs nothing.
    """
    width = truth.upper - truth.lower
    edge = min(max((cut - truth.lower) / width, 0.0), 1.0)
    inner, outer = (edge, 1.0) if upper else (0.0, edge)
    if outer <= inner:
        return 0.0, 0.0
    power = truth.beta - 1 if upper else truth.alpha - 1
    nodes, weights = roots_jacobi(NODES, *((power, 0.0) if upper else (0.0, power)))
    half = (outer - inner) / 2
    at = inner + half * (1 + np.asarray(nodes))
    if edge in {0.0, 1.0}:
        return _whole(truth, passing)
    rest = at ** (truth.alpha - 1) if upper else (1 - at) ** (truth.beta - 1)
    density = np.asarray(weights) * half ** (power + 1) * rest
    density /= np.exp(betaln(truth.alpha, truth.beta))
    chance = passing(truth.lower + width * at)
    return float(density @ chance), float(density @ chance**2)


def _whole(truth: TrueScores, passing: Callable[[Floats], Floats]) -> tuple[float, float]:
    """The same when the cut lies outside the true scores: over all of them."""
    nodes, weights = roots_jacobi(NODES, truth.beta - 1, truth.alpha - 1)
    weights = np.asarray(weights) / np.asarray(weights).sum()
    chance = passing(truth.lower + (truth.upper - truth.lower) * (1 + np.asarray(nodes)) / 2)
    return float(weights @ chance), float(weights @ chance**2)
