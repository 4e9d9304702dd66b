"""Where each person stands when severities are known, and how well the model fits whom.

Infit and outfit after Wright & Masters (1982), Rating scale analysis, chapter 5, without a
correction for small numbers; their cube-root standardisation (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standfast.agreement.rasch.scores import Arranged, Floats, Whole
from standfast.agreement.rasch.structure import Structure, chances

END_SHIFT = 0.3
"""Part of a score point by which a total at the end is moved in (common practice, no source)."""
MOST_STEPS = 100
FARTHEST = 12.0
"""Logits beyond which no measure is sought."""


@dataclass(frozen=True)
class Moments:
    """Of each rating: expected score, variance, fourth central moment."""

    expected: Floats
    variance: Floats
    fourth: Floats


def moments(weights: Floats, structure: Structure, cell: Whole, place: Floats) -> Moments:
    """What the model expects of ratings in `cell` of persons at `place` (one of each a rating)."""
    chance, _ = chances(weights[cell] + place[:, None] * structure.steps)
    expected = chance @ structure.steps
    away = structure.steps - expected[:, None]
    return Moments(expected, (chance * away**2).sum(axis=1), (chance * away**4).sum(axis=1))


def likeliest(
    made: Arranged, structure: Structure, weights: Floats, start: Floats | None = None
) -> tuple[Floats, Floats]:
    """The likeliest measure of each person and its standard error, severities taken as known.

    A total at the end is moved in by `END_SHIFT`, since its likeliest place is infinitely far.
    `start` is where to begin; whoever has arrived is asked no more.
    """
    count = len(made.persons)
    total = np.bincount(made.person, weights=made.score, minlength=count)
    criterion = made.cells[made.cell, 1]
    most = np.bincount(made.person, weights=made.tops[criterion], minlength=count)
    total = np.clip(total, END_SHIFT, most - END_SHIFT)
    place = np.zeros(count) if start is None else start.copy()
    known, open_ = np.zeros(count), np.ones(count, dtype=np.bool_)
    person, cell = made.person, made.cell
    for _ in range(MOST_STEPS):
        expected, variance = expected_of(weights, structure, cell, place[person])
        left = total - np.bincount(person, weights=expected, minlength=count)
        now = np.bincount(person, weights=variance, minlength=count)
        move = np.where(open_, np.clip(left / np.maximum(now, 1e-12), -1, 1), 0)
        known = np.where(open_, now, known)
        place = np.clip(place + move, -FARTHEST, FARTHEST)
        still = np.abs(move) > 1e-10  # noqa: PLR2004 - far below what is printed
        if not still.any():
            break
        if 2 * still.sum() < open_.sum():
            kept = still[person]
            person, cell, open_ = person[kept], cell[kept], still
    return place, 1 / np.sqrt(np.maximum(known, 1e-12))


def expected_of(
    weights: Floats, structure: Structure, cell: Whole, place: Floats
) -> tuple[Floats, Floats]:
    """Of each rating the expected score and its variance."""
    chance, _ = chances(weights[cell] + place[:, None] * structure.steps)
    expected = chance @ structure.steps
    return expected, chance @ structure.steps**2 - expected**2


@dataclass(frozen=True)
class Fit:
    """Mean squares of the members of a facet, how far each is from chance, and their number."""

    n: Whole
    infit: Floats
    outfit: Floats
    infit_z: Floats
    outfit_z: Floats
    infit_variance: Floats
    outfit_variance: Floats


def fit_of(who: Whole, count: int, score: Floats, found: Moments) -> Fit:
    """How well the scores of each of `count` members fit; `who` is the member of each rating."""

    def total(values: Floats) -> Floats:
        return np.asarray(np.bincount(who, weights=values, minlength=count), dtype=float)

    n = np.bincount(who, minlength=count)
    squared, variance = (score - found.expected) ** 2, found.variance
    with np.errstate(invalid="ignore", divide="ignore"):
        infit = total(squared) / total(variance)
        outfit = total(squared / variance) / n
        infit_variance = total(found.fourth - variance**2) / total(variance) ** 2
        outfit_variance = total(found.fourth / variance**2) / n**2 - 1 / n
        zs = [from_chance(*each) for each in ((infit, infit_variance), (outfit, outfit_variance))]
    return Fit(n, infit, outfit, zs[0], zs[1], infit_variance, outfit_variance)


def from_chance(mean_square: Floats, variance: Floats) -> Floats:
    """A mean square as a roughly standard normal figure, by its cube root."""
    q = np.sqrt(np.maximum(variance, 0))
    return np.asarray((np.cbrt(mean_square) - 1) * (3 / q) + q / 3)


def fair_scores(made: Arranged, weights: Floats, structure: Structure, place: Floats) -> Floats:
    """Mean score over all criteria for a person at each place, from an assessor of severity 0.

    `weights` are criteria x scores, of such an assessor.  On the scale of the scores handed in.
    """
    eta = weights[None] + place[:, None, None] * structure.steps
    chance = np.exp(eta - eta.max(axis=2, keepdims=True))
    chance /= chance.sum(axis=2, keepdims=True)
    return np.asarray((chance @ structure.steps + made.lows).mean(axis=1))
