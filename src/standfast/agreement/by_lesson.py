"""How sure figures beyond chance are, by drawing lessons again: what is in one hangs together.

The linearised errors take every try as a witness of its own.  Here a whole lesson is drawn or not,
with all its tries and looks.  Lessons are drawn once for all criteria, so each draw is a book of
its own; every figure is then a matrix product of how often each lesson came up with what it adds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standfast.agreement.bootstrap import DRAWS, with_interval
from standfast.agreement.coefficients import (
    CONGER,
    GWET_AC,
    Coefficient,
    subject_tables,
    sums_of,
    value_of,
)
from standfast.agreement.estimate import Estimate
from standfast.agreement.percent import LEAST_LESSONS
from standfast.agreement.ratings import Codes, Ratings, joined_codes
from standfast.agreement.ratings import Values as Floats
from standfast.agreement.scores import Scores, scores_of
from standfast.agreement.weights import weights_for
from standfast.problems import Refused

SEED = 20261126
"""Ours; the same marks give the same bounds."""
Figure = Callable[[Floats], Floats]


@dataclass(frozen=True, eq=False)
class Draws:
    """How often each lesson came up (draws x lessons), and which lessons these are."""

    times: NDArray[np.uint16]
    lessons: Codes

    def pieces(self) -> Iterator[slice]:
        """Some draws after the other, so that a large book's are never all held as floats."""
        return _pieces(len(self.times), len(self.lessons))


def draws_of(ratings: Ratings, *, seed: int = SEED, draws: int = DRAWS) -> Draws:
    """As many lessons as there are, with replacement, in each draw."""
    lessons = np.unique(ratings.lesson)
    equally = np.full(len(lessons), 1.0 / len(lessons))
    random, times = np.random.default_rng(seed), np.empty((draws, len(lessons)), dtype=np.uint16)
    for some in _pieces(draws, len(lessons)):
        times[some] = random.multinomial(len(lessons), equally, size=len(times[some]))
    return Draws(times, lessons)


def _pieces(draws: int, lessons: int) -> Iterator[slice]:
    at_once = max(1, _AT_ONCE // max(1, lessons))
    return (slice(start, start + at_once) for start in range(0, draws, at_once))


_AT_ONCE = 4_000_000  # numbers; up to 2,000 lessons all draws of 2,000 are one product


def intervals(
    ratings: Ratings, criterion: int, figures: Mapping[str, Estimate], draws: Draws
) -> tuple[dict[str, Estimate], tuple[str, ...]]:
    """The figures of one criterion with percentile intervals, and why others have none.

    `figures` by their names, as `conger_kappa_quadratic`; those that are not kappa, AC or alpha
    are passed over.  Under `LEAST_LESSONS` lessons with two marks there is none.

    Source: Efron & Tibshirani (1993), An Introduction to the Bootstrap, ch. 13; whole clusters
    Davison & Hinkley (1997), Bootstrap Methods, section 3.8 (both from memory).
    """
    of = ratings.only(ratings.criterion == criterion)
    _, at, row = np.unique(
        joined_codes(of.subject, of.occasion), return_index=True, return_inverse=True
    )
    raters, column = np.unique(of.assessor, return_inverse=True)
    table = np.full((len(at), len(raters)), np.nan)
    table[row, column] = of.score
    lesson = np.searchsorted(draws.lessons, of.lesson[at])
    paired = (~np.isnan(table)).sum(axis=1) > 1
    if len(np.unique(lesson[paired])) < LEAST_LESSONS:
        return {}, (f"no bounds from fewer than {LEAST_LESSONS} lessons",)
    found, refused = {}, []
    for name, estimate in figures.items():
        try:
            tables, figure = _figure(name, table)
        except KeyError:
            continue
        values = figure(_drawn(draws, lesson, tables))
        try:
            found[name] = with_interval(estimate, values)
        except Refused as why:
            refused.append(f"no bounds of {name}: {why.what}")
    return found, tuple(refused)


def _drawn(draws: Draws, lesson: Codes, tables: Floats) -> Floats:
    """The sums of each draw (draws x T) of what each row of a table adds."""
    there, place = np.unique(lesson, return_inverse=True)
    of_lesson = np.zeros((len(there), tables.shape[1]))
    np.add.at(of_lesson, place, tables)
    some = (draws.times[piece][:, there].astype(np.float64) for piece in draws.pieces())
    return np.concatenate([times @ of_lesson for times in some])


def _figure(name: str, table: Floats) -> tuple[Floats, Figure]:
    """What each subject adds to a figure, and the figure of such sums.

    Raises:
        KeyError: a name that is none of ours.
    """
    head, _, kind = name.rpartition("alpha_")
    if head:
        return _ALPHAS[kind](table)
    coefficient = {"conger_kappa": CONGER, "gwet_ac1": GWET_AC, "gwet_ac2": GWET_AC}[
        name.removesuffix("_quadratic")
    ]
    return _beyond_chance(coefficient, table, quadratic=name.endswith("_quadratic"))


def _beyond_chance(
    coefficient: Coefficient, table: Floats, *, quadratic: bool
) -> tuple[Floats, Figure]:
    scores: Scores = scores_of(table)
    weights = weights_for("quadratic" if quadratic else "identity", scores.categories)
    size = len(scores.categories)

    def figure(sums: Floats) -> Floats:
        return value_of(coefficient, sums_of(sums, size), weights.matrix)

    return _every_row(table, subject_tables(scores, weights, whose=coefficient.whose)), figure


def _every_row(table: Floats, tables: Floats) -> Floats:
    """The tables with a row of nothing for each row of marks that was left out as empty."""
    full = np.zeros((len(table), tables.shape[1]))
    full[~np.isnan(table).all(axis=1)] = tables
    return full


def _measured(table: Floats) -> tuple[Floats, Figure]:
    """Alpha of differences: all of it is in the sums of marks, of their squares, and of pairs."""
    count = (~np.isnan(table)).sum(axis=1).astype(np.float64)
    paired = count > 1
    filled = np.nan_to_num(table - np.nanmean(table))
    sums, squares = filled.sum(axis=1), (filled**2).sum(axis=1)
    seen = 2 * (count * squares - sums**2) / np.maximum(count - 1, 1)
    each = np.stack([seen, count, sums, squares], axis=1)

    def figure(sums: Floats) -> Floats:
        apart, number, total, square = sums.T
        with np.errstate(divide="ignore", invalid="ignore"):
            expected = 2 * (number * square - total**2)
            none = expected < _NOTHING * np.maximum(number, 1) ** 2
            share = np.where(none, np.nan, (number - 1) * apart / expected)
        return np.asarray(1.0 - share)

    return each * paired[:, None], figure


_NOTHING = 1e-12


def _ranked(table: Floats) -> tuple[Floats, Figure]:
    """Alpha of ranks: how often each value was given says how far two are apart."""
    values = np.unique(table[~np.isnan(table)])
    counts = (table[:, :, None] == values).sum(axis=1).astype(np.float64)
    given = counts.sum(axis=1)
    size = len(values)
    alone = counts[:, :, None] * np.eye(size)
    pairs = (counts[:, :, None] * counts[:, None, :] - alone) / np.maximum(given - 1, 1)[
        :, None, None
    ]

    def figure(sums: Floats) -> Floats:
        coincidences = sums.reshape(-1, size, size)
        margin = coincidences.sum(axis=-1)
        middle = np.cumsum(margin, axis=-1) - margin / 2
        distance = np.square(middle[:, :, None] - middle[:, None, :])
        seen = (coincidences * distance).sum(axis=(-2, -1))
        expected = (margin[:, :, None] * margin[:, None, :] * distance).sum(axis=(-2, -1))
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (margin.sum(axis=-1) - 1) * seen / np.where(expected > 0, expected, np.nan)
        return np.asarray(1.0 - share)

    return pairs.reshape(len(table), -1), figure


def _named(table: Floats) -> tuple[Floats, Figure]:
    """Alpha of yes and no: two values that differ are always equally far apart.

    Raises:
        KeyError: there are more than two.
    """
    if len(np.unique(table[~np.isnan(table)])) > 2:  # noqa: PLR2004 - a pair
        raise KeyError("nominal")
    return _measured(table)


_ALPHAS: dict[str, Callable[[Floats], tuple[Floats, Figure]]] = {
    "nominal": _named,
    "ordinal": _ranked,
    "interval": _measured,
}
