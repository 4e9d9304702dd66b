"""How often two assessors who saw the same thing marked it alike, with how sure that is."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from standfast.agreement.estimate import Estimate
from standfast.agreement.ratings import Codes, Ratings, Shared, Values, first_of, joined_codes

LEAST_LESSONS = 5
"""Under so many lessons there is no interval.  Common practice, no source."""


def alike(ratings: Ratings, pairs: Shared, within: Values) -> Values:
    """1 where the two marks differ by at most what their criterion allows, 0 elsewhere.

    `within` has one number for each criterion; the last digits of a share do not count.
    """
    difference = np.abs(ratings.score[pairs.first] - ratings.score[pairs.second])
    allowed = within[ratings.criterion[pairs.first]]
    return (difference <= allowed + 1e-9).astype(np.float64)


def percent_agreement(same: Values, lesson: Codes) -> Estimate:
    """The share of pairs of marks that are alike, 0 to 1, with a 95 % interval.

    `same` has 1 or 0 for each pair, or a share; `lesson` what the pair was seen in. `n` is the
    number of lessons. Pairs of one lesson are alike or not together, so the interval is Wilson's
    (1927) with an effective number of pairs: as many as, were they independent, would give the
    variance between lessons (linearised ratio; Kish 1965), fewer by the square of the normal
    quantile over Student's, as Korn and Graubard (1998) do for a binomial interval (from memory).
    Where all are alike or none, each lesson counts as one. No interval from fewer than
    `LEAST_LESSONS` lessons; NaN without any pair.
    """
    lessons, place = np.unique(lesson, return_inverse=True)
    if not len(lessons):
        return Estimate("percent_agreement", float("nan"), 0, _SOURCE)
    share = float(same.mean())
    off = np.bincount(place, same) - share * np.bincount(place)
    return _estimate(share, len(lessons), len(same), float(off @ off))


def percent_of_sums(
    lessons: int, pairs: int, alike: int, squares: tuple[int, int, int]
) -> Estimate:
    """The same from whole numbers summed over lessons.

    `squares` are the sums of each lesson's pairs squared, pairs times alike, and alike squared.
    """
    if not lessons:
        return Estimate("percent_agreement", float("nan"), 0, _SOURCE)
    share = Fraction(alike, pairs)
    off = squares[2] - 2 * share * squares[1] + share**2 * squares[0]
    return _estimate(float(share), lessons, pairs, float(off))


def _estimate(share: float, lessons: int, pairs: int, off: float) -> Estimate:
    """`off` is the sum of squares of what each lesson has alike beyond the share of its pairs."""
    variance = lessons / max(lessons - 1, 1) * off / pairs**2
    if lessons < LEAST_LESSONS:
        few = f"no interval from fewer than {LEAST_LESSONS} lessons"
        return Estimate("percent_agreement", share, lessons, _SOURCE, method=few)
    effective = _effective(share, variance, lessons, pairs)
    low, high = wilson(share, effective)
    how = f"Wilson, worth {effective:.0f} independent pairs of {pairs}"
    return Estimate(
        *("percent_agreement", share, lessons, _SOURCE, float(np.sqrt(variance)), low, high),
        method=how,
    )


_SOURCE = "Wilson (1927), Korn and Graubard (1998)"


def over_criteria(same: Values, lesson: Codes, criterion: Codes) -> Estimate:
    """The same over several criteria, each counting as much as another in every lesson.

    Without that fifty answers about the students' tries would drown one level: a criterion's pairs
    of a lesson become their share that is alike.
    """
    cell = joined_codes(lesson, criterion)
    if not len(cell):
        return percent_agreement(same, lesson)
    where = first_of(cell)
    return percent_agreement(np.bincount(cell, same) / np.bincount(cell), lesson[where])


def _effective(share: float, variance: float, lessons: int, pairs: int) -> float:
    from scipy.special import ndtri, stdtrit  # the quantiles, without loading scipy.stats

    spread = share * (1 - share)
    if spread <= 0 or variance <= 0:
        return float(lessons)
    known = (ndtri(0.975) / stdtrit(lessons - 1, 0.975)) ** 2
    return float(min(max(spread / variance * known, 1.0), pairs))


def wilson(share: float, n: float, level: float = 0.95) -> tuple[float, float]:
    """Wilson's score interval of a share seen in n independent trials; n may be a fraction.

    Source: Wilson (1927), Journal of the American Statistical Association 22, 209-212.
    """
    from scipy.special import ndtri

    z = float(ndtri((1 + level) / 2))
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * float(np.sqrt(share * (1 - share) / n + z * z / (4 * n * n)))
    return max(0.0, middle - half), min(1.0, middle + half)
