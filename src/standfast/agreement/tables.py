"""Kappa from tables, with the large-sample errors that textbooks print."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from standfast.agreement.coefficients import fleiss_kappa, key_of
from standfast.agreement.counting import MISSING, Floats, Ints
from standfast.agreement.estimate import Estimate
from standfast.agreement.scores import Scores, rectangle, scores_of_counts
from standfast.agreement.weights import Weights, own_weights, weights_for
from standfast.problems import Refused

FLEISS_COHEN_EVERITT = "Cohen (1960, 1968); error: Fleiss, Cohen & Everitt (1969)"
FLEISS_NEE_LANDIS = "Fleiss (1971); error: Fleiss, Nee & Landis (1979)"


@dataclass(frozen=True)
class KappaOfTable:
    """Kappa of two assessors, and what it is made of."""

    kappa: Estimate
    se_h0: float
    """Standard error if the two agreed only by chance: for a test, not for an interval."""
    agreement: float
    chance: float


def square_table(scores: Scores) -> Floats:
    """How often the first assessor gave the row while the second gave the column (q x q).

    Raises:
        Refused: not two assessors.
    """
    if scores.codes.shape[1] != 2:  # noqa: PLR2004 - rows and columns
        raise Refused(f"a square table is of two assessors, there are {scores.codes.shape[1]}")
    return _cells(scores.codes, len(scores.categories))


def kappa_of_table(
    table: ArrayLike, weights: Weights | None = None, level: float = 0.95
) -> KappaOfTable:
    """Kappa of a square table of counts, with large-sample errors and a normal interval.

    Weights need not be symmetric: row the first assessor's score, column the second's.  For a
    few dozen subjects or fewer the bootstrap is safer than either error.

    Raises:
        Refused: not a square table of counts, nothing in it, or no variation.

    Source: Fleiss, Cohen & Everitt (1969), Psychol Bull 72, 323-327.
    """
    cells = _counts(table)
    weights = weights or weights_for("identity", np.arange(len(cells)))
    w = own_weights(weights.matrix, size=len(cells)).matrix
    n = cells.sum()
    p = cells / n
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    agreement, chance = float((w * p).sum()), float(rows @ w @ columns)
    if 1.0 - chance < 1e-12:  # noqa: PLR2004 - what rounding leaves of 0
        raise Refused(
            "both assessors gave one and the same level throughout: nothing to tell apart"
        )
    kappa = (agreement - chance) / (1.0 - chance)
    margin = (w @ columns)[:, None] + (rows @ w)[None, :]
    spread = float((p * np.square(w * (1 - chance) - margin * (1 - agreement))).sum())
    spread -= (agreement * chance - 2 * chance + agreement) ** 2
    spread_h0 = float((np.outer(rows, columns) * np.square(w - margin)).sum()) - chance**2
    se = math.sqrt(max(0.0, spread) / n) / (1.0 - chance) ** 2
    se_h0 = math.sqrt(max(0.0, spread_h0) / n) / (1.0 - chance)
    return KappaOfTable(_normal(weights, kappa, se, int(n), level), se_h0, agreement, chance)


@dataclass(frozen=True)
class KappaOfPair:
    """Kappa of two of many assessors, on the subjects that both scored."""

    first: int
    """Which column of the ratings the first one is."""
    second: int
    found: KappaOfTable | None
    why: str = ""
    """Why there is none."""


def kappa_of_each_pair(
    scores: Scores, weights: Weights | None = None, level: float = 0.95
) -> tuple[KappaOfPair, ...]:
    """Kappa of every two assessors: who is out of step with whom.

    A pair uses the subjects that both scored; one without any, or without variation, says so.

    Source: Light (1971), Psychol Bull 76, 365-377 (from memory), who takes their mean.
    """
    pairs = []
    for first, second in itertools.combinations(range(scores.codes.shape[1]), 2):
        names = int(scores.assessors[first]), int(scores.assessors[second])
        cells = _cells(scores.codes[:, [first, second]], len(scores.categories))
        try:
            pairs.append(KappaOfPair(*names, kappa_of_table(cells, weights, level)))
        except Refused as refusal:
            pairs.append(KappaOfPair(*names, None, refusal.what))
    return tuple(pairs)


def light_kappa(scores: Scores, weights: Weights | None = None) -> Estimate:
    """Mean of the kappas of every two assessors; it has no published error.

    Raises:
        Refused: some pair has no kappa; names the columns and says why.

    Source: Light (1971), Psychol Bull 76, 365-377 (from memory).
    """
    pairs = kappa_of_each_pair(scores, weights)
    missing = [
        f"assessors {each.first} and {each.second}: {each.why}" for each in pairs if each.why
    ]
    if missing or not pairs:
        raise Refused("not every two assessors have a kappa, so there is no mean of them", missing)
    mean = float(np.mean([each.found.kappa.value for each in pairs if each.found]))
    return Estimate("light_kappa", mean, len(scores.counts), "Light (1971)", method="mean of pairs")


@dataclass(frozen=True)
class FleissOfCounts:
    """Fleiss' kappa, over all and for each category."""

    kappa: Estimate
    se_h0: float
    """Standard error if all agreed only by chance (1979; the formula of 1971 was in error)."""
    by_category: tuple[float, ...]
    """Kappa of each category against all others; NaN for one that nobody or everybody gave."""
    category_se_h0: float
    """The same for each category."""


def fleiss_of_counts(counts: ArrayLike) -> FleissOfCounts:
    """Fleiss' kappa by category, when every subject has the same number of scores.

    `counts` is n x q: how many assessors gave the subject that category.

    Raises:
        Refused: subjects with different numbers of scores, and as `fleiss_kappa`.

    Source: Fleiss (1971), Psychol Bull 76, 378-382; Fleiss, Nee & Landis (1979), Psychol Bull
    86, 974-977.
    """
    scores = scores_of_counts(counts)
    kappa = fleiss_kappa(scores)
    per_subject = np.unique(scores.counts.sum(axis=1))
    if len(per_subject) > 1:
        raise Refused("kappa by category needs the same number of scores for every subject")
    m, n = float(per_subject[0]), len(scores.counts)
    p = scores.counts.mean(axis=0) / m
    pq = p * (1.0 - p)
    unlike = (scores.counts * (m - scores.counts)).sum(axis=0) / (n * m * (m - 1.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        by_category = 1.0 - unlike / pq
    alone = math.sqrt(2.0 / (n * m * (m - 1.0)))
    spread = float(pq.sum() ** 2 - (pq * (1.0 - 2.0 * p)).sum())
    se_h0 = alone * math.sqrt(max(0.0, spread)) / float(pq.sum())
    return FleissOfCounts(kappa, se_h0, tuple(map(float, by_category)), alone)


def _cells(codes: Ints, size: int) -> Floats:
    first, second = codes.T
    cells = first * size + second
    if (codes == MISSING).any():
        cells = cells[(first != MISSING) & (second != MISSING)]
    cells = np.bincount(cells, minlength=size * size)
    return cells.reshape(size, size).astype(float)


def _counts(table: ArrayLike) -> Floats:
    cells = rectangle(table)
    if cells.shape[0] != cells.shape[1] or not (cells >= 0).all():
        raise Refused("a table of two assessors is square and holds counts of at least 0")
    if not cells.any():
        raise Refused("the table is empty: the two scored no subject in common")
    return cells


def _normal(weights: Weights, kappa: float, se: float, n: int, level: float) -> Estimate:
    from scipy.special import ndtri  # the normal quantile, without loading scipy.stats

    reach = float(ndtri(0.5 + level / 2)) * se
    name = key_of("cohen_kappa" if weights.name == "identity" else "weighted_kappa", weights)
    low, high = max(-1.0, kappa - reach), min(1.0, kappa + reach)
    return Estimate(
        name, kappa, n, FLEISS_COHEN_EVERITT, se, low, high, level, "large sample, normal interval"
    )
