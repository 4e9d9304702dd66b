"""The model as arrays: what each severity, difficulty and threshold adds to each score.

Everything is linear in the free parameters before the exponential, so that one design array
serves all three ways to fit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import bsr_array, csr_array

from standfast.agreement.rasch.linked import refuse_confounded, refuse_unlinked
from standfast.agreement.rasch.scores import Arranged, Floats, Whole

NEVER = -1e9
"""Log weight of a score that a criterion does not have."""


@dataclass(frozen=True)
class Structure:
    """Cells x scores, and the way from free parameters to named ones.

    `design` (cells x scores x free): what each free parameter adds to the log weight of a score;
    `plain` the same of named ones, sparse, cells and scores along one side; `shut` (cells x
    scores): 0, or `NEVER`; `contrast` (named x free): the named parameters, severities then
    difficulties then thresholds, from the free ones, so that each kind sums to 0.  `cells` are
    (assessor, criterion); `group` the set of thresholds of each cell, `tops` how many each set
    has, `starts` where it begins among the named.
    """

    design: Floats
    plain: csr_array
    shut: Floats
    contrast: Floats
    steps: Floats
    """0, 1, ... up to the highest score."""
    cells: Whole
    group: Whole
    tops: list[int]
    starts: Whole

    @property
    def named(self) -> int:
        """How many named parameters there are."""
        return len(self.contrast)

    @property
    def groups_start(self) -> int:
        """How many of them are severities and difficulties."""
        return int(self.starts[0])

    def weights(self, free: Floats) -> Floats:
        """Log weight of each score in each cell, for a person at 0: cells x scores."""
        return np.asarray(
            (self.plain @ (self.contrast @ free)).reshape(self.shut.shape) + self.shut
        )


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
    group = made.cells[:, 1] if made.thresholds == "own" else np.zeros(len(made.cells), int)
    plain = plain_design(made, group, tops, starts)
    steps = np.arange(made.top + 1.0)
    shut = np.where(steps > np.array(tops)[group][:, None], NEVER, 0.0)
    contrast = block_diagonal([sum_to_zero(count) for count in (assessors, criteria, *tops)])
    placed = contrast[: assessors + criteria, : assessors + criteria - 2]
    refuse_confounded(made, used, placed)
    design = (plain @ contrast).reshape(*shut.shape, contrast.shape[1])
    return Structure(design, plain, shut, contrast, steps, made.cells, group, tops, starts)


def plain_design(made: Arranged, group: Whole, tops: list[int], starts: Whole) -> csr_array:
    """What each named parameter adds to the log weight of each score: (cells x scores) x named."""
    cell, k = (part.ravel() for part in np.indices((len(made.cells), made.top + 1)))
    within = k <= np.array(tops)[group[cell]]
    cell, k = cell[within], k[within]
    row = cell * (made.top + 1) + k
    assessor, criterion = made.cells[cell].T
    rows, columns = [row, row], [assessor, len(made.assessors) + criterion]
    values = [-k, -k]
    for step in range(made.top):
        past = k > step
        rows.append(row[past])
        columns.append(starts[group[cell[past]]] + step)
        values.append(np.full(int(past.sum()), -1))
    shape = (len(made.cells) * (made.top + 1), int(starts[-1]))
    where = (np.concatenate(rows), np.concatenate(columns))
    return csr_array((np.concatenate(values).astype(float), where), shape=shape)


def chances(log_weights: Floats) -> tuple[Floats, Floats]:
    """Probabilities along the second axis, and the log of what they were divided by."""
    highest = log_weights.max(axis=1, keepdims=True)
    raised = np.exp(log_weights - highest)
    total = raised.sum(axis=1, keepdims=True)
    return raised / total, np.log(total) + highest


def spread(structure: Structure, covariances: Floats) -> Floats:
    """Information of the free parameters from the covariance of the scores in each cell.

    `covariances` is cells x scores x scores.
    """
    cells, levels = structure.shut.shape
    blocks = (covariances, np.arange(cells), np.arange(cells + 1))
    among = bsr_array(blocks, shape=(cells * levels,) * 2).tocsr()
    named = structure.plain.T @ (among @ structure.plain)
    return np.asarray(structure.contrast.T @ (named @ structure.contrast))
