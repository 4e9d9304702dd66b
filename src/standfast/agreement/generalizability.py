"""Whether so many assessors and practicals are enough: coefficients, errors, second opinions.

Takes the variance components of `components` or `reml` and asks what the mean of another number
of assessors, practicals or criteria would be worth, and how often another such panel would have
decided otherwise about the same person.

Facets are letters as in `components`.  A *fixed* facet is one that another panel would share: the
criteria of the rubric, usually.  What persons do on fixed criteria is part of what is measured;
what is left is error.  Components below zero are taken as zero.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf, isclose, prod, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, owens_t

from standfast.agreement.components import Components, balanced_components
from standfast.problems import Refused

Floats = NDArray[np.float64]
SOURCE = "Cronbach, Gleser, Nanda & Rajaratnam (1972); Brennan (2001)"
SOURCE_CHANCE = "normal model: Peng & Subkoviak (1980), Journal of Educational Measurement 17"


@dataclass(frozen=True)
class DecisionStudy:
    """What the mean over so many of each facet is worth.  Variances in squared points."""

    counts: dict[str, float]
    """How many of each facet go into the mean; of a nested one, per level of its outer facet."""
    universe: float
    """Variance of what is measured: persons' means over all conceivable panels."""
    relative_error: float
    """Error variance when persons are compared with each other."""
    absolute_error: float
    """Error variance when persons are compared with a standard."""

    @property
    def erho2(self) -> float:
        """The relative coefficient, between 0 and 1: for ranking."""
        return _part(self.universe, self.relative_error)

    @property
    def phi(self) -> float:
        """The absolute coefficient, between 0 and 1: for comparing with a standard."""
        return _part(self.universe, self.absolute_error)

    @property
    def sem_relative(self) -> float:
        """Standard error of a mean when ranking, in points."""
        return sqrt(self.relative_error)

    @property
    def sem_absolute(self) -> float:
        """Standard error of a mean against a standard, in points."""
        return sqrt(self.absolute_error)

    def another_panel(self, mean: float, cut: float) -> SecondPanel:
        """How a second such panel would decide about the same, randomly drawn person."""
        return second_panel(self, mean, cut)


@dataclass(frozen=True)
class SecondPanel:
    """Two panels of the same size, drawn apart from each other, decide about one person."""

    cut: float
    passing: float
    """The share of persons whose panel mean reaches the cut."""
    otherwise: float
    """The chance that the second panel decides otherwise than the first."""
    kappa: float
    """Agreement of the two beyond chance; not a number when everybody passes or fails."""
    source: str = SOURCE_CHANCE

    @property
    def agreeing(self) -> float:
        """The chance that both decide the same."""
        return 1.0 - self.otherwise


def decision_study(
    components: Mapping[str, float],
    counts: Mapping[str, float],
    *,
    person: str = "p",
    fixed: Collection[str] = (),
) -> DecisionStudy:
    """What a mean over these counts is worth.

    `components` has a variance per effect, as `Components.at_least_zero`; `counts` has a number
    above 0 for every facet but the person; of a nested facet, its number per level of the outer.
    The number of a fixed facet should be the number there is.

    Raises:
        Refused: no component of persons, or a facet without a number.

    Source: Cronbach et al. (1972); Brennan (2001), ch. 4; fixed facets his section 4.4.

    >>> study = decision_study({"p": 0.4, "r": 0.1, "pr": 0.3}, {"r": 2})
    >>> round(study.erho2, 3), round(study.phi, 3)
    (0.727, 0.667)
    """
    _check_counts(components, counts, person, fixed)
    universe = relative = absolute = 0.0
    for effect, value in components.items():
        over = [facet for facet in effect if facet != person]
        share = max(0.0, value) / prod(counts[facet] for facet in over)
        if all(facet in fixed for facet in over):
            universe += share if person in effect else 0.0
            continue
        absolute += share
        relative += share if person in effect else 0.0
    return DecisionStudy(dict(counts), universe, relative, absolute)


def decision_studies(
    components: Mapping[str, float],
    choices: Iterable[Mapping[str, float]],
    *,
    person: str = "p",
    fixed: Collection[str] = (),
) -> list[DecisionStudy]:
    """A study per choice of counts, in their order."""
    return [decision_study(components, one, person=person, fixed=fixed) for one in choices]


def second_panel(study: DecisionStudy, mean: float, cut: float) -> SecondPanel:
    """The chance that another panel of this size would decide otherwise: pass at `cut` and above.

    Both panels' means are taken as normal around the same person's own mean, and persons as
    normal around `mean`, so that they correlate as `study.phi`.  For a pass mark on means with
    steps, subtract half a step from the cut.

    Raises:
        Refused: there is no variance at all.

    Source: Peng & Subkoviak (1980), Journal of Educational Measurement 17, 359-368, with the
    absolute coefficient, because a cut compares with a standard; bivariate normal by Owen (1956).
    """
    spread = sqrt(study.universe + study.absolute_error)
    if spread == 0:
        raise Refused("every component is zero: no two panels would differ, and no two persons")
    z = (cut - mean) / spread
    passing = float(ndtr(-z))
    otherwise = two_disagree(z, study.phi)
    by_chance = 2 * passing * (1 - passing)
    kappa = 1 - otherwise / by_chance if by_chance > 0 else float("nan")
    return SecondPanel(cut, passing, otherwise, kappa)


def two_disagree(z: float, correlation: float) -> float:
    """The chance that of two standard normal scores just one reaches z.

    `correlation` between 0 and 1.

    Source: Owen (1956), Annals of Mathematical Statistics 27, 1075-1090.

    >>> round(two_disagree(0.0, 0.5), 4)
    0.3333
    """
    return float(4.0 * owens_t(z, sqrt((1.0 - correlation) / (1.0 + correlation))))


def otherwise_given(study: DecisionStudy, mean: float, cut: float, seen: float) -> float:
    """The chance that another panel decides otherwise about a person whose panel mean is `seen`.

    Source: the normal model of `second_panel`; a second score regresses to the mean, Lord &
    Novick (1968), ch. 3.
    """
    expected = mean + study.phi * (seen - mean)
    spread = sqrt(study.universe * (1 - study.phi) + study.absolute_error)
    if spread == 0:
        return 0.0
    reaches = float(ndtr((expected - cut) / spread))
    return 1 - reaches if seen >= cut else reaches


def phi_of_cut(study: DecisionStudy, components: Components, cut: float) -> float:
    """The absolute coefficient of decisions at a cut: Phi(lambda); higher far from the mean.

    The square of mean less cut is freed of the mean's own error, the components' levels being
    what the mean was taken over.

    Source: Brennan & Kane (1977), Journal of Educational Measurement 14, 277-289; Brennan (2001),
    section 2.4.
    """
    of_mean = sum(
        value / prod(components.levels[facet] for facet in effect)
        for effect, value in components.at_least_zero.items()
    )
    apart = (components.mean - cut) ** 2 - of_mean
    universe = study.universe + apart
    return max(0.0, _part(universe, study.absolute_error)) if universe > 0 else 0.0


def least_counts(
    components: Mapping[str, float],
    choices: Iterable[Mapping[str, float]],
    *,
    mean: float,
    cut: float,
    most_otherwise: float,
    fixed: Collection[str] = (),
) -> DecisionStudy | None:
    """The first of the choices with which another panel seldom enough decides otherwise.

    `choices` cheapest first; None when none of them is enough.
    """
    for study in decision_studies(components, choices, fixed=fixed):
        if second_panel(study, mean, cut).otherwise <= most_otherwise:
            return study
    return None


def falls_from(before: SecondPanel, after: SecondPanel) -> str:
    """How the chance of another decision changes from one panel to another, in words.

    >>> at = {"cut": 3.0, "passing": 0.5, "kappa": 0.5}
    >>> falls_from(SecondPanel(otherwise=0.18, **at), SecondPanel(otherwise=0.06, **at))
    'the chance that another panel would have decided otherwise falls from 18 % to 6 %'
    """
    first, second = (f"{panel.otherwise:.0%}".replace("%", " %") for panel in (before, after))
    subject = "the chance that another panel would have decided otherwise"
    if first == second:
        return f"{subject} stays at {first}"
    verb = "falls" if after.otherwise < before.otherwise else "rises"
    return f"{subject} {verb} from {first} to {second}"


@dataclass(frozen=True)
class Composite:
    """A weighted total of parts that share persons and no items."""

    universe_cov: Floats
    """Parts x parts: variances and covariances of persons' own means."""
    item_var: Floats
    residual_var: Floats
    weights: Floats
    study: DecisionStudy


def composite(parts: Sequence[ArrayLike], weights: Sequence[float] | None = None) -> Composite:
    """What a total of several parts is worth, each with items of its own: p x (i in fixed part).

    Each part is persons x items without gaps, persons in the same order.  Weights sum to 1;
    without any, a part weighs as many items as it has.

    Raises:
        Refused: parts with other numbers of persons, weights that do not sum to 1, or a part
            that has no components (see `balanced_components`).

    Source: Brennan (2001), Generalizability Theory, ch. 9; the example Rajaratnam, Cronbach &
    Gleser (1965), Psychometrika 30, 39-56.
    """
    scores = [np.asarray(part, dtype=np.float64) for part in parts]
    found = [balanced_components(part, "pi") for part in scores]
    if len({part.shape[0] for part in scores}) != 1:
        raise Refused("the parts do not have the same persons")
    items = np.array([part.shape[1] for part in scores], dtype=np.float64)
    weighing = items / items.sum() if weights is None else np.asarray(weights, dtype=np.float64)
    if not isclose(float(weighing.sum()), 1.0, abs_tol=1e-9):
        raise Refused(f"the weights sum to {float(weighing.sum()):g}, and must sum to 1")
    universe = np.atleast_2d(np.cov(np.stack([part.mean(axis=1) for part in scores])))
    np.fill_diagonal(universe, [one.at_least_zero["p"] for one in found])
    item, residual = (np.array([one.at_least_zero[e] for one in found]) for e in ("i", "pi"))
    squared = weighing**2 / items
    relative = float(squared @ residual)
    study = DecisionStudy(
        {"i": float(items.sum())},
        float(weighing @ universe @ weighing),
        relative,
        relative + float(squared @ item),
    )
    return Composite(universe, item, residual, weighing, study)


def _part(universe: float, error: float) -> float:
    return universe / (universe + error) if universe + error > 0 else float("nan")


def _check_counts(
    components: Mapping[str, float],
    counts: Mapping[str, float],
    person: str,
    fixed: Collection[str],
) -> None:
    if person not in components:
        raise Refused(
            f"no component of persons ('{person}') among {', '.join(components)}: how persons"
            " differ must be known before one can say how well they are told apart"
        )
    facets = {facet for effect in components for facet in effect if facet != person}
    if missing := sorted(facets - set(counts)):
        raise Refused(f"how many of {', '.join(missing)} is not said")
    if bad := [facet for facet in sorted(facets) if not 0 < counts[facet] < inf]:
        raise Refused(f"the number of {', '.join(bad)} must be above 0")
    if unknown := sorted(set(fixed) - facets):
        raise Refused(f"fixed {', '.join(unknown)} is none of the facets {', '.join(facets)}")
