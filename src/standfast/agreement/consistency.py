"""Whether a pass mark on counted points would decide the same again, from one administration.

For scores that count points out of so many: the beta-binomial model and its kin, where
`generalizability` has the normal model for means of ratings.  `p0` is the chance that two equal
administrations decide the same, `kappa` the same beyond chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import bdtrc, betaln, gammaln, ndtr

from standfast.agreement.generalizability import two_disagree
from standfast.agreement.true_scores import (
    MOMENTS,
    TrueScores,
    four_parameter_beta,
    over,
    share_below,
    true_moments,
    two_parameter_beta,
)
from standfast.problems import Refused

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Consistency:
    """Two administrations of the same kind: how often both decide alike."""

    pass_rate: float
    p0: float
    """The chance that both decide the same."""
    p_chance: float
    """The same if the two had nothing to do with each other."""
    source: str

    @property
    def kappa(self) -> float:
        """Agreement beyond chance; not a number when everybody passes or fails."""
        if self.p_chance >= 1:
            return float("nan")
        return (self.p0 - self.p_chance) / (1 - self.p_chance)


@dataclass(frozen=True)
class BetaBinomial(Consistency):
    """Huynh's figures, with the model behind them."""

    kr21: float
    alpha: float
    beta: float
    p_both_pass: float
    p_both_fail: float


@dataclass(frozen=True)
class Classification(Consistency):
    """Livingston & Lewis: decisions against true scores, and against another administration."""

    true_pass: float
    false_pass: float
    """Passes whose true score is below the cut."""
    false_fail: float
    true_fail: float

    @property
    def accuracy(self) -> float:
        """The chance that a decision is the one the true score would get."""
        return self.true_pass + self.true_fail


@dataclass(frozen=True)
class EffectiveTest:
    """Livingston & Lewis's stand-in: a test of so many independent points with these moments."""

    length: float
    true_moments: Floats
    """The first four raw moments of true shares."""
    true_scores: TrueScores
    four_parameters: TrueScores | None
    """The fit with free bounds, where there is one; used only if it stays within 0 and 1."""

    @property
    def rounded(self) -> int:
        """The length as a whole number of points."""
        return max(1, floor(self.length + 0.5))


def kr21(points: int, mean: float, variance: float) -> float:
    """Reliability of a count of points that are all as hard: Kuder & Richardson's formula 21.

    Source: Kuder & Richardson (1937), Psychometrika 2, 151-160.
    """
    if points <= 1 or variance <= 0:
        raise Refused("a reliability needs at least 2 points and scores that differ")
    return points / (points - 1) * (1 - mean * (points - mean) / (points * variance))


def beta_binomial(points: int, mean: float, sd: float, cut: int) -> BetaBinomial:
    """Consistency of passing at `cut` and above, from the mean and spread of counts.

    Raises:
        Refused: scores that spread no more than chance alone would spread them.

    Source: Huynh (1976), Journal of Educational Measurement 13, 253-264.
    """
    reliability = kr21(points, mean, sd**2)
    if reliability <= 0:
        raise Refused(
            f"the scores spread by {sd:g} points, no more than chance alone would spread them:"
            " the model sees no differences between persons"
        )
    alpha = (1 / reliability - 1) * mean
    beta = points / reliability - points - alpha
    scores = np.arange(points + 1)
    ways = gammaln(points + 1) - gammaln(scores + 1) - gammaln(points - scores + 1)
    both = np.add.outer(scores, scores)
    chances = np.exp(
        np.add.outer(ways, ways)
        + betaln(alpha + both, beta + 2 * points - both)
        - betaln(alpha, beta)
    )
    passing = scores >= cut
    both_pass = float(chances[np.ix_(passing, passing)].sum())
    both_fail = float(chances[np.ix_(~passing, ~passing)].sum())
    rate = float(chances[passing].sum())
    return BetaBinomial(
        rate,
        both_pass + both_fail,
        rate**2 + (1 - rate) ** 2,
        "Huynh (1976)",
        reliability,
        alpha,
        beta,
        both_pass,
        both_fail,
    )


def normal_consistency(z: float, reliability: float) -> Consistency:
    """Consistency when two administrations' scores are jointly normal.

    `z` is the cut in standard deviations from the mean; of counts take half a point off the cut.

    Source: Peng & Subkoviak (1980), Journal of Educational Measurement 17, 359-368; the tables of
    Subkoviak (1988), Journal of Educational Measurement 25, 47-55.

    >>> round(normal_consistency(0.0, 0.5).p0, 2)
    0.67
    """
    if not 0 <= reliability <= 1:
        raise Refused(f"a reliability of {reliability:g} is not between 0 and 1")
    rate = float(ndtr(-z))
    return Consistency(
        rate,
        1 - two_disagree(z, reliability),
        rate**2 + (1 - rate) ** 2,
        "Peng & Subkoviak (1980)",
    )


@dataclass(frozen=True)
class PersonByPerson(Consistency):
    """Subkoviak's figures with each person's own chance of passing."""

    person_pass_probability: Floats


def person_by_person(
    scores: ArrayLike, points: int, cut: int, reliability: float | None = None
) -> PersonByPerson:
    """Consistency as the mean over persons, each with a true share regressed to the mean.

    Without a reliability, formula 21 from the spread of these persons as the whole population.

    Raises:
        Refused: no scores, or scores outside 0 to `points`.

    Source: Subkoviak (1976), Journal of Educational Measurement 13, 265-276.
    """
    x = np.asarray(scores, dtype=np.float64)
    if not x.size or not ((x >= 0) & (x <= points)).all():
        raise Refused(f"scores from 0 to {points} are needed")
    known = kr21(points, float(x.mean()), float(x.var())) if reliability is None else reliability
    share = (known * x + (1 - known) * x.mean()) / points
    chance = np.asarray(bdtrc(cut - 1, points, share), dtype=np.float64)
    rate = float(chance.mean())
    return PersonByPerson(
        rate,
        float((chance**2 + (1 - chance) ** 2).mean()),
        rate**2 + (1 - rate) ** 2,
        "Subkoviak (1976)",
        chance,
    )


def conditional_sem(scores: ArrayLike, points: int) -> Floats:
    """The standard error of each count of points, in points: least at both ends.

    Source: Lord (1957), Educational and Psychological Measurement 17, 510-521.
    """
    x = np.asarray(scores, dtype=np.float64)
    if points <= 1:
        raise Refused("one point has no error of its own: at least 2 are needed")
    return np.asarray(np.sqrt(x * (points - x) / (points - 1)), dtype=np.float64)


def effective_test(
    scores: ArrayLike, least: float, most: float, reliability: float, *, fit_bounds: bool = True
) -> EffectiveTest:
    """The test of independent points that these scores and their reliability amount to.

    True shares follow a beta with bounds fitted to four moments when that exists and stays
    within 0 and 1, otherwise (or without `fit_bounds`) one on 0 to 1 fitted to two.

    Raises:
        Refused: a reliability outside 0 to 1, or scores that spread too little or too much for it.

    Source: Livingston & Lewis (1995), Journal of Educational Measurement 32, 179-197; moments
    Hanson (1991), ACT Research Report 91-5.
    """
    if not 0 < reliability < 1:
        raise Refused(f"a reliability of {reliability:g} is not between 0 and 1")
    x = np.asarray(scores, dtype=np.float64)
    mean, variance = float(x.mean()), float(x.var(ddof=1))
    true_variance = reliability * variance
    length = ((mean - least) * (most - mean) - true_variance) / (variance - true_variance)
    if not length > MOMENTS:
        raise Refused(
            f"scores with variance {variance:g} and reliability {reliability:g} amount to a test"
            f" of {length:.1f} points: more than {MOMENTS} are needed"
        )
    moments = true_moments((x - least) / (most - least) * length, length)
    free = four_parameter_beta(moments)
    inside = free is not None and free.lower >= 0 and free.upper <= 1
    used = free if free is not None and inside and fit_bounds else two_parameter_beta(moments)
    return EffectiveTest(length, moments, used, free)


def classification(test: EffectiveTest, cut_share: float, effective_cut: int) -> Classification:
    """Accuracy and consistency of passing at a share of the points.

    `effective_cut` is the whole number of the effective test's points that passes; the two next
    to `cut_share` times its length bound the answer.

    Source: Livingston & Lewis (1995).
    """
    truth, points = test.true_scores, test.rounded

    def passing(share: Floats) -> Floats:
        return np.asarray(bdtrc(effective_cut - 1, points, share), dtype=np.float64)

    above, squares_above = over(truth, passing, cut_share, upper=True)
    below, squares_below = over(truth, passing, cut_share, upper=False)
    able = 1 - share_below(truth, cut_share)
    rate, squares = above + below, squares_above + squares_below
    return Classification(
        rate,
        1 - 2 * (rate - squares),
        rate**2 + (1 - rate) ** 2,
        "Livingston & Lewis (1995)",
        above,
        below,
        able - above,
        1 - able - below,
    )
