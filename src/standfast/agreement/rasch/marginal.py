"""Severities with persons seen as a crowd, normally distributed: marginal maximum likelihood.

Persons at an end tell something here too, few scores for each are enough, and the figures have
no bias to speak of: the way to take unless the crowd is far from normal.
Source: Bock & Aitkin (1981), Psychometrika 46 (from memory); information of incomplete data as
in Louis (1982), JRSS B 44 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from scipy.sparse import csr_array
from scipy.special import logsumexp

from standfast.agreement.rasch.answer import answer
from standfast.agreement.rasch.fitted import Fitted, Settled, certain
from standfast.agreement.rasch.scores import Arranged, Floats, Scores, Thresholds, arranged
from standfast.agreement.rasch.structure import Structure, chances, spread, structure_of
from standfast.problems import Refused

MOST_STEPS = 200
SETTLED = 1e-9
"""Stop when another step would gain less log-likelihood than this."""
FEWEST_NODES = 21
MOST_NODES = 300
FIGURES_STAND = 1e-3
"""Logits; twice the nodes may move a figure by less than this."""
CAREFUL_STEPS = 3
"""First steps use the information of complete data, which is always positive definite."""


def fit_marginal(
    scores: Scores, *, thresholds: Thresholds = "common", nodes: int | None = None
) -> Fitted:
    """Where everybody stands when persons are a normal crowd.

    `nodes` of the Gauss-Hermite rule; without it 21, doubled until no figure moves any more: a
    person with many scores has a place so certain that it falls between few nodes.
    A person's measure is the mean of what is still possible after the scores, its error the
    standard deviation of that; fit is counted at the likeliest measure of persons not at an end.

    Raises:
        Refused: the scores do not hang together, or the search does not settle.
    """
    made = arranged(scores, thresholds, extreme_persons_count=True)
    structure = structure_of(made, np.arange(len(made.score)))
    count = nodes or FEWEST_NODES
    crowd = Crowd.of(made, structure, count)
    settled = climb(crowd, structure, None)
    while nodes is None:
        count = 2 * count - 1
        finer = Crowd.of(made, structure, count)
        again = climb(finer, structure, settled.free)
        moved = float(np.abs(again.free - settled.free).max())
        crowd, settled = finer, replace(again, steps=settled.steps + again.steps)
        if moved < FIGURES_STAND:
            break
        if count > MOST_NODES:
            raise Refused(
                f"with {count} nodes the figures still move by {moved:.2g}; there are so many "
                "scores of each person that the conditional fit is the one to take"
            )
    measure, se = crowd.measures(settled.free)
    return answer(made, structure, settled, "marginal maximum likelihood", (measure, se))


@dataclass(frozen=True)
class Crowd:
    """Ratings as persons x (cell, score) and persons x cell counts, and the nodes."""

    structure: Structure
    given: csr_array
    seen: csr_array
    total: Floats
    node: Floats
    log_share: Floats

    @classmethod
    def of(cls, made: Arranged, structure: Structure, nodes: int) -> Crowd:
        """The ratings as sparse tables."""
        node, share = hermegauss(nodes)
        cells, levels = structure.shut.shape
        people, ones = len(made.persons), np.ones(len(made.score))
        column = made.cell * levels + made.score
        given = csr_array((ones, (made.person, column)), shape=(people, cells * levels))
        seen = csr_array((ones, (made.person, made.cell)), shape=(people, cells))
        total = np.bincount(made.person, weights=made.score, minlength=people).astype(float)
        log_share = np.log(share / share.sum())
        return cls(structure, given, seen, total, node, log_share)

    def look(self, free: Floats) -> Look:
        """Everything the likelihood says at these parameters; the last two are mean and sd."""
        structure = self.structure
        place = free[-2] + free[-1] * self.node
        eta = structure.weights(free[:-2])[:, :, None] + structure.steps[None, :, None] * place
        chance, log_total = chances(eta)
        log_chance = np.maximum(eta - log_total, -1e6)  # shut scores have count 0, not 0 x inf
        joint = self.given @ log_chance.reshape(-1, len(place)) + self.log_share
        logliks = logsumexp(joint, axis=1, keepdims=True)
        return Look(float(logliks.sum()), chance, np.exp(joint - logliks))

    def gradient(self, look: Look) -> Floats:
        """Slope of the log-likelihood by each free parameter, then mean and sd."""
        expected = (self.seen.T @ look.belief)[:, None, :] * look.chance
        left = (self.given.T @ look.belief).reshape(look.chance.shape) - expected
        points = np.einsum("k,vkq->q", self.structure.steps, left)
        beta = np.tensordot(left.sum(axis=2), self.structure.design, axes=2)
        return np.concatenate((beta, [points.sum(), points @ self.node]))

    def complete_information(self, look: Look) -> Floats:
        """What would be known if every person's place were known."""
        steps, design, node = self.structure.steps, self.structure.design, self.node
        weight = self.seen.T @ look.belief
        mass = weight[:, None, :] * look.chance
        outer = np.einsum("vkq,vlq->vkl", mass, look.chance)
        levels = len(steps)
        covariance = -outer
        covariance[:, np.arange(levels), np.arange(levels)] += mass.sum(axis=2)
        expected = np.einsum("k,vkq->vq", steps, look.chance)
        moved = mass * (steps[None, :, None] - expected[:, None, :])
        variance = np.einsum("k,vkq->q", steps, moved)
        mean_row = np.tensordot(moved.sum(axis=2), design, axes=2)
        sd_row = np.tensordot(moved @ node, design, axes=2)
        corner = [[variance.sum(), variance @ node], [variance @ node, variance @ node**2]]
        side = np.column_stack((mean_row, sd_row))
        return np.block([[spread(design, covariance), side], [side.T, np.array(corner)]])

    def information(self, look: Look) -> Floats:
        """What is known: the complete information less what not knowing the places costs."""
        cost = np.zeros((self.structure.design.shape[2] + 2,) * 2)
        mean = np.zeros((self.seen.shape[0], len(cost)))
        for at, node in enumerate(self.node):
            chance = look.chance[:, :, at]
            lines = np.einsum("vk,vkf->vf", chance, self.structure.design)
            left = self.total - self.seen @ (chance @ self.structure.steps)
            slope = np.column_stack((-(self.seen @ lines), left, node * left))
            belief = look.belief[:, at, None]
            cost += slope.T @ (belief * slope)
            mean += belief * slope
        return self.complete_information(look) - (cost - mean.T @ mean)

    def measures(self, free: Floats) -> tuple[Floats, Floats]:
        """Mean and standard deviation of each person's place, given the scores."""
        place = free[-2] + free[-1] * self.node
        belief = self.look(free).belief
        mean = belief @ place
        return mean, np.sqrt(np.maximum(belief @ place**2 - mean**2, 0))


@dataclass(frozen=True)
class Look:
    """Log-likelihood, chances (cells x scores x nodes), belief (persons x nodes)."""

    loglik: float
    chance: Floats
    belief: Floats


def climb(crowd: Crowd, structure: Structure, start: Floats | None) -> Settled:
    """Newton's way up, halving steps that lead down; from `start`, near the top, or from nowhere.

    Raises:
        Refused: not settled after `MOST_STEPS`, or at a place where nothing pins the figures.
    """
    nowhere = np.concatenate((np.zeros(structure.design.shape[2]), [0.0, 1.0]))
    free, careful = (nowhere, CAREFUL_STEPS) if start is None else (start, 0)
    look = crowd.look(free)
    for step in range(1, MOST_STEPS + 1):
        gradient = crowd.gradient(look)
        move = uphill(crowd, look, gradient, careful=step <= careful)
        gain = float(gradient @ move)
        if gain < SETTLED and step > careful:
            free, look = best_along(crowd, free, move, look)
            return Settled(free, certain(crowd.information(look)), look.loglik, step)
        free, look = best_along(crowd, free, move, look)
    raise Refused(
        f"the figures did not settle in {MOST_STEPS} steps: another step would still gain "
        f"{gain:.2g} in log-likelihood; more scores, or fewer thresholds, are needed"
    )


def uphill(crowd: Crowd, look: Look, gradient: Floats, *, careful: bool) -> Floats:
    """The next move: Newton's where the likelihood is curved down, else the careful one."""
    if not careful:
        information = crowd.information(look)
        if np.linalg.eigvalsh(information)[0] > 0:
            return np.asarray(np.linalg.solve(information, gradient))
    complete = crowd.complete_information(look)
    complete[np.diag_indices_from(complete)] += 1e-9
    return np.asarray(np.linalg.solve(complete, gradient))


def best_along(crowd: Crowd, free: Floats, move: Floats, look: Look) -> tuple[Floats, Look]:
    """The move, or the first half, quarter ... of it that does not lead down."""
    share = 1.0
    while share > 1e-6:  # noqa: PLR2004 - less than this is no move
        there = free + share * move
        there[-1] = abs(there[-1])  # a spread and its mirror image are the same crowd
        found = crowd.look(there)
        if found.loglik >= look.loglik - 1e-12 * abs(look.loglik):
            return there, found
        share /= 2
    return free, look
