"""The answer of a fit: where everybody stands, how sure that is, and what each score is worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standfast.agreement.rasch.scores import Arranged, Floats, Whole
from standfast.problems import Refused


@dataclass(frozen=True)
class Facet:
    """The members of one facet: persons, assessors or criteria.  Equally long arrays.

    `measure` in logits: ability of a person, severity of an assessor, difficulty of a criterion;
    `se` its standard error.  `infit` and `outfit` are mean squares: about 1 when scores are as
    noisy as the model says, above when noisier, below when more regular; infit is weighted by how
    much a score tells.  `infit_z`, `outfit_z` say how far that is from chance (about standard
    normal).  NaN for who has no such figure.  `n` counts the scores that fit rests on: those of
    persons not at an end.
    """

    codes: Whole
    names: tuple[str, ...]
    measure: Floats
    se: Floats
    n: Whole
    infit: Floats
    outfit: Floats
    infit_z: Floats
    outfit_z: Floats

    @property
    def separation(self) -> float:
        """True spread over typical error; 0 when all difference is no more than error.

        Source: Wright & Masters (1982), Rating scale analysis, chapter 5 (from memory).
        """
        true, error = self._spreads()
        return float(np.sqrt(true / error)) if error > 0 else float("nan")

    @property
    def reliability(self) -> float:
        """Share of the variance of the measures that is no error, 0 to 1; same source."""
        true, error = self._spreads()
        return true / (true + error) if true + error > 0 else float("nan")

    def _spreads(self) -> tuple[float, float]:
        known = np.isfinite(self.measure) & np.isfinite(self.se)
        if known.sum() < 2:  # noqa: PLR2004 - a spread needs two
            return float("nan"), float("nan")
        error = float(np.mean(self.se[known] ** 2))
        return max(float(np.var(self.measure[known], ddof=1)) - error, 0.0), error


@dataclass(frozen=True)
class Fitted:
    """Severities, difficulties and thresholds each sum to 0; persons are where they are.

    `thresholds` (sets x steps, NaN where a criterion has fewer): one set, or one per criterion.
    `fair` is for each person the mean score over all criteria from an assessor of average
    severity, on the scale of the scores; `fair_low` to `fair_high` 95 % bounds for it, from the
    error of the person's measure alone.  `person_mean` and `person_sd` only of a marginal fit.
    """

    method: str
    persons: Facet
    assessors: Facet
    criteria: Facet
    thresholds: Floats
    thresholds_se: Floats
    loglik: float
    steps: int
    extreme: Whole
    """Codes of persons whose every score is at one end."""
    fair: Floats
    fair_low: Floats
    fair_high: Floats
    notes: tuple[str, ...]
    person_mean: float | None = None
    person_sd: float | None = None
    person_mean_se: float | None = None
    person_sd_se: float | None = None


@dataclass(frozen=True)
class Settled:
    """Where the search ended: free parameters, their covariance, log-likelihood, steps taken."""

    free: Floats
    covariance: Floats
    loglik: float
    steps: int


def certain(information: Floats) -> Floats:
    """The covariance of the figures.

    Raises:
        Refused: some direction is not pinned down at all.
    """
    if information.size and np.linalg.eigvalsh(information)[0] <= 0:
        raise Refused(
            "the scores do not pin the figures down: there is no standard error to give; "
            "persons may not differ at all, or there are too few scores"
        )
    return np.asarray(np.linalg.inv(information))


def threshold_table(made: Arranged, values: Floats) -> Floats:
    """The thresholds out of the named parameters: sets x steps, NaN where there is none."""
    start = len(made.assessors) + len(made.criteria)
    tops = [made.top] if made.thresholds == "common" else [int(top) for top in made.tops]
    table = np.full((len(tops), made.top), np.nan)
    for row, top in enumerate(tops):
        table[row, :top] = values[start : start + top]
        start += top
    return table
