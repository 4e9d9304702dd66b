"""Variance components of incomplete designs, by restricted maximum likelihood.

Unlike the methods of moments in `components`, no component is below zero, and who scored whom may
have any number of holes.  The likelihood is profiled over the mean and the residual variance, so
that only the ratio of each effect's standard deviation to the residual's is searched; `blocks` has
the likelihood and its exact slopes.

Source: Patterson & Thompson (1971), Biometrika 58, 545-554; the profiled form Bates, Maechler,
Bolker & Walker (2015), Journal of Statistical Software 67(1), section 3.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import fmin_l_bfgs_b

from standfast.agreement.blocks import MOST_CELLS, Likelihood, cheapest_split
from standfast.agreement.components import (
    Components,
    Floats,
    Nested,
    henderson_components,
    long_form,
)
from standfast.problems import Refused

SOURCE = "Patterson & Thompson (1971); Bates et al. (2015)"
STEP = 1e-4
"""Of a ratio, for how a slope bends, by differences: rounding and curvature err about equally."""
AT_ZERO = 1e-3
"""A ratio of standard deviations under this is tried at zero itself."""
FLAT = 1e-3
"""A slope of the deviance under this, per unit of a ratio, counts as none."""
NOTHING = 1e-9
"""A residual variance under this, in squared ranges of the scores, is rounding."""
SMOOTH = 1e-5
"""A slope over this is polished by Newton's method."""
POLISHING_STEPS = 6
TRIES = 3
"""How often a ratio that stuck at zero is set free."""
FREED = 0.1


def reml_components(
    codes: Mapping[str, ArrayLike],
    scores: ArrayLike,
    nested: Nested | None = None,
    *,
    without: Collection[str] = (),
    most_steps: int = 200,
) -> Components:
    """Components of any design, every effect random, none below zero.

    `codes` has per facet one whole number per score (a nested facet may count anew in each level
    of what it is nested in); `scores` is as long; effects named in `without` are not asked for.
    `converged` says whether the fit ended where the likelihood is flat, and `note` how.  Equal to
    the analysis of variance when the design is complete and that gives nothing below zero.

    Raises:
        Refused: a gap, fewer than two levels of a facet, all scores the same, no score left over
            beside the effects, or so many cells that they cannot be held (see `reml_work`).
    """
    x, cells, levels = long_form(codes, scores, nested, without)
    effects = list(cells)
    asked = {effect: cells[effect] for effect in effects[:-1]}
    split = cheapest_split(asked)
    if split.held > MOST_CELLS:
        raise Refused(
            f"these {x.size} scores have {split.shared} cells in common, too many to hold for the"
            " likelihood; use the method of moments"
        )
    fit = Likelihood.of(x - x.mean(), asked, split)
    ratios, steps = _fitted(fit, _start(codes, scores, nested, without, effects), most_steps)
    steepest = _steepest(fit, ratios)
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
        note=_how_it_ended(converged, steps, steepest, values),
    )


def reml_work(
    codes: Mapping[str, ArrayLike],
    scores: ArrayLike,
    nested: Nested | None = None,
    *,
    without: Collection[str] = (),
) -> float:
    """How many multiplications one look at the likelihood takes; infinite when it cannot be held.

    A fit looks 30 to 100 times.

    Raises:
        Refused: as `reml_components`.
    """
    _, cells, _ = long_form(codes, scores, nested, without)
    split = cheapest_split(dict(list(cells.items())[:-1]))
    return split.work if split.held <= MOST_CELLS else float("inf")


def _fitted(fit: Likelihood, start: Floats, most_steps: int) -> tuple[Floats, int]:
    """The best ratios, and how many steps it took.

    A ratio that a step put on zero stays there, since the slope at zero is none; so one from which
    the likelihood rises is set free and all is searched again.
    """
    steps, ratios = 0, start
    for _ in range(TRIES):
        ratios, _, ending = fmin_l_bfgs_b(
            fit.with_slopes,
            ratios,
            bounds=[(0.0, None)] * len(start),
            factr=10.0,
            pgtol=1e-7,
            maxiter=most_steps,
        )
        steps += int(ending["nit"])
        if steps >= most_steps:
            break
        ratios = _polished(fit, ratios)
        stuck = [row for row in range(ratios.size) if _rises_from_zero(fit, ratios, row) > FLAT]
        if not stuck:
            break
        ratios[stuck] = FREED
    return ratios, steps


def _start(
    codes: Mapping[str, ArrayLike],
    scores: ArrayLike,
    nested: Nested | None,
    without: Collection[str],
    effects: list[str],
) -> Floats:
    """Ratios from the method of moments where that works; ones where it does not."""
    try:
        first = henderson_components(codes, scores, nested, without=without).as_estimated
    except Refused:
        return np.ones(len(effects) - 1)
    left = first[effects[-1]]
    if left <= 0:
        return np.ones(len(effects) - 1)
    ratios = np.array([first[effect] / left for effect in effects[:-1]])
    return np.asarray(np.sqrt(np.clip(ratios, 0.05, 400.0)), dtype=np.float64)


def _polished(fit: Likelihood, at: Floats) -> Floats:
    """The ratios after a few of Newton's steps, and zero where zero is no worse."""
    best, lowest = at.copy(), fit.deviance(at)
    for row in np.flatnonzero((best > 0) & (best < AT_ZERO)):
        tried = best.copy()
        tried[row] = 0.0
        if (there := fit.deviance(tried)) <= lowest + 1e-9:
            best, lowest = tried, there
    free = np.flatnonzero(best > 0)
    for _ in range(POLISHING_STEPS):
        slopes = fit.with_slopes(best)[1][free]
        if np.abs(slopes).max(initial=0.0) <= SMOOTH:
            break
        step = _newton_step(fit, best, free, slopes)
        tried = best.copy()
        tried[free] += step
        if (tried < 0).any() or not (there := fit.deviance(tried)) <= lowest + 1e-9:
            break
        best, lowest = tried, there
        if np.abs(step).max() < 1e-9:  # noqa: PLR2004 - far below what is reported
            break
    return best


def _newton_step(fit: Likelihood, at: Floats, free: NDArray[np.int64], slopes: Floats) -> Floats:
    bends = np.empty((free.size, free.size))
    for column, row in enumerate(free):
        step = STEP * min(1.0, at[row])
        up, down = at.copy(), at.copy()
        up[row] += step
        down[row] -= step
        above, below = (fit.with_slopes(to)[1][free] for to in (up, down))
        bends[:, column] = (above - below) / (2 * step)
    try:
        found = np.linalg.solve((bends + bends.T) / 2, -slopes)
    except np.linalg.LinAlgError:
        return np.zeros(free.size)
    return np.asarray(found, dtype=np.float64)


def _rises_from_zero(fit: Likelihood, at: Floats, row: int) -> float:
    """How steeply the deviance falls when a ratio leaves zero; 0 where it is not at zero.

    It is even around zero, so it falls by the square.
    """
    if at[row] > 0:
        return 0.0
    away = at.copy()
    away[row] = 10 * STEP
    return max(0.0, (fit.deviance(at) - fit.deviance(away)) / (10 * STEP) ** 2)


def _steepest(fit: Likelihood, at: Floats) -> float:
    """The steepest slope that is left: at a bound of zero only one that leads away from it."""
    slopes = np.abs(fit.with_slopes(at)[1]).max(initial=0.0)
    return max(float(slopes), *(_rises_from_zero(fit, at, row) for row in range(at.size)))


def _how_it_ended(converged: bool, steps: int, steepest: float, values: Mapping[str, float]) -> str:
    zero = [effect for effect, value in values.items() if value == 0]
    bound = f"; {', '.join(zero)} at the bound of zero" if zero else ""
    if converged:
        return f"the fit converged in {steps} steps{bound}"
    return (
        f"the fit did not converge: after {steps} steps the likelihood still rises with a slope"
        f" of {steepest:.2g}{bound}; do not rely on these figures"
    )
