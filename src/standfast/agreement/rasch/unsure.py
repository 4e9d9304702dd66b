"""What it costs the figures that nobody knows where a person stands.

The cost is the covariance, over where the person may be, of the slope of the person's own
likelihood.  That slope bends little over a person's possible places, so it is written in
polynomials that are orthonormal under the belief, as many as add anything: a few for a person
with a hundred scores, where a sum over nodes would take dozens of large products.
Source: Louis (1982), JRSS B 44 (from memory); the polynomials by the recurrence of Stieltjes.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array

from standfast.agreement.rasch.scores import Floats, Whole
from standfast.agreement.rasch.structure import Structure

UNBELIEVED = 1e-14
"""Share of belief below which nobody of a lot is thought to be at a node."""
ADDS_NOTHING = 1e-10
"""Share of the whole cost; polynomials end when two in a row add less."""
MOST_BENDS = 40
AT_ONCE = 2_000_000
"""Numbers in the table of slopes of one lot of persons."""
MOST_PERSONS = 256


def unsure(
    structure: Structure,
    seen: csr_array,
    total: Floats,
    node: Floats,
    belief: Floats,
    chance: Floats,
) -> Floats:
    """The cost in information of the free parameters, then of mean and sd.

    `seen` persons x cells; `belief` persons x nodes; `chance` cells x scores x nodes.
    """
    wide = structure.named + 2
    cost = np.zeros((wide, wide))
    expected = np.tensordot(structure.steps, chance, (0, 1))
    reached = np.cumsum(chance[:, :0:-1], axis=1)[:, ::-1]  # chance of at least 1, 2, ...
    order = np.argsort(belief @ node)
    lot = max(1, min(MOST_PERSONS, AT_ONCE // (wide * min(len(node), 24))))
    for at in range(0, len(order), lot):
        rows = order[at : at + lot]
        near = np.flatnonzero((belief[rows] > UNBELIEVED).any(axis=0))
        part = slice(int(near[0]), int(near[-1]) + 1)
        slopes = slopes_of(structure, seen[rows], expected[:, part], reached[:, :, part])
        left = total[rows, None] - seen[rows] @ expected[:, part]
        both = np.stack((left, node[part] * left), axis=1)
        cost += covariance(np.concatenate((slopes, both), axis=1), belief[rows, part], node[part])
    to_free = np.zeros((wide, structure.contrast.shape[1] + 2))
    to_free[:-2, :-2] = structure.contrast
    to_free[-2:, -2:] = np.eye(2)
    return np.asarray(to_free.T @ cost @ to_free)


def slopes_of(structure: Structure, seen: csr_array, expected: Floats, reached: Floats) -> Floats:
    """Persons x named x nodes: the part of each slope that depends on where the person is."""
    people, nodes = seen.shape[0], expected.shape[1]
    facets = structure.groups_start
    person = np.repeat(np.arange(people), np.diff(seen.indptr))
    cell, found = seen.indices, np.zeros((people, structure.named, nodes))

    def gathered(member: Whole, count: int, table: Floats) -> Floats:
        shape = (people * count, seen.shape[1])
        sums = csr_array((seen.data, (person * count + member[cell], cell)), shape=shape)
        return np.asarray((sums @ table).reshape(people, count, nodes))

    assessor, criterion = structure.cells.T
    split = int(assessor.max()) + 1
    found[:, :split] = gathered(assessor, split, expected)
    found[:, split:facets] = gathered(criterion, facets - split, expected)
    for k in range(reached.shape[1]):
        sums = gathered(structure.group, len(structure.tops), reached[:, k])
        for group, top in enumerate(structure.tops):
            if k < top:
                found[:, structure.starts[group] + k] = sums[:, group]
    return found


def covariance(slopes: Floats, belief: Floats, node: Floats) -> Floats:
    """Sum over persons of the covariance of `slopes` (persons x named x nodes) under `belief`."""
    belief = belief / belief.sum(axis=1, keepdims=True)
    cost, small = np.zeros((slopes.shape[1],) * 2), 0
    before, now = np.zeros_like(belief), np.ones_like(belief)
    length = np.zeros((len(belief), 1))
    for _ in range(min(MOST_BENDS, len(node) - 1)):
        middle = (belief * node * now**2).sum(axis=1, keepdims=True)
        ahead = (node - middle) * now - length * before
        length = np.sqrt((belief * ahead**2).sum(axis=1, keepdims=True))
        certain = length < 1e-7  # noqa: PLR2004 - nothing but rounding is left
        before, now = now, np.where(certain, 0, ahead / np.where(certain, 1, length))
        share = (slopes @ (belief * now)[:, :, None])[:, :, 0]
        added = share.T @ share
        cost += added
        small = small + 1 if np.trace(added) <= ADDS_NOTHING * np.trace(cost) else 0
        if small == 2:  # noqa: PLR2004 - one alone may vanish by symmetry
            break
    return cost
