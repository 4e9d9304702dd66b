"""Krippendorff's alpha: disagreement seen against disagreement expected, for any metric and gaps.

Everything is in one small matrix, the coincidences: how often two scores of a subject were c and
k.  Counting scores of each subject (`bincount`) and one matrix product give it for a million
ratings in a few hundredths of a second.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import ArrayLike

from standfast.agreement.coefficients import linearised
from standfast.agreement.estimate import Estimate
from standfast.agreement.scores import MISSING, Floats, Ints, counted, rectangle
from standfast.agreement.weights import Weights
from standfast.problems import Refused

SOURCE = "Krippendorff (2011), Computing Krippendorff's Alpha-Reliability"
_CELLS = 4_000_000  # of subject by value that are held at once
_MOST_VALUES = 2_000


def krippendorff_alpha(
    ratings: ArrayLike, metric: str | Weights = "nominal", level: float = 0.95
) -> Estimate:
    """Krippendorff's alpha of ratings (subjects x assessors, NaN = missing).

    `metric` is nominal, ordinal, interval or ratio, or weights for the values that were given,
    ascending.  Subjects with one score are left out of everything.  Error and t interval are
    Gwet's linearised ones; the ordinal metric moves with the shares of the levels and has none:
    take the bootstrap.

    Raises:
        Refused: no subject scored twice, no variation, a negative value under the ratio metric,
            or more than 2,000 different values.

    Source: Krippendorff (2011), sections A to D; error: Gwet (2014).
    """
    codes, values = codes_of(rectangle(ratings))
    codes = codes[(codes != MISSING).sum(axis=1) >= 2]  # noqa: PLR2004 - a pair
    _refuse(codes, values, metric)
    coincidences = sum_of_coincidences(codes, len(values))
    distance = distances(metric, values, coincidences.sum(axis=0))
    value = float(alpha_of(coincidences, distance))
    name = f"krippendorff_alpha_{metric.name if isinstance(metric, Weights) else metric}"
    if metric == "ordinal":
        return Estimate(name, value, len(codes), SOURCE, level=level, method="no error: bootstrap")
    parts = _parts(codes, distance, coincidences)
    return linearised(name, value, parts, SOURCE, level)


def alpha_of(coincidences: Floats, distance: Floats) -> Floats:
    """Alpha of coincidences (... x q x q); NaN where nothing varies.

    >>> float(alpha_of(np.array([[4.0, 0.0], [0.0, 2.0]]), 1 - np.eye(2)))
    1.0
    """
    margin = coincidences.sum(axis=-1)
    total = margin.sum(axis=-1)
    seen = (coincidences * distance).sum(axis=(-2, -1))
    pairs = margin[..., :, None] * margin[..., None, :]
    expected = (pairs * distance).sum(axis=(-2, -1))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(1.0 - (total - 1.0) * seen / expected)


def codes_of(table: Floats) -> tuple[Ints, Floats]:
    """Each score's place in the list of values that were given (`MISSING` for a gap), and the list.

    Whole numbers close together are counted instead of sorted, which is ten times faster.
    """
    given = ~np.isnan(table)
    filled = np.where(given, table, 0.0)
    low, high = (filled.min(), filled.max()) if table.size else (0.0, 0.0)
    if high - low < _MOST_VALUES and (filled == np.rint(filled)).all():
        places = (filled - low).astype(np.int64)
        used = np.bincount(places[given], minlength=int(high - low) + 1) > 0
        shift = np.cumsum(used) - 1
        return np.where(given, shift[places], MISSING), np.flatnonzero(used) + low
    values, flat = np.unique(table[given], return_inverse=True)
    codes = np.full(table.shape, MISSING, dtype=np.int64)
    codes[given] = flat
    return codes, values


def coincidences_of(codes: Ints, size: int) -> Floats:
    """The coincidences that each subject adds (n x q x q), for the bootstrap."""
    counts = counted(codes, size)
    pairs = counts[:, :, None] * counts[:, None, :] - counts[:, :, None] * np.eye(size)
    return np.asarray(pairs / np.maximum(counts.sum(axis=1) - 1.0, 1.0)[:, None, None])


def sum_of_coincidences(codes: Ints, size: int) -> Floats:
    """The coincidences of all subjects (q x q); their sum is the number of pairable scores."""
    total = np.zeros((size, size))
    for counts in _blocks(codes, size):
        scaled = counts / np.maximum(counts.sum(axis=1) - 1.0, 1.0)[:, None]
        total += scaled.T @ counts
        total[np.diag_indices(size)] -= scaled.sum(axis=0)
    return total


def distances(metric: str | Weights, values: Floats, margin: Floats) -> Floats:
    """Squared distance of each two values (q x q) under the metric.

    `margin` is how often each value was given; only the ordinal metric asks.
    """
    if isinstance(metric, Weights):
        return np.asarray(1.0 - metric.matrix)
    return METRICS[metric](values, margin)


def _refuse(codes: Ints, values: Floats, metric: str | Weights) -> None:
    if not len(codes):
        raise Refused(
            "no two assessors scored the same subject, so nothing says whether they agree",
            ["needed: at least two assessors who score the same practicals"],
        )
    used = np.unique(codes[codes != MISSING])
    if len(used) < 2:  # noqa: PLR2004 - a difference
        raise Refused(
            f"every score that can be compared is {values[used[0]]:g}: without variation, alpha "
            "is not defined",
            ["needed: practicals that differ, so that more than one level is given"],
        )
    if len(values) > _MOST_VALUES:
        raise Refused(f"{len(values)} different values, at most {_MOST_VALUES}; round the scores")
    if isinstance(metric, Weights):
        if metric.matrix.shape != (len(values), len(values)):
            raise Refused(f"weights are for {len(metric.matrix)} values, given were {len(values)}")
    elif metric not in METRICS:
        raise Refused(f"no metric '{metric}'; known: {', '.join(METRICS)}")
    elif metric == "ratio" and values[0] < 0:
        raise Refused(f"the ratio metric needs values of at least 0; there is {values[0]:g}")


def _blocks(codes: Ints, size: int) -> Iterator[Floats]:
    rows = max(1, _CELLS // (size + 1))
    for first in range(0, len(codes), rows):
        yield counted(codes[first : first + rows], size)


def _parts(codes: Ints, distance: Floats, coincidences: Floats) -> Floats:
    """Each subject's part in alpha (n, about 0), linearised after Gwet (2014)."""
    n = len(codes)
    margin = coincidences.sum(axis=0)
    mean_given = margin.sum() / n
    share = margin / margin.sum()
    weights = 1.0 - distance / distance.max()
    toward = (weights @ share + share @ weights) / 2
    agreeing, expected, given = [], [], []
    for counts in _blocks(codes, len(share)):
        each = counts.sum(axis=1)
        pairs = (counts * (counts @ weights - 1.0)).sum(axis=1)
        agreeing.append(pairs / (mean_given * (each - 1.0)))
        expected.append(counts @ toward / mean_given)
        given.append(each / mean_given - 1.0)
    of_pairs, of_chance, more = map(np.concatenate, (agreeing, expected, given))
    agreement, chance = float(of_pairs.mean()), float(share @ weights @ share)
    value = (agreement - chance) / (1.0 - chance)
    corrected = agreement + (1.0 - agreement) / margin.sum()  # alpha's own, for few scores
    parts = (of_pairs - corrected * more - chance) / (1.0 - chance)
    moved = 2.0 * (1.0 - value) * (of_chance - chance * more - chance) / (1.0 - chance)
    return np.asarray(parts - moved - value)


def _nominal(values: Floats, margin: Floats) -> Floats:  # noqa: ARG001 - one shape
    return 1.0 - np.eye(len(values))


def _ordinal(values: Floats, margin: Floats) -> Floats:  # noqa: ARG001 - one shape
    middle = np.cumsum(margin) - margin / 2
    return np.square(middle[:, None] - middle[None, :])


def _interval(values: Floats, margin: Floats) -> Floats:  # noqa: ARG001 - one shape
    return np.square(values[:, None] - values[None, :])


def _ratio(values: Floats, margin: Floats) -> Floats:  # noqa: ARG001 - one shape
    total = values[:, None] + values[None, :]
    apart = values[:, None] - values[None, :]
    return np.square(np.divide(apart, total, out=np.zeros_like(apart), where=total != 0))


METRICS: dict[str, Callable[[Floats, Floats], Floats]] = {
    "nominal": _nominal,
    "ordinal": _ordinal,
    "interval": _interval,
    "ratio": _ratio,
}
