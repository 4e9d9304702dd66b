"""Severities with persons seen as a crowd, normally distributed: marginal maximum likelihood.

Persons at an end tell something here too, few scores for each are enough, and the figures have
no bias to speak of: the way to take unless the crowd is far from normal.
Source: Bock & Aitkin (1981), Psychometrika 46 (from memory); information of incomplete data as
in Louis (1982), JRSS B 44 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.polynomial.hermite_e import hermegauss

from standfast.agreement.rasch.answer import CROWD, answer
from standfast.agreement.rasch.crowd import Crowd, Look
from standfast.agreement.rasch.fitted import Fitted, Settled, certain
from standfast.agreement.rasch.scores import Arranged, Floats, Scored, Thresholds, arranged
from standfast.agreement.rasch.structure import Structure, structure_of
from standfast.problems import Refused

Told: TypeAlias = tuple[tuple[Floats, Floats], ...]
"""Moves of a search, and how much the slope fell along each."""

MOST_STEPS = 200
SETTLED = 1e-8
"""Stop when another step would gain less log-likelihood than this."""
ROUGH_NODES = 21
FARTHEST = 5.5
"""Standard deviations from the middle of the crowd; 4 in 100 million are farther out."""
GAP, HALF_GAP = 1.0, 2.0
MOST_NODES = 1000
NO_SPREAD = 0.01
"""Logits; a crowd narrower than this is one of people alike."""
ENOUGH = 0.8
"""Share of the foreseen width that places may have in the end without another, finer fit."""
ROUGH_STEPS = 6
CAREFUL_ABOVE = 1.0
"""The first, rough fit ends when a step gains less log-likelihood than this."""
NEAR = 0.01
"""Half as many places serve while a step gains more than this."""
MEMORY = 10
"""Moves whose curvature is remembered."""
NEWTON_EVERY = 25
"""Steps after which Newton's is tried, which costs as much as several."""


@dataclass(frozen=True)
class Top:
    """Where the search ended."""

    crowd: Crowd
    free: Floats
    look: Look
    steps: int
    told: Told
    """Moves on the way, and how much the slope fell along each."""

    def settled(self) -> Settled:
        """The same with the covariance of the figures.

        Raises:
            Refused: nothing pins them down.
        """
        covariance = certain(self.crowd.information(self.look))
        return Settled(self.free, covariance, self.look.loglik, self.steps)


def fit_marginal(
    scores: Scored, *, thresholds: Thresholds = "common", nodes: int | None = None
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
    top = search(made, structure, nodes)
    settled, measures = top.settled(), top.crowd.measures(top.free, top.look)
    if settled.free[-1] < NO_SPREAD:
        alike = "persons differ no more than by chance: their measures say nothing of them"
        made = replace(made, notes=(*made.notes, alike))
    return answer(made, structure, settled, CROWD, measures)


def search(made: Arranged, structure: Structure, nodes: int | None = None) -> Top:
    """The likeliest figures, and what is seen from there.

    Raises:
        Refused: not settled.
    """
    start = np.concatenate((np.zeros(structure.design.shape[2]), [0.0, 1.0]))
    crowd = Crowd.of(made, structure, gauss_hermite(nodes or ROUGH_NODES))
    told: Told = ()
    if nodes is None:
        start, seen = rough(crowd, start)
        narrow = crowd.narrowest(start)
        # Halfway up by half as many places: what was told of the curvature there still serves.
        half = climb(crowd.at(evenly_spaced(narrow, HALF_GAP), start, seen), start, until=NEAR)
        start, told = half.free, half.told
        narrow = min(narrow, half.crowd.narrowest(start))
        crowd = half.crowd.at(evenly_spaced(narrow), start, half.look)
    top = climb(crowd, start, told)
    if nodes is None and crowd.narrowest(top.free) < ENOUGH * narrow:
        rule = evenly_spaced(crowd.narrowest(top.free))
        top = climb(crowd.at(rule, top.free, top.look), top.free, top.told)
    return top


def gauss_hermite(count: int) -> tuple[Floats, Floats]:
    """Nodes of a standard normal crowd, and the log of the share of each."""
    node, share = hermegauss(count)
    return node, np.log(share / share.sum())


def evenly_spaced(narrowest: float, gap: float = GAP) -> tuple[Floats, Floats]:
    """The same, evenly spaced so that a bell of standard deviation `narrowest` is summed well.

    Such a sum is off by the share 2 exp(-2 pi^2 / gap^2), `gap` in those standard deviations;
    with 1 that is 5e-9 (Poisson's summation formula).

    Raises:
        Refused: more than `MOST_NODES` would be needed.
    """
    half = int(np.ceil(FARTHEST / (gap * narrowest)))
    if 2 * half + 1 > MOST_NODES:
        raise Refused(
            "the place of some person is so certain that a crowd cannot be summed over; "
            "take the conditional fit"
        )
    node = np.linspace(-FARTHEST, FARTHEST, 2 * half + 1)
    share = np.exp(-(node**2) / 2)
    return node, np.log(share / share.sum())


def rough(crowd: Crowd, free: Floats) -> tuple[Floats, Look]:
    """Figures good enough to start from, and what is seen there."""
    look = crowd.look(free)
    for _ in range(ROUGH_STEPS):
        gradient = crowd.gradient(look)
        move = careful(crowd, look, gradient)
        free, look = best_along(crowd, free, move, look)
        if gradient @ move < CAREFUL_ABOVE:
            break
    return free, look


def climb(
    crowd: Crowd,
    free: Floats,
    told: Told = (),
    until: float = SETTLED,
) -> Top:
    """The top from `free`, where a step gains less than `until`.

    Each step is the careful one, mended by what the steps before have told of the curvature
    (limited-memory BFGS with the information of complete data to begin with: Jamshidian &
    Jennrich 1997, JRSS B 59; from memory).  Newton's where that does not serve.

    Raises:
        Refused: not settled after `MOST_STEPS`.
    """
    look, gradient = crowd.look(free), None
    for step in range(1, MOST_STEPS + 1):
        gradient = crowd.gradient(look) if gradient is None else gradient
        move = mended(told, gradient, lambda slope: careful(crowd, look, slope))  # noqa: B023 - used at once
        gain = float(gradient @ move)
        if not gain > 0 or step % NEWTON_EVERY == 0:
            move, told = newton(crowd, look, gradient), ()
            gain = float(gradient @ move)
        there, look = best_along(crowd, free, move, look)
        if gain < until:
            return Top(crowd, there, look, step, told)
        after = crowd.gradient(look)
        told = (*told, (there - free, gradient - after))[-MEMORY:]
        free, gradient = there, after
    raise Refused(
        f"the figures did not settle in {MOST_STEPS} steps: another step would still gain "
        f"{gain:.2g} in log-likelihood; more scores, or fewer thresholds, are needed"
    )


def mended(told: Told, gradient: Floats, begin: Callable[[Floats], Floats]) -> Floats:
    """The move by `begin`, mended by earlier moves and the falls of the slope along them."""
    usable = [(move, fall) for move, fall in told if move @ fall > 0]
    slope, shares = gradient.copy(), []
    for move, fall in reversed(usable):
        share = (move @ slope) / (move @ fall)
        slope -= share * fall
        shares.append(share)
    result = begin(slope)
    for (move, fall), share in zip(usable, reversed(shares), strict=True):
        result += move * (share - (fall @ result) / (move @ fall))
    return result


def careful(crowd: Crowd, look: Look, gradient: Floats) -> Floats:
    """The move that would be right if every person's place were known; always uphill."""
    complete = crowd.complete_information(look)
    complete[np.diag_indices_from(complete)] += 1e-9
    return np.asarray(np.linalg.solve(complete, gradient))


def newton(crowd: Crowd, look: Look, gradient: Floats) -> Floats:
    """Newton's move where the likelihood is curved down, else the careful one."""
    information = crowd.information(look)
    if np.linalg.eigvalsh(information)[0] <= 0:
        return careful(crowd, look, gradient)
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
