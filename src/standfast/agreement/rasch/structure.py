"""The model as arrays: what each severity, difficulty and threshold adds to each score.

Everything is linear in the free parameters before the exponential, so that one design array
serves all three ways to fit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standfast.agreement.rasch.linked import refuse_confounded, refuse_unlinked
from standfast.agreement.rasch.scores import Arranged, Floats, Whole

NEVER = -1e9
"""Log weight of a score that a criterion does not have."""


@dataclass(frozen=True)
class Structure:
    """Cells x scores, and the way from free parameters to named ones.

    `design` (cells x scores x free): what each free parameter adds to the log weight of a score;
    `shut` (cells x scores): 0, or `NEVER`; `contrast` (named x free): the named parameters,
    severities then difficulties then thresholds, from the free ones, so that each kind sums to 0.
    """

    design: Floats
    shut: Floats
    contrast: Floats
    steps: Floats
    """0, 1, ... up to the highest score."""

    def weights(self, free: Floats) -> Floats:
        """Log weight of each score in each cell, for a person at 0: cells x scores."""
        return np.asarray(self.design @ free + self.shut)


def sum_to_zero(count: int) -> Floats:
    """`count` figures from one fewer, the last being minus the sum of the others."""
    return np.vstack((np.eye(count - 1), -np.ones((1, count - 1))))


def block_diagonal(blocks: list[Floats]) -> Floats:
    """The blocks along the diagonal, zeros elsewhere."""
    rows, columns = (sum(block.shape[axis] for block in blocks) for axis in (0, 1))
    whole, row, column = np.zeros((rows, columns)), 0, 0
    for block in blocks:
        whole[row : row + block.shape[0], column : column + block.shape[1]] = block
        row, column = row + block.shape[0], column + block.shape[1]
    return whole


def threshold_tops(made: Arranged) -> list[int]:
    """How many thresholds each set has: one set, or one for each criterion."""
    return [made.top] if made.thresholds == "common" else [int(top) for top in made.tops]


def structure_of(made: Arranged, used: Whole) -> Structure:
    """The model for these scores; `used` are the positions of the ratings that count.

    Raises:
        Refused: the scores do not hang together.
    """
    refuse_unlinked(made, used)
    assessors, criteria = len(made.assessors), len(made.criteria)
    tops = threshold_tops(made)
    starts = assessors + criteria + np.concatenate(([0], np.cumsum(tops)))
    named = np.zeros((len(made.cells), made.top + 1, int(starts[-1])))
    shut = np.zeros(named.shape[:2])
    for at, (assessor, criterion) in enumerate(made.cells):
        group = 0 if made.thresholds == "common" else criterion
        for k in range(made.top + 1):
            if k > tops[group]:
                shut[at, k] = NEVER
                continue
            named[at, k, [assessor, assessors + criterion]] = -k
            named[at, k, starts[group] : starts[group] + k] = -1
    contrast = block_diagonal([sum_to_zero(count) for count in (assessors, criteria, *tops)])
    lines = named[:, 1, : assessors + criteria] @ contrast[: assessors + criteria]
    placed = contrast[: assessors + criteria, : assessors + criteria - 2]
    refuse_confounded(made, used, lines[:, : placed.shape[1]], placed)
    return Structure(named @ contrast, shut, contrast, np.arange(made.top + 1.0))


def chances(log_weights: Floats) -> tuple[Floats, Floats]:
    """Probabilities along the second axis, and the log of what they were divided by."""
    highest = log_weights.max(axis=1, keepdims=True)
    raised = np.exp(log_weights - highest)
    total = raised.sum(axis=1, keepdims=True)
    return raised / total, np.log(total) + highest


def spread(design: Floats, covariances: Floats) -> Floats:
    """Information of the free parameters from the covariance of the scores in each cell.

    `covariances` is cells x scores x scores.
    """
    flat = design.reshape(-1, design.shape[2])
    return np.asarray(flat.T @ (covariances @ design).reshape(flat.shape))
