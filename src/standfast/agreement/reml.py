"""Variance components of incomplete designs, by restricted maximum likelihood.

Unlike the methods of moments in `components`, no component is below zero, and who scored whom may
have any number of holes.  The likelihood is profiled over the mean and the residual variance, so
that only the ratio of each effect's standard deviation to the residual's is searched; effects
enter through a sparse matrix, because most of them never meet.

Source: Patterson & Thompson (1971), Biometrika 58, 545-554; the profiled form and its scaled
equations Bates, Maechler, Bolker & Walker (2015), Journal of Statistical Software 67(1), sec. 3.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from math import inf, log, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import fmin_l_bfgs_b
from scipy.sparse import csr_array, eye_array
from scipy.sparse.linalg import splu

from standfast.agreement.components import (
    Codes,
    Components,
    Floats,
    Nested,
    henderson_components,
    long_form,
)
from standfast.agreement.icc import summed
from standfast.problems import Refused

SOURCE = "Patterson & Thompson (1971); Bates et al. (2015)"
STEP = 1e-4
"""Of a ratio, for slopes by differences: rounding and curvature err about equally."""
AT_ZERO = 1e-3
"""A ratio of standard deviations under this is tried at zero itself."""
FLAT = 1e-3
"""A slope of the deviance under this, per unit of a ratio, counts as none."""
NOTHING = 1e-9
"""A residual variance under this, in squared ranges of the scores, is rounding."""
SMOOTH = 1e-5
"""A slope over this is polished by Newton's method."""
POLISHING_STEPS = 6
Deviance = Callable[[Floats], float]


def reml_components(
    codes: Mapping[str, ArrayLike],
    scores: ArrayLike,
    nested: Nested | None = None,
    *,
    most_steps: int = 200,
) -> Components:
    """Components of any design, every effect random, none below zero.

    `codes` has per facet one whole number per score (a nested facet may count anew in each level
    of what it is nested in); `scores` is as long.  `converged` says whether the fit ended where
    the likelihood is flat, and `note` how.  Equal to the analysis of variance when the design is
    complete and that gives nothing below zero.

    Raises:
        Refused: a gap, fewer than two levels of a facet, all scores the same, or no score left
            over beside the effects.
    """
    x, cells, levels = long_form(codes, scores, nested)
    effects = list(cells)
    fit = _Profile.of(x - x.mean(), [cells[effect] for effect in effects[:-1]])
    start = _start(codes, scores, nested, effects)
    ratios, _, ending = fmin_l_bfgs_b(
        fit.deviance,
        start,
        fprime=partial(_slopes, fit.deviance),
        bounds=[(0.0, None)] * len(start),
        factr=10.0,
        pgtol=1e-7,
        maxiter=most_steps,
    )
    ratios = _polished(fit.deviance, ratios)
    steepest = _steepest(fit.deviance, ratios)
    residual = fit.residual(ratios)
    values = {
        effect: float(ratio**2 * residual)
        for effect, ratio in zip(effects[:-1], ratios, strict=True)
    }
    if residual <= NOTHING * float(np.ptp(x)) ** 2:
        raise Refused(
            "the effects explain every score exactly and leave nothing over: likelihood has no"
            " best answer here; use the analysis of variance"
        )
    converged = steepest < FLAT * max(1.0, sqrt(x.size))
    return Components(
        {**values, effects[-1]: residual},
        levels,
        "REML",
        SOURCE,
        x.size,
        fit.mean(ratios) + float(x.mean()),
        converged=converged,
        note=_how_it_ended(converged, int(ending["nit"]), steepest, values),
    )


@dataclass(frozen=True)
class _Profile:
    """The deviance as a function of the ratios, with all sums over scores taken once.

    The cells of one effect never meet each other: of the effect with most cells the part of the
    system is diagonal and is eliminated first, which leaves a small system (5 assessors instead
    of 20,000 persons).
    """

    n: int
    squares: float
    largest: int
    """Which effect has most cells."""
    sizes: tuple[int, ...]
    """How many cells each of the other effects has."""
    meetings: csr_array[np.float64]
    """How often a cell of the largest effect meets one of the others."""
    products: csr_array[np.float64]
    """How often two cells of the others meet."""
    counts: tuple[Floats, Floats]
    """Scores per cell: of the largest effect, of the others."""
    sums: tuple[Floats, Floats]
    """Their sums."""

    @classmethod
    def of(cls, x: Floats, cells: list[Codes]) -> _Profile:
        largest = max(range(len(cells)), key=lambda row: int(cells[row].max()))
        z1 = _marks(cells[largest : largest + 1])
        others = cells[:largest] + cells[largest + 1 :]
        z2 = _marks(others) if others else csr_array((x.size, 0), dtype=np.float64)
        ones = np.ones(x.size)
        return cls(
            x.size,
            summed(x, x),
            largest,
            tuple(int(cell.max()) + 1 for cell in others),
            csr_array(z1.T @ z2),
            csr_array(z2.T @ z2),
            (_down(z1, ones), _down(z2, ones)),
            (_down(z1, x), _down(z2, x)),
        )

    def _solve(self, ratios: Floats) -> tuple[float, float, float, float]:
        """Log determinant; and 1'1, 1'x and x'x as the effects leave them."""
        first = ratios[self.largest]
        scale = np.repeat(np.delete(ratios, self.largest), self.sizes)
        diagonal = 1.0 + first**2 * self.counts[0]
        determinant = float(np.log(diagonal).sum())
        sides = [
            (first * of_largest, scale * of_others)
            for of_largest, of_others in (self.counts, self.sums)
        ]
        ones, sums = (side / diagonal for side, _ in sides)
        left = [
            self.n - summed(sides[0][0], ones),
            -summed(sides[0][0], sums),  # x is centred: its own sum is nothing
            self.squares - summed(sides[1][0], sums),
        ]
        if scale.size:
            across = _scaled(self.meetings, np.full(diagonal.size, first), scale)
            rest = np.stack([side - across.T @ (of / diagonal) for of, side in sides], axis=1)
            system = _scaled(self.products, scale, scale) - across.T @ _scaled(
                across, 1.0 / diagonal, np.ones(scale.size)
            )
            more, solved = _solved(system, rest)
            determinant += more
            taken = rest.T @ solved
            left = [left[0] - taken[0, 0], left[1] - taken[0, 1], left[2] - taken[1, 1]]
        return determinant, float(left[0]), float(left[1]), float(left[2])

    def deviance(self, ratios: Floats) -> float:
        """Minus twice the restricted log likelihood, the mean and residual at their best."""
        determinant, ones, cross, squares = self._solve(ratios)
        left = squares - cross**2 / ones
        if left <= 0:
            return inf
        return determinant + log(ones) + (self.n - 1) * (1 + log(2 * pi * left / (self.n - 1)))

    def residual(self, ratios: Floats) -> float:
        _, ones, cross, squares = self._solve(ratios)
        return (squares - cross**2 / ones) / (self.n - 1)

    def mean(self, ratios: Floats) -> float:
        _, ones, cross, _ = self._solve(ratios)
        return cross / ones


def _marks(cells: list[Codes]) -> csr_array[np.float64]:
    """A row per score with a one in the column of its cell, for every effect."""
    sizes = [int(cell.max()) + 1 for cell in cells]
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64)
    columns = np.concatenate([cell + s for cell, s in zip(cells, starts, strict=True)])
    rows = np.tile(np.arange(cells[0].size), len(cells))
    return csr_array((np.ones(columns.size), (rows, columns)), shape=(cells[0].size, sum(sizes)))


def _down(matrix: csr_array[np.float64], values: Floats) -> Floats:
    """The sum of the values in each column's cell."""
    return np.asarray(matrix.T @ values, dtype=np.float64)


def _scaled(matrix: csr_array[np.float64], rows: Floats, columns: Floats) -> csr_array[np.float64]:
    """Each row and each column times a number of its own."""
    by_row = np.repeat(rows, np.diff(matrix.indptr))
    return csr_array(
        (matrix.data * by_row * columns[matrix.indices], matrix.indices, matrix.indptr),
        shape=matrix.shape,
    )


def _solved(system: csr_array[np.float64], sides: Floats) -> tuple[float, Floats]:
    """Log determinant and solution of a symmetric system with ones added to its diagonal."""
    factor = splu(
        (system + eye_array(system.shape[0])).tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0,
        options={"SymmetricMode": True},
    )
    return float(np.log(np.abs(factor.U.diagonal())).sum()), factor.solve(sides)


def _start(
    codes: Mapping[str, ArrayLike], scores: ArrayLike, nested: Nested | None, effects: list[str]
) -> Floats:
    """Ratios from the method of moments where that works; ones where it does not."""
    try:
        first = henderson_components(codes, scores, nested).as_estimated
    except Refused:
        return np.ones(len(effects) - 1)
    left = first[effects[-1]]
    if left <= 0:
        return np.ones(len(effects) - 1)
    ratios = np.array([first[effect] / left for effect in effects[:-1]])
    return np.asarray(np.sqrt(np.clip(ratios, 0.05, 400.0)), dtype=np.float64)


def _slopes(deviance: Deviance, at: Floats) -> Floats:
    """Slopes by central differences; the deviance is the same for a ratio and its negative."""
    return np.array([_slope(deviance, at, row) for row in range(at.size)])


def _slope(deviance: Deviance, at: Floats, row: int) -> float:
    step = STEP * max(1.0, at[row])
    up, down = at.copy(), at.copy()
    up[row] += step
    down[row] = abs(down[row] - step)
    return float((deviance(up) - deviance(down)) / (2 * step))


def _polished(deviance: Deviance, at: Floats) -> Floats:
    """The ratios after a few of Newton's steps, and zero where zero is no worse."""
    best, lowest = at.copy(), deviance(at)
    for row in np.flatnonzero(best < AT_ZERO):
        tried = best.copy()
        tried[row] = 0.0
        if (there := deviance(tried)) <= lowest + 1e-9:
            best, lowest = tried, there
    free = np.flatnonzero(best > 0)
    rough = np.abs([_slope(deviance, best, int(row)) for row in free]).max(initial=0.0) > SMOOTH
    for _ in range(POLISHING_STEPS if rough else 0):
        step = _newton_step(deviance, best, free)
        tried = best.copy()
        tried[free] += step
        if (tried < 0).any() or not (there := deviance(tried)) <= lowest + 1e-9:
            break
        best, lowest = tried, there
        if np.abs(step).max() < 1e-9:  # noqa: PLR2004 - far below what is reported
            break
    return best


def _newton_step(deviance: Deviance, at: Floats, free: NDArray[np.int64]) -> Floats:
    slopes = np.array([_slope(deviance, at, row) for row in free])
    bends = np.empty((free.size, free.size))
    for column, row in enumerate(free):
        step = STEP * 10 * max(1.0, at[row])
        up, down = at.copy(), at.copy()
        up[row] += step
        down[row] = abs(down[row] - step)
        above = np.array([_slope(deviance, up, other) for other in free])
        below = np.array([_slope(deviance, down, other) for other in free])
        bends[:, column] = (above - below) / (2 * step)
    try:
        return -np.linalg.solve((bends + bends.T) / 2, slopes)
    except np.linalg.LinAlgError:
        return np.zeros(free.size)


def _steepest(deviance: Deviance, at: Floats) -> float:
    """The steepest slope that is left: at a bound of zero only one that leads away from it."""
    worst = 0.0
    here = deviance(at)
    for row in range(at.size):
        if at[row] > 0:
            worst = max(worst, abs(_slope(deviance, at, row)))
            continue
        away = at.copy()
        away[row] = 10 * STEP
        worst = max(worst, (here - deviance(away)) / (10 * STEP) ** 2)
    return worst


def _how_it_ended(converged: bool, steps: int, steepest: float, values: Mapping[str, float]) -> str:
    zero = [effect for effect, value in values.items() if value == 0]
    bound = f"; {', '.join(zero)} at the bound of zero" if zero else ""
    if converged:
        return f"the fit converged in {steps} steps{bound}"
    return (
        f"the fit did not converge: after {steps} steps the likelihood still rises with a slope"
        f" of {steepest:.2g}{bound}; do not rely on these figures"
    )
