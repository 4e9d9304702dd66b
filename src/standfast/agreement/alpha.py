"""Krippendorff's alpha: disagreement seen against disagreement expected, for any metric and gaps.

Everything is in one small matrix, the coincidences: how often two scores of a subject were c and
k.  It is added up over the different rows of counts that occur (`counting.tally_of`), which of a
million ratings are a few hundred or thousand.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from standfast.agreement.coefficients import linearised
from standfast.agreement.counting import Floats, coded, counted, refuse_size, tally_of
from standfast.agreement.estimate import Estimate
from standfast.agreement.scores import rectangle
from standfast.agreement.weights import Weights
from standfast.problems import Refused

SOURCE = "Krippendorff (2011), Computing Krippendorff's Alpha-Reliability"
_NO_ERROR = "no published error for this metric; take the bootstrap"


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
            or too many different values.

    Source: Krippendorff (2011), sections A to D; error: Gwet (2014).
    """
    tally = tally_of(rectangle(ratings))
    return alpha_of_counts(tally.counts, tally.values, metric, level, times=tally.times)


def alpha_of_long(
    subject: ArrayLike, score: ArrayLike, metric: str | Weights = "nominal", level: float = 0.95
) -> Estimate:
    """The same from equally long columns: subject (whole numbers from 0) and score (NaN = none).

    Who gave a score makes no difference to alpha.

    Raises:
        Refused: as `krippendorff_alpha`.
    """
    scores, subjects = np.asarray(score, dtype=float), np.asarray(subject, dtype=np.int64)
    if scores.shape != subjects.shape or (subjects < 0).any():
        raise Refused("each score needs its subject, as a whole number from 0")
    given = ~np.isnan(scores)
    if not given.all():
        scores, subjects = scores[given], subjects[given]
    values, codes = coded(scores)
    rows = int(subjects.max(initial=-1)) + 1
    refuse_size(rows, len(values))
    flat = np.bincount(subjects * len(values) + codes, minlength=rows * len(values))
    counts = flat.reshape(rows, len(values)).astype(float)
    return alpha_of_counts(counts, values, metric, level)


def alpha_of_counts(
    counts: Floats,
    values: Floats,
    metric: str | Weights = "nominal",
    level: float = 0.95,
    *,
    times: Floats | None = None,
) -> Estimate:
    """Alpha from how often each subject was given each value (n x q), values ascending.

    With `times` each row stands for so many subjects.

    Raises:
        Refused: as `krippendorff_alpha`.
    """
    times = np.ones(len(counts)) if times is None else times
    paired = counts @ np.ones(len(values)) >= 2  # noqa: PLR2004 - a pair
    if not paired.all():
        counts, times = counts[paired], times[paired]
    _refuse(counts, values, metric)
    coincidences = sum_of_coincidences(counts, times)
    distance = distances(metric, values, coincidences.sum(axis=0))
    value = float(alpha_of(coincidences, distance))
    name = f"krippendorff_alpha_{metric.name if isinstance(metric, Weights) else metric}"
    if metric == "ordinal":
        return Estimate(name, value, int(times.sum()), SOURCE, level=level, method=_NO_ERROR)
    parts = _parts(counts, times, distance, coincidences)
    return linearised(name, value, parts, SOURCE, level, times=times)


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


def value_counts(table: Floats) -> tuple[Floats, Floats]:
    """How often each subject was given each value (n x q), and the values, ascending."""
    values, codes = coded(table)
    refuse_size(len(table), len(values))
    return counted(codes, len(values)), values


def coincidences_of(counts: Floats) -> Floats:
    """The coincidences that each subject adds (n x q x q), for the bootstrap."""
    alone = counts[:, :, None] * np.eye(counts.shape[1])
    pairs = counts[:, :, None] * counts[:, None, :] - alone
    return np.asarray(pairs / np.maximum(counts.sum(axis=1) - 1.0, 1.0)[:, None, None])


def sum_of_coincidences(counts: Floats, times: Floats) -> Floats:
    """The coincidences of all subjects (q x q); their sum is the number of pairable scores.

    Each row of counts stands for `times` subjects.
    """
    given = counts @ np.ones(counts.shape[1])
    scaled = counts * (times / np.maximum(given - 1.0, 1.0))[:, None]
    total = scaled.T @ counts
    total[np.diag_indices(len(total))] -= np.ones(len(counts)) @ scaled
    return np.asarray(total)


def distances(metric: str | Weights, values: Floats, margin: Floats) -> Floats:
    """Squared distance of each two values (q x q) under the metric.

    `margin` is how often each value was given; only the ordinal metric asks.
    """
    if isinstance(metric, Weights):
        return np.asarray(1.0 - metric.matrix)
    return METRICS[metric](values, margin)


def _refuse(counts: Floats, values: Floats, metric: str | Weights) -> None:
    if not len(counts):
        raise Refused(
            "no two assessors scored the same subject, so nothing says whether they agree",
            ["needed: at least two assessors who score the same practicals"],
        )
    used = values[counts.any(axis=0)]
    if len(used) < 2:  # noqa: PLR2004 - a difference
        raise Refused(
            f"every score that can be compared is {used[0]:g}: without variation, alpha is not "
            "defined",
            ["needed: practicals that differ, so that more than one level is given"],
        )
    if isinstance(metric, Weights):
        if metric.matrix.shape != (len(values), len(values)):
            raise Refused(f"weights are for {len(metric.matrix)} values, given were {len(values)}")
    elif metric not in METRICS:
        raise Refused(f"no metric '{metric}'; known: {', '.join(METRICS)}")
    elif metric == "ratio" and values[0] < 0:
        raise Refused(f"the ratio metric needs values of at least 0; there is {values[0]:g}")


def _parts(counts: Floats, times: Floats, distance: Floats, coincidences: Floats) -> Floats:
    """Each subject's part in alpha (n, about 0), linearised after Gwet (2014)."""
    margin = coincidences.sum(axis=0)
    subjects = times.sum()
    mean_given = margin.sum() / subjects
    share = margin / margin.sum()
    weights = 1.0 - distance / distance.max()
    ones = np.ones(len(share))
    given = counts @ ones
    more = given / mean_given - 1.0
    of_pairs = (counts * (counts @ weights - 1.0)) @ ones / (mean_given * (given - 1.0))
    of_chance = counts @ (weights @ share + share @ weights) / (2.0 * mean_given)
    agreement, chance = float(times @ of_pairs) / subjects, float(share @ weights @ share)
    room = 1.0 - chance
    value = (agreement - chance) / room
    corrected = agreement + (1.0 - agreement) / margin.sum()  # alpha's own, for few scores
    parts = (of_pairs - corrected * more - chance) / room
    moved = 2.0 * (1.0 - value) * (of_chance - chance * more - chance) / room
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
