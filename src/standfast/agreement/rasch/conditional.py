"""Severities with persons left out of the question: conditional maximum likelihood.

Given a person's total, which of the scores were high does not depend on the person: so nothing
need be supposed about persons.  Persons at an end tell nothing.  The sums over all ways to reach
a total (elementary symmetric functions) are built up score by score, only by adding and
multiplying positive numbers; slopes by running that backwards.
Source: Andersen (1970), JRSS B 32; Fischer (1981), Psychometrika 46 (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from standfast.agreement.rasch.answer import answer
from standfast.agreement.rasch.fitted import Fitted, Settled, certain
from standfast.agreement.rasch.scores import (
    Arranged,
    Floats,
    Scored,
    Thresholds,
    Whole,
    arranged,
)
from standfast.agreement.rasch.structure import Structure, structure_of
from standfast.problems import Refused

APART = 1e-4
"""Logits to each side over which the slope is compared to get the curvature."""
MOST_STEPS = 500
POLISHING = 10
SETTLED = 1e-9
AT_ONCE = 2_000_000
"""Numbers in a table of sums; more patterns than fit are taken in turn."""


def fit_conditional(scores: Scored, *, thresholds: Thresholds = "common") -> Fitted:
    """Where everybody stands, nothing supposed about persons.

    Persons' measures are the likeliest ones given the severities.

    Raises:
        Refused: the scores do not hang together, all persons are at an end, or no settling.
    """
    made = arranged(scores, thresholds, extreme_persons_count=False)
    used = np.flatnonzero(~made.extreme[made.person])
    structure = structure_of(made, used)
    patterns = patterns_of(made, structure, used)
    settled = climb(patterns, structure)
    return answer(made, structure, settled, "conditional maximum likelihood")


@dataclass(frozen=True)
class Patterns:
    """Persons with the same cells taken together.

    `cells` (patterns x most ratings) has the cells each was scored in, filled up with one past
    the last; `totals` (patterns x totals) how many persons had each total; `seen` (cells x
    scores) how often each score was given.
    """

    structure: Structure
    cells: Whole
    totals: Floats
    seen: Floats

    def look(self, free: Floats) -> tuple[float, Floats]:
        """Conditional log-likelihood, and its slope by each free parameter."""
        weights = self.structure.weights(free)
        # Unlikely scores are kept from under the smallest number: taking the same off a whole
        # cell changes nothing once it is taken off the total as well.
        shift = weights.max(axis=1, keepdims=True)
        rise = np.exp(weights - shift)
        rise = np.vstack((rise, np.eye(1, rise.shape[1])))
        expected, logs = np.zeros(rise.shape), 0.0
        for rows in self.batches():
            part, log = ways(rise[self.cells[rows]], self.totals[rows])
            np.add.at(expected, self.cells[rows].ravel(), part.reshape(-1, rise.shape[1]))
            logs += log
        open_scores = self.structure.shut == 0
        given = float((self.seen * (weights - shift))[open_scores].sum())
        left = self.seen - expected[:-1]
        slope = np.tensordot(left, self.structure.design, axes=2)
        return given - logs, slope

    def batches(self) -> list[slice]:
        """Patterns in lots whose tables fit in memory."""
        size = self.totals.shape[1] * (self.cells.shape[1] + 1)
        lot = max(1, AT_ONCE // size)
        return [slice(at, at + lot) for at in range(0, len(self.cells), lot)]


def patterns_of(made: Arranged, structure: Structure, used: Whole) -> Patterns:
    """The used ratings by pattern of cells.

    Raises:
        Refused: there is none.
    """
    if not len(used):
        raise Refused("every person has every score at one end, so nobody tells anything")
    order = used[np.lexsort((made.cell[used], made.person[used]))]
    people, person = np.unique(made.person[order], return_inverse=True)
    n = np.bincount(person)
    nth = np.arange(len(order)) - np.repeat(np.cumsum(n) - n, n)
    filled = np.full((len(people), n.max()), len(made.cells))
    filled[person, nth] = made.cell[order]
    cells, pattern = np.unique(filled, axis=0, return_inverse=True)
    total = np.bincount(person, weights=made.score[order]).astype(int)
    totals = np.zeros((len(cells), n.max() * made.top + 1))
    np.add.at(totals, (pattern.ravel(), total), 1)
    seen = np.zeros(structure.shut.shape)
    np.add.at(seen, (made.cell[order], made.score[order]), 1)
    return Patterns(structure, cells, totals, seen)


def ways(rise: Floats, totals: Floats) -> tuple[Floats, float]:
    """Expected scores of each pattern given the totals, and the log of all ways to reach them.

    `rise` is patterns x ratings x scores (weights, not logs), `totals` patterns x totals counts.
    """
    patterns, ratings, levels = rise.shape
    sums = np.zeros((ratings + 1, *totals.shape))
    sums[0, :, 0] = 1
    scale = np.zeros((ratings, patterns))
    for at in range(ratings):
        for k in range(levels):
            sums[at + 1, :, k:] += rise[:, at, k, None] * shifted(sums[at], k)
        scale[at] = sums[at + 1].sum(axis=1)
        sums[at + 1] /= scale[at][:, None]
    counted = totals > 0
    last = sums[-1]
    logs = float(totals[counted] @ np.log(last[counted]))
    logs += float(totals.sum(axis=1) @ np.log(scale).sum(axis=0))
    back = np.divide(totals, last, out=np.zeros_like(totals), where=counted)
    expected = np.zeros_like(rise)
    for at in reversed(range(ratings)):
        back /= scale[at][:, None]
        before = np.zeros_like(back)
        for k in range(levels):
            reached = rise[:, at, k, None] * back[:, k:]
            expected[:, at, k] = (reached * shifted(sums[at], k)).sum(axis=1)
            before[:, : before.shape[1] - k] += reached
        back = before
    return expected, logs


def shifted(table: Floats, k: int) -> Floats:
    """The columns that are still inside after moving `k` to the right."""
    return table[:, : table.shape[1] - k]


def climb(patterns: Patterns, structure: Structure) -> Settled:
    """A quasi-Newton climb, then Newton's steps at the top.

    Raises:
        Refused: not settled.
    """
    count = structure.design.shape[2]
    if count == 0:
        return Settled(np.zeros(0), np.zeros((0, 0)), patterns.look(np.zeros(0))[0], 0)

    def downhill(free: Floats) -> tuple[float, Floats]:
        loglik, slope = patterns.look(free)
        return -loglik, -slope

    found = minimize(
        downhill,
        np.zeros(count),
        jac=True,
        method="BFGS",
        options={"gtol": 1e-4, "maxiter": MOST_STEPS},
    )
    free = np.asarray(found.x)
    covariance = certain(curvature(patterns, free))
    for step in range(POLISHING):
        loglik, slope = patterns.look(free)
        if float(slope @ covariance @ slope) < SETTLED:
            free = free + covariance @ slope
            loglik, slope = patterns.look(free)
            return Settled(free, certain(curvature(patterns, free)), loglik, int(found.nit) + step)
        free = free + covariance @ slope
    raise Refused(
        f"the figures did not settle in {found.nit} steps; more scores, or fewer thresholds, "
        "are needed"
    )


def curvature(patterns: Patterns, free: Floats) -> Floats:
    """Information of the free parameters, from slopes a little to each side."""
    count = len(free)
    rows = np.empty((count, count))
    for at in range(count):
        away = np.zeros(count)
        away[at] = APART
        rows[at] = patterns.look(free - away)[1] - patterns.look(free + away)[1]
    rows /= 2 * APART
    return (rows + rows.T) / 2
