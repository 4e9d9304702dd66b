"""Severities and persons together as parameters: joint maximum likelihood.

The likeliest figures, but too far apart: of two yes-no criteria exactly twice what they should
be, less with more ratings of each person (by the factor (L - 1) / L or so, for L ratings).  For
comparing with figures that others got this way.  Persons at an end are left out of the search.
Source: Wright & Panchapakesan (1969), Educ. Psychol. Meas. 29 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

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
from standfast.agreement.rasch.structure import Structure, chances, spread, structure_of
from standfast.problems import Refused

MOST_STEPS = 100
SETTLED = 1e-9


def fit_joint(scores: Scored, *, thresholds: Thresholds = "common") -> Fitted:
    """Where everybody stands, each person a parameter.

    Standard errors of severities and difficulties allow for persons being unknown (the full
    information); those of persons take severities as known.

    Raises:
        Refused: the scores do not hang together, all persons are at an end, or no settling.
    """
    made = arranged(scores, thresholds, extreme_persons_count=False)
    used = np.flatnonzero(~made.extreme[made.person])
    if not len(used):
        raise Refused("every person has every score at one end, so nobody tells anything")
    structure = structure_of(made, used)
    settled = climb(Everyone.of(made, structure, used), structure)
    return answer(made, structure, settled, "joint maximum likelihood")


@dataclass(frozen=True)
class Everyone:
    """The ratings of persons not at an end, persons numbered from 0."""

    structure: Structure
    person: Whole
    cell: Whole
    score: Whole

    @classmethod
    def of(cls, made: Arranged, structure: Structure, used: Whole) -> Everyone:
        """The used ratings."""
        _, person = np.unique(made.person[used], return_inverse=True)
        return cls(structure, person, made.cell[used], made.score[used])

    def look(self, free: Floats, place: Floats) -> tuple[float, Floats]:
        """Log-likelihood, and the chance of each score in each rating."""
        eta = self.structure.weights(free)[self.cell]
        eta = eta + place[self.person][:, None] * self.structure.steps
        chance, log_total = chances(eta)
        given = np.take_along_axis(eta, self.score[:, None], axis=1)
        return float((given - log_total).sum()), chance

    def parts(self, chance: Floats) -> Parts:
        """Slopes and information at these chances."""
        steps, design = self.structure.steps, self.structure.design
        people, shape = int(self.person.max()) + 1, self.structure.shut.shape
        levels = shape[1]
        column = self.cell[:, None] * levels + np.arange(levels)
        left = -np.bincount(column.ravel(), weights=chance.ravel(), minlength=shape[0] * levels)
        left += np.bincount(self.cell * levels + self.score, minlength=shape[0] * levels)
        expected = chance @ steps
        moved = chance * (steps - expected[:, None])
        own = np.bincount(self.person, weights=self.score - expected, minlength=people).astype(
            float
        )
        known = np.bincount(self.person, weights=moved @ steps, minlength=people).astype(float)
        rows = np.repeat(self.person, levels)
        table = csr_array(
            (moved.ravel(), (rows, column.ravel())), shape=(people, shape[0] * levels)
        )
        return Parts(
            np.tensordot(left.reshape(shape), design, axes=2),
            own,
            spread(self.structure, self.covariances(chance)),
            known,
            np.asarray(table @ design.reshape(-1, design.shape[2])),
        )

    def covariances(self, chance: Floats) -> Floats:
        """Summed over the ratings of each cell, the covariance of its scores."""
        cells, levels = self.structure.shut.shape
        found = np.zeros((cells, levels, levels))
        for k in range(levels):
            for other in range(k, levels):
                pair = chance[:, k] * ((k == other) - chance[:, other])
                total = np.bincount(self.cell, weights=pair, minlength=cells)
                found[:, k, other] = found[:, other, k] = total
        return found


@dataclass(frozen=True)
class Parts:
    """Slopes of free parameters and persons; information of each, and between them."""

    slope: Floats
    own: Floats
    among: Floats
    known: Floats
    between: Floats

    def reduced(self) -> Floats:
        """Information of the free parameters with persons unknown (Schur complement)."""
        return self.among - self.between.T @ (self.between / self.known[:, None])

    def move(self) -> tuple[Floats, Floats]:
        """Newton's step: persons eliminated, since their block is diagonal."""
        right = self.slope - self.between.T @ (self.own / self.known)
        free = np.asarray(np.linalg.solve(self.reduced(), right), dtype=np.float64)
        return free, (self.own - self.between @ free) / self.known


def climb(everyone: Everyone, structure: Structure) -> Settled:
    """Newton's way up, halving steps that lead down.

    Raises:
        Refused: not settled.
    """
    free = np.zeros(structure.design.shape[2])
    place = np.zeros(int(everyone.person.max()) + 1)
    loglik, chance = everyone.look(free, place)
    for step in range(1, MOST_STEPS + 1):
        parts = everyone.parts(chance)
        move, shift = parts.move()
        gain = float(parts.slope @ move + parts.own @ shift)
        if gain < SETTLED:
            free, place = free + move, place + shift
            loglik, chance = everyone.look(free, place)
            return Settled(free, certain(everyone.parts(chance).reduced()), loglik, step)
        share = 1.0
        found, chance = everyone.look(free + move, place + shift)
        while found < loglik - 1e-12 * abs(loglik) and share > 1e-6:  # noqa: PLR2004 - less than this is no move
            share /= 2
            found, chance = everyone.look(free + share * move, place + share * shift)
        free, place, loglik = free + share * move, place + share * shift, found
    raise Refused(
        f"the figures did not settle in {MOST_STEPS} steps: another step would still gain "
        f"{gain:.2g} in log-likelihood; more scores, or fewer thresholds, are needed"
    )
