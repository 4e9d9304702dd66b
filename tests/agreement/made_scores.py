"""Scores drawn from a known many-facet Rasch model, for tests that look for what was put in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standfast.agreement.rasch.scores import Scored

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Truth:
    """What the scores were drawn from; severities, difficulties and thresholds sum to 0."""

    ability: Floats
    severity: Floats
    difficulty: Floats
    thresholds: Floats
    """Criteria x steps."""


def centred(values: Floats) -> Floats:
    """The values less their mean."""
    return np.asarray(values - values.mean(axis=-1, keepdims=True))


def draw(
    seed: int,
    *,
    persons: int,
    assessors: int,
    criteria: int,
    top: int,
    each: int,
    own_thresholds: bool = False,
) -> tuple[Truth, Scored]:
    """A seeded truth, and the scores that `each` of the assessors of a person gave."""
    random = np.random.default_rng(seed)
    steps = centred(np.linspace(-1.2, 1.2, top) if top > 1 else np.zeros(1))
    thresholds = np.tile(steps, (criteria, 1))
    if own_thresholds:
        thresholds = centred(thresholds + random.normal(0, 0.4, thresholds.shape))
    truth = Truth(
        random.normal(0.3, 1.1, persons),
        centred(random.normal(0, 0.6, assessors)),
        centred(random.normal(0, 0.8, criteria)),
        thresholds,
    )
    chosen = np.argsort(random.random((persons, assessors)), axis=1)[:, :each]
    person, nth, criterion = (a.ravel() for a in np.indices((persons, each, criteria)))
    assessor = chosen[person, nth]
    return truth, Scored(
        person, assessor, criterion, given(random, truth, person, assessor, criterion)
    )


def given(
    random: np.random.Generator,
    truth: Truth,
    person: NDArray[np.int64],
    assessor: NDArray[np.int64],
    criterion: NDArray[np.int64],
) -> NDArray[np.int64]:
    """One score drawn for each rating."""
    line = truth.ability[person] - truth.severity[assessor] - truth.difficulty[criterion]
    climb = np.cumsum(line[:, None] - truth.thresholds[criterion], axis=1)
    weight = np.exp(np.column_stack((np.zeros(len(line)), climb)))
    share = np.cumsum(weight / weight.sum(axis=1, keepdims=True), axis=1)
    return np.asarray((random.random(len(line))[:, None] > share[:, :-1]).sum(axis=1))


def off(found: Floats, truth: Floats) -> float:
    """Root mean square of how far the figures are off."""
    return float(np.sqrt(np.mean((found - truth) ** 2)))
