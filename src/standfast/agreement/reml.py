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
from math import inf, log, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from standfast.agreement.components import (
    Codes,
    Components,
    Floats,
    Nested,
    henderson_components,
    long_form,
)
from standfast.problems import Refused

SOURCE = "Patterson & Thompson (1971); Bates et al. (2015)"
STEP = 1e-4
"""Of a ratio, for slopes by differences: rounding and curvature err about equally."""
AT_ZERO = 1e-3
"""A ratio of standard deviations under this is tried at zero itself."""
FLAT = 1e-3
"""A slope of the deviance under this, per unit of a ratio, counts as none."""
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
    from scipy.optimize import minimize

    x, cells, levels = long_form(codes, scores, nested)
    effects = list(cells)
    fit = _Profile.of(x - x.mean(), [cells[effect] for effect in effects[:-1]])
    start = _start(codes, scores, nested, effects)
    found = minimize(
        fit.deviance,
        start,
        jac=lambda at: _slopes(fit.deviance, at),
        method="L-BFGS-B",
        bounds=[(0.0, None)] * len(start),
        options={"maxiter": most_steps, "ftol": 1e-13, "gtol": 1e-7},
    )
    ratios = _polished(fit.deviance, np.asarray(found.x))
    steepest = _steepest(fit.deviance, ratios)
    residual = fit.residual(ratios)
    values = {
        effect: float(ratio**2 * residual)
        for effect, ratio in zip(effects[:-1], ratios, strict=True)
    }
    converged = steepest < FLAT * max(1.0, sqrt(x.size))
    return Components(
        {**values, effects[-1]: residual},
        levels,
        "REML",
        SOURCE,
        x.size,
        fit.mean(ratios) + float(x.mean()),
        converged=converged,
        note=_how_it_ended(converged, int(found.nit), steepest, values),
    )


@dataclass(frozen=True)
class _Profile:
    """The deviance as a function of the ratios, with all sums over scores taken once."""

    n: int
    squares: float
    sizes: tuple[int, ...]
    """How many cells each effect has."""
    products: object
    """How often two cells meet: a sparse matrix over the cells of all effects."""
    counts: Floats
    sums: Floats

    @classmethod
    def of(cls, x: Floats, cells: list[Codes]) -> _Profile:
        from scipy.sparse import csr_array

        sizes = tuple(int(cell.max()) + 1 for cell in cells)
        starts = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64)
        columns = np.concatenate([cell + s for cell, s in zip(cells, starts, strict=True)])
        rows = np.tile(np.arange(x.size), len(cells))
        z = csr_array((np.ones(columns.size), (rows, columns)), shape=(x.size, sum(sizes)))
        products = (z.T @ z).tocsc()
        return cls(
            x.size,
            float(x @ x),
            sizes,
            products,
            np.bincount(columns, minlength=sum(sizes)).astype(np.float64),
            np.bincount(columns, weights=np.tile(x, len(cells)), minlength=sum(sizes)),
        )

    def _solve(self, ratios: Floats) -> tuple[float, float, float, float]:
        """Log determinant; and 1'1, 1'x and x'x as the effects leave them."""
        from scipy.sparse import dia_array, eye_array
        from scipy.sparse.linalg import splu

        scale = np.repeat(ratios, self.sizes)
        across = dia_array((scale[None, :], [0]), shape=(scale.size, scale.size))
        system = (across @ self.products @ across + eye_array(scale.size)).tocsc()
        factor = splu(
            system, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0, options={"SymmetricMode": True}
        )
        determinant = float(np.log(np.abs(factor.U.diagonal())).sum())
        ones, sums = scale * self.counts, scale * self.sums
        of_ones, of_sums = factor.solve(ones), factor.solve(sums)
        return (
            determinant,
            self.n - float(ones @ of_ones),
            -float(ones @ of_sums),  # x is centred: its own sum is nothing
            self.squares - float(sums @ of_sums),
        )

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
    return np.sqrt(np.clip([first[effect] / left for effect in effects[:-1]], 0.05, 400.0))


def _slopes(deviance: Deviance, at: Floats) -> Floats:
    """Slopes by central differences; the deviance is the same for a ratio and its negative."""
    return np.array([_slope(deviance, at, row) for row in range(at.size)])


def _slope(deviance: Deviance, at: Floats, row: int) -> float:
    step = STEP * max(1.0, at[row])
    up, down = at.copy(), at.copy()
    up[row] += step
    down[row] = abs(down[row] - step)
    return (deviance(up) - deviance(down)) / (2 * step)


def _polished(deviance: Deviance, at: Floats) -> Floats:
    """The ratios after a few of Newton's steps, and zero where zero is no worse."""
    best, lowest = at.copy(), deviance(at)
    for row in np.flatnonzero(best < AT_ZERO):
        tried = best.copy()
        tried[row] = 0.0
        if (there := deviance(tried)) <= lowest + 1e-9:
            best, lowest = tried, there
    free = np.flatnonzero(best > 0)
    for _ in range(POLISHING_STEPS if free.size else 0):
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
