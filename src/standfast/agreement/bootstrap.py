"""How sure a figure is, by drawing subjects again: no formula, only the data.

Whatever a figure is made from is added up over subjects, so each subject's part is worked out
once.  A draw is then how often each subject came up, times those parts: one matrix product for
many draws, instead of computing every figure from ratings again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from standfast.agreement.alpha import (
    alpha_of,
    alpha_of_counts,
    coincidences_of,
    distances,
    value_counts,
)
from standfast.agreement.coefficients import (
    Coefficient,
    coefficient_of,
    subject_tables,
    sums_of,
    value_of,
)
from standfast.agreement.counting import Floats
from standfast.agreement.estimate import Estimate
from standfast.agreement.scores import Scores, rectangle
from standfast.agreement.weights import Weights, weights_for
from standfast.problems import Refused

DRAWS = 2_000
SOURCE = "Efron & Tibshirani (1993), An Introduction to the Bootstrap, chapter 13"  # from memory
_CELLS = 2_000_000  # of draw by subject that are held at once
_MOST_LOST = 0.05
_SHORT = 65_536

Figure = Callable[[Floats], Floats]


def drawn(tables: Floats, figure: Figure, *, seed: int, draws: int = DRAWS) -> Floats:
    """The figure of each of `draws` samples of subjects (n drawn of n, with replacement).

    `tables` is n x T, what each subject adds; `figure` takes sums of them (draws x T) and gives
    a value for each row, NaN where there is none.  The same seed gives the same draws.
    """
    subjects = len(tables)
    random = np.random.default_rng(seed)
    values = np.empty(draws)
    at_once = max(1, _CELLS // max(1, subjects))
    for start in range(0, draws, at_once):
        here = min(at_once, draws - start)
        values[start : start + here] = figure(_times(random, here, subjects) @ tables)
    return values


def with_interval(estimate: Estimate, values: Floats, level: float = 0.95) -> Estimate:
    """The estimate with the percentile interval and standard deviation of its draws.

    Draws without a value are left out and counted in the method.

    Raises:
        Refused: more than one draw in twenty has no value.
    """
    kept = values[~np.isnan(values)]
    lost = len(values) - len(kept)
    if lost > _MOST_LOST * len(values):
        raise Refused(
            f"{lost} of {len(values)} draws of the subjects had no variation, so they say nothing "
            "of how sure the figure is",
            ["needed: more practicals that differ from each other"],
        )
    low, high = np.quantile(kept, [0.5 - level / 2, 0.5 + level / 2])
    method = f"percentile bootstrap over subjects, {len(values):,} draws"
    if lost:
        method += f", {lost} of them without variation left out"
    se = float(kept.std(ddof=1))
    return replace(estimate, se=se, low=float(low), high=float(high), level=level, method=method)


def bootstrapped(
    coefficient: Coefficient,
    scores: Scores,
    weights: Weights | None = None,
    *,
    seed: int,
    draws: int = DRAWS,
    level: float = 0.95,
) -> Estimate:
    """A coefficient with its bootstrap interval: `bootstrapped(FLEISS, scores, seed=7)`.

    Raises:
        Refused: as `coefficient_of` and `with_interval`.

    Source: Efron & Tibshirani (1993), chapter 13 (from memory).
    """
    estimate = coefficient_of(coefficient, scores, weights)
    weights = weights or weights_for("identity", scores.categories)
    size = len(scores.categories)

    def figure(sums: Floats) -> Floats:
        return value_of(coefficient, sums_of(sums, size), weights.matrix)

    tables = subject_tables(scores, weights, whose=coefficient.whose)
    values = drawn(tables, figure, seed=seed, draws=draws)
    return with_interval(estimate, values, level)


def bootstrapped_alpha(
    ratings: ArrayLike,
    metric: str | Weights = "nominal",
    *,
    seed: int,
    draws: int = DRAWS,
    level: float = 0.95,
) -> Estimate:
    """Krippendorff's alpha with its bootstrap interval over subjects, for any metric.

    Subjects are drawn anew; this is not the bootstrap of Hayes & Krippendorff (2007), which draws
    disagreements.  The ordinal metric is worked out anew for each draw.

    Raises:
        Refused: as `krippendorff_alpha` and `with_interval`.
    """
    counts, values = value_counts(rectangle(ratings))
    estimate = alpha_of_counts(counts, values, metric, level)
    counts = counts[counts.sum(axis=1) >= 2]  # noqa: PLR2004 - a pair
    size = len(values)

    def figure(sums: Floats) -> Floats:
        coincidences = sums.reshape(-1, size, size)
        if metric != "ordinal":
            return alpha_of(coincidences, distances(metric, values, coincidences[0].sum(axis=0)))
        each = [distances(metric, values, table.sum(axis=0)) for table in coincidences]
        return alpha_of(coincidences, np.array(each))

    tables = coincidences_of(counts).reshape(len(counts), size * size)
    return with_interval(estimate, drawn(tables, figure, seed=seed, draws=draws), level)


def _times(random: np.random.Generator, draws: int, subjects: int) -> Floats:
    """How often each subject came up in each draw (draws x subjects)."""
    short = np.uint16 if subjects <= _SHORT else np.uint32  # half the bits, half the time
    times = np.empty((draws, subjects))
    for row in times:
        row[:] = np.bincount(
            random.integers(subjects, size=subjects, dtype=short), minlength=subjects
        )
    return times
