"""What ratings say of a normal crowd of persons: likelihood, slope and information at any figures.

A rating's log chance is (score x place + its weight - the log of what the cell divides by); only
the last needs persons x cells, so that one sparse product gives the likelihood and another one
the slope.  The ratings of a cell are never gone through one by one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array

from standfast.agreement.rasch.scores import Arranged, Floats, Whole
from standfast.agreement.rasch.structure import Structure, chances, spread
from standfast.agreement.rasch.unsure import unsure


@dataclass(frozen=True)
class Look:
    """Log-likelihood, chances (cells x scores x nodes), belief (persons x nodes), its sums.

    `weight` (cells x nodes) is how many ratings of the cell are believed to be of persons there.
    """

    loglik: float
    chance: Floats
    belief: Floats
    weight: Floats


LOT = 500
"""Persons of about the same place, who are looked at together."""
FAR, MARGIN = 8.0, 0.6
"""Beyond so many errors of a person's place, and this much of the crowd's spread, nothing is
believed: that would be 1e-15 of the whole."""


@dataclass(frozen=True)
class Lot:
    """Some persons, their counts and the turn of these, and the nodes at which they can be."""

    rows: Whole
    seen: csr_array
    turned: csr_array
    near: slice


@dataclass(frozen=True)
class Crowd:
    """Persons x cells counts, how often each score was given, the nodes, and lots of persons."""

    structure: Structure
    seen: csr_array
    lots: tuple[Lot, ...]
    counts: Floats
    total: Floats
    node: Floats
    log_share: Floats

    @classmethod
    def of(cls, made: Arranged, structure: Structure, rule: tuple[Floats, Floats]) -> Crowd:
        """The ratings as sparse tables, and a rule of nodes with the logs of their shares."""
        cells, levels = structure.shut.shape
        people, ones = len(made.persons), np.ones(len(made.score))
        column = made.cell * levels + made.score
        seen = csr_array((ones, (made.person, made.cell)), shape=(people, cells))
        counts = np.bincount(column, minlength=cells * levels).astype(float)
        total = np.bincount(made.person, weights=made.score, minlength=people).astype(float)
        everybody = Lot(np.arange(people), seen, seen.T.tocsr(), slice(0, len(rule[0])))
        counts = counts.reshape(cells, levels)
        return cls(structure, seen, (everybody,), counts, total, *rule)

    def at(self, rule: tuple[Floats, Floats], free: Floats, look: Look) -> Crowd:
        """The same ratings under another rule of nodes, seen about where that look left persons.

        `free` are the figures of the look.
        """
        node = rule[0]
        place = look.belief @ self.node
        error = self.error(free, place)
        order = np.argsort(place)
        lots = []
        for at in range(0, len(order), LOT):
            rows = np.sort(order[at : at + LOT])
            reach = FAR * error[rows] + MARGIN
            first = int(np.searchsorted(node, (place[rows] - reach).min()))
            last = int(np.searchsorted(node, (place[rows] + reach).max(), side="right"))
            seen = self.seen[rows]
            lots.append(Lot(rows, seen, seen.T.tocsr(), slice(max(first - 1, 0), last + 1)))
        return replace(self, lots=tuple(lots), node=node, log_share=rule[1])

    def error(self, free: Floats, place: Floats) -> Floats:
        """About how far off each person's place may be, in standard deviations of the crowd."""
        known = self.known(free)
        nearest = np.clip(np.searchsorted(self.node, place), 0, len(self.node) - 1)
        about = np.minimum(
            known[np.arange(len(place)), nearest],
            known[np.arange(len(place)), np.maximum(nearest - 1, 0)],
        )
        return np.asarray(1 / np.sqrt(1 + free[-1] ** 2 * about))

    def look(self, free: Floats) -> Look:
        """Everything the likelihood says at these parameters; the last two are mean and sd."""
        place = free[-2] + free[-1] * self.node
        weights = self.structure.weights(free[:-2])
        chance, log_total = self.chance(free)
        loglik = float(np.sum(self.counts * weights, where=self.counts > 0))
        beliefs = np.zeros((len(self.total), len(place)))
        weight = np.zeros_like(log_total)
        for lot in self.lots:
            near = lot.near
            joint = self.total[lot.rows, None] * place[near] - lot.seen @ log_total[:, near]
            joint += self.log_share[near]
            highest = joint.max(axis=1, keepdims=True)
            joint -= highest
            belief = np.exp(joint, out=joint)
            sums = belief.sum(axis=1, keepdims=True)
            belief /= sums
            loglik += float((highest[:, 0] + np.log(sums[:, 0])).sum())
            beliefs[lot.rows, near] = belief
            weight[:, near] += lot.turned @ belief
        return Look(loglik, chance, beliefs, weight)

    def chance(self, free: Floats) -> tuple[Floats, Floats]:
        """Of each score in each cell at each node; and the log of what the cell divides by."""
        place = free[-2] + free[-1] * self.node
        weights = self.structure.weights(free[:-2])
        eta = weights[:, :, None] + self.structure.steps[None, :, None] * place
        chance, log_total = chances(eta)
        return chance, log_total[:, 0]

    def gradient(self, look: Look) -> Floats:
        """Slope of the log-likelihood by each free parameter, then mean and sd."""
        expected = np.einsum("vkq,vq->vk", look.chance, look.weight)
        points = self.total @ look.belief
        points = points - np.einsum(
            "vq,vq->q", np.tensordot(self.structure.steps, look.chance, (0, 1)), look.weight
        )
        beta = np.tensordot(self.counts - expected, self.structure.design, axes=2)
        return np.concatenate((beta, [points.sum(), points @ self.node]))

    def complete_information(self, look: Look) -> Floats:
        """What would be known if every person's place were known."""
        steps, design, node = self.structure.steps, self.structure.design, self.node
        mass = look.weight[:, None, :] * look.chance
        covariance = -(mass @ look.chance.transpose(0, 2, 1))
        levels = len(steps)
        covariance[:, np.arange(levels), np.arange(levels)] += mass.sum(axis=2)
        expected = np.tensordot(steps, look.chance, (0, 1))
        mass *= steps[None, :, None] - expected[:, None, :]
        variance = np.tensordot(steps, mass.sum(axis=0), 1)
        mean_row = np.tensordot(mass.sum(axis=2), design, axes=2)
        sd_row = np.tensordot(mass @ node, design, axes=2)
        corner = [[variance.sum(), variance @ node], [variance @ node, variance @ node**2]]
        side = np.column_stack((mean_row, sd_row))
        return np.block([[spread(self.structure, covariance), side], [side.T, np.array(corner)]])

    def information(self, look: Look) -> Floats:
        """What is known: the complete information less what not knowing the places costs."""
        cost = unsure(self.structure, self.seen, self.total, self.node, look.belief, look.chance)
        return self.complete_information(look) - cost

    def narrowest(self, free: Floats) -> float:
        """Least standard deviation, in those of the crowd, of what is known of any place."""
        return float(1 / np.sqrt(1 + free[-1] ** 2 * self.known(free).max()))

    def known(self, free: Floats) -> Floats:
        """What each person's ratings would tell of a place at each node: persons x nodes."""
        chance, steps = self.chance(free)[0], self.structure.steps
        expected = np.tensordot(steps, chance, (0, 1))
        variance = np.tensordot(steps**2, chance, (0, 1)) - expected**2
        return np.asarray(self.seen @ variance)

    def measures(self, free: Floats, look: Look) -> tuple[Floats, Floats]:
        """Mean and standard deviation of each person's place, given the scores."""
        place = free[-2] + free[-1] * self.node
        mean = look.belief @ place
        return mean, np.sqrt(np.maximum(look.belief @ place**2 - mean**2, 0))
