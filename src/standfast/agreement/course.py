"""Severity period by period, beside others who saw the same lessons: what a drift is made of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from standfast.agreement.chance import mean_difference
from standfast.agreement.habits import LEAST_IN_PERIOD, lesson_means, residuals
from standfast.agreement.ratings import Codes, Ratings


@dataclass(frozen=True)
class InPeriod:
    """One assessor in one period: shares of the scale, below 0 gives less than the others."""

    assessor: str
    period: str
    value: float
    low: float | None
    """A 95 % interval; none from fewer than `LEAST_IN_PERIOD` lessons."""
    high: float | None
    lessons: int
    """Scored by her and by others."""


def course(ratings: Ratings, period_of: Codes, periods: tuple[str, ...]) -> tuple[InPeriod, ...]:
    """Every assessor's periods with a shared lesson, by assessor and time.

    `period_of` gives for each occasion its place in `periods`.  The same residuals as severity and
    drift (`habits.py`); no test is made of them here.
    """
    means = lesson_means(ratings, residuals(ratings))
    when = period_of[means.occasion]
    found = []
    for code, name in enumerate(ratings.assessors):
        mine = means.assessor == code
        for period in np.unique(when[mine]):
            values = means.value[mine & (when == period)]
            mean = mean_difference(values) if len(values) >= LEAST_IN_PERIOD else None
            found.append(
                InPeriod(
                    name,
                    periods[period],
                    float(values.mean()),
                    mean.low if mean else None,
                    mean.high if mean else None,
                    len(values),
                )
            )
    return tuple(found)
