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

from standfast.agreement.rasch.answer import CROWD, answer
from standfast.agreement.rasch.fitted import Fitted, Settled, certain
from standfast.agreement.rasch.scores import Arranged, Floats, Scores, Thresholds, arranged
from standfast.agreement.rasch.structure import Structure, chances, spread, structure_of
from standfast.problems import Refused

MOST_STEPS = 200
SETTLED = 1e-9
"""Stop when another step would gain less log-likelihood than this."""
ROUGH_NODES = 21
FARTHEST = 5.5
"""Standard deviations from the middle of the crowd; 4 in 100 million are farther out."""
GAP = 1.0
MOST_NODES = 1000
NO_SPREAD = 0.01
"""Logits; a crowd narrower than this is one of people alike."""
ENOUGH = 0.8
"""Share of the foreseen width that places may have in the end without another, finer fit."""
ROUGH_STEPS = 6
CAREFUL_STEPS = 2
"""First steps, at most, that use the information of complete data: cheap, and always positive."""
CAREFUL_ABOVE = 1.0
"""They are taken while a step gains more log-likelihood than this."""
UNBELIEVED = 1e-12
"""Share of belief below which a person's place is not counted."""


def fit_marginal(
    scores: Scores, *, thresholds: Thresholds = "common", nodes: int | None = None
) -> Fitted:
    """Where everybody stands when persons are a normal crowd.

    `nodes` of the Gauss-Hermite rule; without it a rough fit with 21, then one with evenly spaced
    places as close together as the surest person's place is known: a person with many scores
    falls between the nodes of Gauss and Hermite.  A person's measure is the mean of what is still
    possible after the scores, its error the standard deviation of that; fit is counted at the
    likeliest measure of persons not at an end.

    Raises:
        Refused: the scores do not hang together, or the search does not settle.
    """
    made = arranged(scores, thresholds, extreme_persons_count=True)
    if made.extreme.all():
        raise Refused("every person has every score at one end, so nobody tells anything")
    structure = structure_of(made, np.arange(len(made.score)))
    start = np.concatenate((np.zeros(structure.design.shape[2]), [0.0, 1.0]))
    crowd = Crowd.of(made, structure, gauss_hermite(nodes or ROUGH_NODES))
    if nodes is None:
        start = rough(crowd, start)
        narrow = crowd.narrowest(start)
        crowd = Crowd.of(made, structure, evenly_spaced(narrow))
    settled = climb(crowd, start)
    if nodes is None and crowd.narrowest(settled.free) < ENOUGH * narrow:
        crowd = Crowd.of(made, structure, evenly_spaced(crowd.narrowest(settled.free)))
        settled = climb(crowd, settled.free)
    measure, se = crowd.measures(settled.free)
    if settled.free[-1] < NO_SPREAD:
        alike = "persons differ no more than by chance: their measures say nothing of them"
        made = replace(made, notes=(*made.notes, alike))
    return answer(made, structure, settled, CROWD, (measure, se))


def gauss_hermite(count: int) -> tuple[Floats, Floats]:
    """Nodes of a standard normal crowd, and the log of the share of each."""
    node, share = hermegauss(count)
    return node, np.log(share / share.sum())


def evenly_spaced(narrowest: float) -> tuple[Floats, Floats]:
    """The same, evenly spaced so that a bell of standard deviation `narrowest` is summed well.

    Such a sum is off by the share 2 exp(-2 pi^2 narrowest^2 / gap^2), here 5e-9 (Poisson's
    summation formula).

    Raises:
        Refused: more than `MOST_NODES` would be needed.
    """
    half = int(np.ceil(FARTHEST / (GAP * narrowest)))
    if 2 * half + 1 > MOST_NODES:
        raise Refused(
            "the place of some person is so certain that a crowd cannot be summed over; "
            "take the conditional fit"
        )
    node = np.linspace(-FARTHEST, FARTHEST, 2 * half + 1)
    share = np.exp(-(node**2) / 2)
    return node, np.log(share / share.sum())


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
    def of(cls, made: Arranged, structure: Structure, rule: tuple[Floats, Floats]) -> Crowd:
        """The ratings as sparse tables."""
        cells, levels = structure.shut.shape
        people, ones = len(made.persons), np.ones(len(made.score))
        column = made.cell * levels + made.score
        given = csr_array((ones, (made.person, column)), shape=(people, cells * levels))
        seen = csr_array((ones, (made.person, made.cell)), shape=(people, cells))
        total = np.bincount(made.person, weights=made.score, minlength=people).astype(float)
        return cls(structure, given, seen, total, *rule)

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
            rows = np.flatnonzero(look.belief[:, at] > UNBELIEVED)
            chance, seen = look.chance[:, :, at], self.seen[rows]
            lines = np.einsum("vk,vkf->vf", chance, self.structure.design)
            left = self.total[rows] - seen @ (chance @ self.structure.steps)
            slope = np.column_stack((-(seen @ lines), left, node * left))
            believed = look.belief[rows, at, None] * slope
            cost += slope.T @ believed
            mean[rows] += believed
        return self.complete_information(look) - (cost - mean.T @ mean)

    def narrowest(self, free: Floats) -> float:
        """Least standard deviation, in those of the crowd, of what is known of any place."""
        chance, steps = self.look(free).chance, self.structure.steps
        expected = np.einsum("k,vkq->vq", steps, chance)
        variance = np.einsum("k,vkq->vq", steps**2, chance) - expected**2
        return float(1 / np.sqrt(1 + free[-1] ** 2 * (self.seen @ variance).max()))

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


def rough(crowd: Crowd, free: Floats) -> Floats:
    """Figures good enough to start from."""
    look = crowd.look(free)
    for _ in range(ROUGH_STEPS):
        gradient = crowd.gradient(look)
        move = careful(crowd, look, gradient)
        free, look = best_along(crowd, free, move, look)
        if gradient @ move < CAREFUL_ABOVE:
            break
    return free


def climb(crowd: Crowd, free: Floats) -> Settled:
    """Newton's way up from `free`, halving steps that lead down; careful while far from the top.

    Raises:
        Refused: not settled after `MOST_STEPS`, or at a place where nothing pins the figures.
    """
    look, gain = crowd.look(free), np.inf
    for step in range(1, MOST_STEPS + 1):
        gradient = crowd.gradient(look)
        move = careful(crowd, look, gradient)
        if step > CAREFUL_STEPS or gradient @ move < CAREFUL_ABOVE:
            move = newton(crowd, look, gradient, move)
        gain = float(gradient @ move)
        free, look = best_along(crowd, free, move, look)
        if gain < SETTLED:
            return Settled(free, certain(crowd.information(look)), look.loglik, step)
    raise Refused(
        f"the figures did not settle in {MOST_STEPS} steps: another step would still gain "
        f"{gain:.2g} in log-likelihood; more scores, or fewer thresholds, are needed"
    )


def careful(crowd: Crowd, look: Look, gradient: Floats) -> Floats:
    """The move that would be right if every person's place were known; always uphill."""
    complete = crowd.complete_information(look)
    complete[np.diag_indices_from(complete)] += 1e-9
    return np.asarray(np.linalg.solve(complete, gradient))


def newton(crowd: Crowd, look: Look, gradient: Floats, otherwise: Floats) -> Floats:
    """Newton's move where the likelihood is curved down, else the other one."""
    information = crowd.information(look)
    if np.linalg.eigvalsh(information)[0] <= 0:
        return otherwise
    return np.asarray(np.linalg.solve(information, gradient))


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
