"""How sure variance components of whole sheets are, by drawing persons again.

By Henderson's method 1, whose sums are sums over persons but for those of assessors: so thousands
of draws are a few matrix products.  Assessors stay as they are; only who was seen is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standfast.agreement.bootstrap import DRAWS
from standfast.agreement.components import Codes, Floats

SEED = 20261126
LEAST_PERSONS = 10
"""Under so many there are no bounds.  Common practice, no source."""


@dataclass(frozen=True, eq=False)
class DrawnComponents:
    """Components of each draw (draws x effects), at least zero, and its mean."""

    effects: tuple[str, ...]
    variances: Floats
    means: Floats


def times_drawn(persons: int, *, seed: int = SEED, draws: int = DRAWS) -> Floats:
    """How often each person comes up, of as many with replacement (draws x persons)."""
    equally = np.full(persons, 1.0 / persons)
    times = np.random.default_rng(seed).multinomial(persons, equally, size=draws)
    return times.astype(np.float64)


def drawn_components(
    person: Codes, lesson: Codes | None, assessor: Codes, total: Floats, times: Floats
) -> DrawnComponents:
    """Persons, lessons within persons, assessors and what is left, for each draw.

    One code of each per sheet, counted from 0 without gaps; `times` has a column per person.  A
    person who came up twice counts as two.  Without `lesson` each person was seen in one.
    Components are NaN where a draw cannot tell them apart.

    Source: Henderson (1953), Biometrics 9, 226-252, method 1; draws Efron & Tibshirani (1993),
    ch. 13 (from memory).  Equal to `henderson_components` when everybody comes up once.
    """
    centre = float(total.mean())
    x = total - centre
    sheets = np.arange(len(x))
    cells = [person, *([] if lesson is None else [lesson]), sheets]
    by_person = _Persons(person, assessor, int(person.max()) + 1, int(assessor.max()) + 1)
    number = times @ by_person.sum_of(np.ones(len(x)), person)
    mean = (times @ by_person.sum_of(x, person)) / number
    n_assessor = times @ by_person.met(np.ones(len(x)))
    safe = np.where(n_assessor > 0, n_assessor, 1.0)
    of_assessors = (times @ by_person.met(x)) ** 2 / safe
    size = len(cells) + 1  # assessors stand before what is left
    places = [*range(size - 2), size - 1]
    matrix, wanted = np.empty((len(times), size, size)), np.empty((len(times), size))
    for row, within in zip(places, cells, strict=True):
        count = np.bincount(within).astype(np.float64)
        squares = np.bincount(within, x) ** 2 / count
        wanted[:, row] = times @ by_person.of_cells(squares, within)
        for column, other in zip(places, cells, strict=True):
            matrix[:, row, column] = times @ _weights(by_person, within, other, count)
        matrix[:, row, size - 2] = times @ _weights(by_person, within, None, count)
        met = times @ by_person.squared_within(within)
        matrix[:, size - 2, row] = (met / safe).sum(axis=1)
    wanted[:, size - 2] = of_assessors.sum(axis=1)
    matrix[:, size - 2, size - 2] = number
    for column, other in zip(places, cells, strict=True):
        count = np.bincount(other).astype(np.float64)
        less = times @ by_person.of_cells(count**2, other)
        matrix[:, :, column] -= (less / number)[:, None]
    matrix[:, :, size - 2] -= ((n_assessor**2).sum(axis=1) / number)[:, None]
    found = _solved(matrix, wanted - (number * mean**2)[:, None])
    effects = ("p", "r", "pr") if lesson is None else ("p", "pt", "r", "ptr")
    return DrawnComponents(effects, np.maximum(found, 0.0), mean + centre)


@dataclass(frozen=True, eq=False)
class _Persons:
    """Sums for each person, which draws then weigh."""

    person: Codes
    assessor: Codes
    persons: int
    assessors: int

    def sum_of(self, values: Floats, person: Codes) -> Floats:
        return np.bincount(person, values, minlength=self.persons).astype(np.float64)

    def of_cells(self, values: Floats, cell: Codes) -> Floats:
        """One value per cell, each inside a person."""
        first = np.unique(cell, return_index=True)[1]
        return self.sum_of(values, self.person[first])

    def met(self, values: Floats) -> Floats:
        """Persons x assessors."""
        at = self.person * self.assessors + self.assessor
        size = self.persons * self.assessors
        met = np.bincount(at, values, minlength=size).reshape(self.persons, self.assessors)
        return np.asarray(met, dtype=np.float64)

    def squared_within(self, cell: Codes) -> Floats:
        """Persons x assessors: the squared number of sheets in each cell and assessor."""
        both, first, count = np.unique(
            cell * self.assessors + self.assessor, return_index=True, return_counts=True
        )
        at = self.person[first] * self.assessors + both % self.assessors
        size = self.persons * self.assessors
        squares = np.bincount(at, count.astype(np.float64) ** 2, minlength=size)
        return np.asarray(squares, dtype=np.float64).reshape(self.persons, self.assessors)


def _weights(of: _Persons, within: Codes, other: Codes | None, count: Floats) -> Floats:
    """For each person how often the other component is expected in the squares within."""
    second = of.assessor if other is None else other
    width = int(second.max()) + 1
    both, first, met = np.unique(within * width + second, return_index=True, return_counts=True)
    return of.sum_of(met.astype(np.float64) ** 2 / count[both // width], of.person[first])


def _solved(matrix: Floats, wanted: Floats) -> Floats:
    """The solution of each system, NaN where it has none."""
    found = np.full(wanted.shape, np.nan)
    good = np.abs(np.linalg.det(matrix)) > _NOTHING
    found[good] = np.linalg.solve(matrix[good], wanted[good][:, :, None])[:, :, 0]
    return found


_NOTHING = 1e-9


def chances(drawn: DrawnComponents, assessors: int, practicals: int, line: float | None) -> Floats:
    """The chance that another panel decides otherwise, of each draw; see `second_panel`.

    `line` None is each draw's own mean.  A draw in which persons do not differ gives the chance
    of two panels that have nothing to do with each other.
    """
    from scipy.special import owens_t

    by_effect = dict(zip(drawn.effects, drawn.variances.T, strict=True))
    counts = {"r": assessors, "t": practicals, "p": 1}
    universe = by_effect.pop("p")
    error = sum(
        (
            value / np.prod([counts[facet] for facet in effect])
            for effect, value in by_effect.items()
        ),
        np.zeros(len(universe)),
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        phi = universe / (universe + error)
        z = 0.0 if line is None else (line - drawn.means) / np.sqrt(universe + error)
    return np.asarray(4.0 * owens_t(z, np.sqrt((1 - phi) / (1 + phi))), dtype=np.float64)
