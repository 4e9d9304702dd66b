"""Where differences between scores come from: persons, assessors, criteria, and what they share.

A facet is one letter (p person, r assessor, t practical, i criterion); an effect is written with
the letters of its facets, in the order in which the facets were named: `pr` is what assessors and
persons do together, and `rt` in a design with assessors nested in practicals is assessors within
their practical.  The last effect, with every facet, is also what is left over.

Estimates below zero are reported as they are; `at_least_zero` is the same with nothing below zero,
which is what a decision study takes, and `set_to_zero` names them so that it can be said.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from standfast.problems import Refused

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]
Nested = Mapping[str, str]
"""A facet to the facet it is nested in: `{"r": "t"}` for other assessors in each practical."""

ANOVA_SOURCE = "Brennan (2001), Generalizability Theory, ch. 3"
HENDERSON_SOURCE = "Henderson (1953), Biometrics 9, 226-252, method 1"
SINGULAR = 1e10


@dataclass(frozen=True)
class Components:
    """The variance of each effect, as the method gave it."""

    as_estimated: dict[str, float]
    """Variance per effect, in squared points; may be below zero."""
    levels: dict[str, int]
    """How many of each facet there were; of a nested one, as many as its axis or codes count."""
    method: str
    """`ANOVA`, `Henderson 1` or `REML`."""
    source: str
    n: int
    """How many scores."""
    mean: float
    mean_squares: dict[str, float] = field(default_factory=dict)
    df: dict[str, int] = field(default_factory=dict)
    se: dict[str, float] = field(default_factory=dict)
    """Standard errors where the method gives them."""
    converged: bool = True
    note: str = ""
    """How the fit ended, in words."""

    @property
    def at_least_zero(self) -> dict[str, float]:
        """The same with zero for what was estimated below zero."""
        return {effect: max(0.0, value) for effect, value in self.as_estimated.items()}

    @property
    def set_to_zero(self) -> tuple[str, ...]:
        """The effects that `at_least_zero` shows as zero and that were below it."""
        return tuple(effect for effect, value in self.as_estimated.items() if value < 0)

    @property
    def said(self) -> tuple[str, ...]:
        """What must be said beside these figures, a sentence each."""
        negative = (
            f"the variance of {effect} was estimated as {self.as_estimated[effect]:.4g}; a variance"
            " cannot be below zero, and it is taken as zero"
            for effect in self.set_to_zero
        )
        return (*negative, *([self.note] if self.note else []))


def effects_of(facets: str, nested: Nested | None = None) -> tuple[str, ...]:
    """Every effect that a design can tell apart, fewest facets first.

    >>> effects_of("prt", {"r": "t"})
    ('p', 't', 'pt', 'rt', 'prt')
    """
    inside = dict(nested or {})
    _check_facets(facets, inside)
    return tuple(
        "".join(chosen)
        for size in range(1, len(facets) + 1)
        for chosen in itertools.combinations(facets, size)
        if all(inside.get(facet, facet) in chosen for facet in chosen)
    )


def balanced_components(scores: ArrayLike, facets: str, nested: Nested | None = None) -> Components:
    """Components of a complete design by analysis of variance.

    `scores` has one axis per letter of `facets`, in that order; a nested facet's axis counts its
    levels within each level of what it is nested in.  Standard errors suppose normal effects.

    Raises:
        Refused: a gap, one level of a facet, or all scores the same.

    Source: Brennan (2001), Generalizability Theory, ch. 3; standard errors Searle (1971) with
    df + 2, as in Brennan's eq. 6.1.
    """
    x = np.asarray(scores, dtype=np.float64)
    inside = dict(nested or {})
    effects = effects_of(facets, inside)
    levels = dict(zip(facets, x.shape, strict=False))
    _check_balanced(x, facets, levels)
    squares, df = {}, {}
    for effect in effects:
        primary = [facet for facet in effect if facet not in _outer(effect, inside)]
        parts = _effect_of(x, facets, effect, primary)
        per_cell = x.size // parts.size
        df[effect] = int(
            np.prod([levels[facet] - (1 if facet in primary else 0) for facet in effect])
        )
        squares[effect] = per_cell * float(np.vdot(parts, parts)) / df[effect]
    sizes = {
        effect: int(np.prod([levels[facet] for facet in facets if facet not in effect]))
        for effect in effects
    }
    values, weights = _from_mean_squares(effects, squares, sizes)
    se = {
        effect: sqrt(
            2 * sum((w * squares[e]) ** 2 / (df[e] + 2) for e, w in weights[effect].items())
        )
        for effect in effects
    }
    return Components(
        values, levels, "ANOVA", ANOVA_SOURCE, x.size, float(x.mean()), squares, df, se
    )


def henderson_components(
    codes: Mapping[str, ArrayLike],
    scores: ArrayLike,
    nested: Nested | None = None,
    *,
    without: Collection[str] = (),
) -> Components:
    """Components of an incomplete design, every effect random, by Henderson's method 1.

    `codes` has per facet one whole number per score (a nested facet may count anew in each level
    of what it is nested in); `scores` is as long; effects named in `without` are not asked for.
    Equal to the analysis of variance when the design is complete and every effect is asked for.

    Raises:
        Refused: a gap, fewer than two levels of a facet, all scores the same, or effects that
            these scores cannot tell apart.

    Source: Henderson (1953), Biometrics 9, 226-252; Searle, Casella & McCulloch (1992), ch. 5.
    """
    x, cells, levels = long_form(codes, scores, nested, without)
    effects = list(cells)
    mean = float(x.mean())
    centred = x - mean
    matrix = np.empty((len(effects), len(effects)))
    wanted = np.empty(len(effects))
    for row, effect in enumerate(effects):
        within = cells[effect]
        sizes = np.bincount(within).astype(np.float64)
        sums = np.bincount(within, weights=centred)
        wanted[row] = float((sums**2 / sizes).sum())
        for column, other in enumerate(effects):
            matrix[row, column] = _weight_within(within, cells[other], sizes) - float(
                (np.bincount(cells[other]).astype(np.float64) ** 2).sum() / x.size
            )
    values = _solved(matrix, wanted, effects)
    return Components(values, levels, "Henderson 1", HENDERSON_SOURCE, x.size, mean)


def long_form(
    codes: Mapping[str, ArrayLike],
    scores: ArrayLike,
    nested: Nested | None = None,
    without: Collection[str] = (),
) -> tuple[Floats, dict[str, Codes], dict[str, int]]:
    """Scores; per effect the cell of each score, counted from 0; how many of each facet.

    The last effect is what is left over: a cell of its own for every score.  What is `without` is
    not asked for: such differences go to the effects that hold it, what is left over included.

    Raises:
        Refused: a gap, lists of different length, one level of a facet, all scores the same.
    """
    x = np.asarray(scores, dtype=np.float64)
    inside = dict(nested or {})
    facets = "".join(codes)
    raw = {facet: np.asarray(code) for facet, code in codes.items()}
    if x.ndim != 1 or any(code.shape != x.shape for code in raw.values()):
        raise Refused("facets and scores are not equally long lists")
    _check_scores(x)
    cells = {}
    asked = [effect for effect in effects_of(facets, inside) if effect not in without]
    for effect in asked:
        _, cell = np.unique(np.stack([raw[facet] for facet in effect]), axis=1, return_inverse=True)
        cells[effect] = cell.reshape(-1).astype(np.int64)
    levels = {}
    for facet in facets:
        levels[facet] = len(np.unique(raw[facet]))
        _check_levels(facet, levels[facet])
    last = list(cells)[-1]
    cells[last] = np.arange(x.size)
    _check_told_apart(cells, last)
    return x, cells, levels


def _check_facets(facets: str, inside: Nested) -> None:
    if not facets or len(set(facets)) != len(facets):
        raise Refused(f"'{facets}' does not name each facet with a letter of its own")
    for inner, outer in inside.items():
        if inner not in facets or outer not in facets or inner == outer:
            raise Refused(f"'{inner}' in '{outer}': both must be among the facets '{facets}'")
        if outer in inside:
            raise Refused(
                f"'{inner}' in '{outer}' in '{inside[outer]}': one level of nesting is understood;"
                " count the innermost facet in the outermost"
            )


def _check_scores(x: Floats) -> None:
    if not np.isfinite(x).all():
        raise Refused(
            f"{int((~np.isfinite(x)).sum())} of {x.size} scores are missing: leave them out, and"
            " use a method for incomplete designs"
        )
    if not x.size or np.ptp(x) == 0:
        raise Refused(
            f"every score is {x.flat[0]:g}: there are no differences to divide up"
            if x.size
            else "there are no scores"
        )


def _check_levels(facet: str, levels: int) -> None:
    if levels < 2:  # noqa: PLR2004 - one cannot vary
        raise Refused(
            f"facet '{facet}' has only one level: how its levels differ cannot be estimated from"
            " one; score with at least 2, or leave the facet out"
        )


def _check_balanced(x: Floats, facets: str, levels: Mapping[str, int]) -> None:
    if x.ndim != len(facets):
        raise Refused(f"the scores have {x.ndim} axes, and there are {len(facets)} facets")
    for facet, number in levels.items():
        _check_levels(facet, number)
    _check_scores(x)


def _check_told_apart(cells: Mapping[str, Codes], last: str) -> None:
    for effect, cell in cells.items():
        if effect != last and int(cell.max()) + 1 == cell.size:
            raise Refused(
                f"no two scores share the same {effect}: its variance cannot be told from what is"
                " left over; more scores per cell are needed, or leave a facet out"
            )


def _outer(effect: str, inside: Nested) -> set[str]:
    """The facets of an effect that others of it are nested in."""
    return {inside[facet] for facet in effect if facet in inside}


def _effect_of(x: Floats, facets: str, effect: str, primary: Sequence[str]) -> Floats:
    """The effect's deviations, one per cell: means less what its primary facets average to."""
    away = tuple(axis for axis, facet in enumerate(facets) if facet not in effect)
    parts: Floats = x.mean(axis=away, keepdims=True) if away else x
    for facet in primary:
        parts = parts - parts.mean(axis=facets.index(facet), keepdims=True)
    return parts


def _from_mean_squares(
    effects: Sequence[str], squares: Mapping[str, float], sizes: Mapping[str, int]
) -> tuple[dict[str, float], dict[str, dict[str, float]]]:
    """Components, and each as a weighted sum of mean squares.

    The expected mean square of an effect is the sum over the effects that contain it of
    their component times the number of scores per cell of theirs.
    """
    expected = np.array([[sizes[b] if set(a) <= set(b) else 0.0 for b in effects] for a in effects])
    weights = np.linalg.inv(expected)
    values = weights @ np.array([squares[effect] for effect in effects])
    by_effect = {
        effect: {other: float(w) for other, w in zip(effects, weights[row], strict=True) if w != 0}
        for row, effect in enumerate(effects)
    }
    return dict(zip(effects, map(float, values), strict=True)), by_effect


def _weight_within(within: Codes, other: Codes, sizes: Floats) -> float:
    """How often the component of `other` is expected in the square of `within`."""
    width = int(other.max()) + 1
    pairs, counts = np.unique(within * width + other, return_counts=True)
    return float((counts.astype(np.float64) ** 2 / sizes[pairs // width]).sum())


def _solved(matrix: Floats, wanted: Floats, effects: Sequence[str]) -> dict[str, float]:
    if np.linalg.cond(matrix) > SINGULAR:
        raise Refused(
            f"these scores cannot tell {', '.join(effects)} apart: who scored whom must overlap"
            " more than it does"
        )
    return dict(zip(effects, map(float, np.linalg.solve(matrix, wanted)), strict=True))
