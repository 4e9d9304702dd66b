"""The figures about one criterion beside plain agreement: the one place to add another.

A figure takes the marks of a criterion (`OneCriterion`) and gives estimates; or refuses with a
sentence that says what the marks do not support.  Each is computed for every criterion with shared
marks, shown by its name, and stands in the JSON.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING, TypeAlias

from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.agreement.counting import Tally
    from standfast.agreement.estimate import Estimate
    from standfast.agreement.ratings import Values
    from standfast.agreement.scores import Scores
    from standfast.agreement.weights import Weights

MOST_LEVELS = 20
"""Marks of more different values are measurements, not levels.  Ours, no source."""


@dataclass(frozen=True, eq=False)
class OneCriterion:
    """The marks of one criterion, and what figures ask of them, made ready once."""

    marks: Values
    """`subjects x raters`, NaN for what was not marked."""

    @cached_property
    def scale(self) -> str:
        """The kind of scale: yes or no, levels, or measured."""
        from standfast.agreement.counting import coded

        return _scale_of(coded(self.marks)[0])

    @cached_property
    def levels(self) -> Scores:
        """The marks ready for coefficients.

        Raises:
            Refused: they are measurements.
        """
        from standfast.agreement.scores import scores_of

        _refuse_measurements(self.scale)
        return scores_of(self.marks)

    def alpha(self, metric: str) -> Estimate:
        """Krippendorff's alpha by that metric."""
        from standfast.agreement.alpha import krippendorff_alpha

        return krippendorff_alpha(self.marks, metric)


@dataclass(frozen=True, eq=False)
class CountedCriterion:
    """The same of marks of which is only known how many subjects were given what."""

    tally: Tally

    @cached_property
    def scale(self) -> str:
        """The kind of scale: yes or no, levels, or measured."""
        return _scale_of(self.tally.values)

    @cached_property
    def levels(self) -> Scores:
        """The marks ready for coefficients that do not ask who gave a mark.

        Raises:
            Refused: they are measurements.
        """
        from standfast.agreement.scores import scores_of_counts

        _refuse_measurements(self.scale)
        tally = self.tally
        return scores_of_counts(tally.counts, tally.values.tolist(), times=tally.times)

    def alpha(self, metric: str) -> Estimate:
        """Krippendorff's alpha by that metric."""
        from standfast.agreement.alpha import alpha_of_counts

        tally = self.tally
        return alpha_of_counts(tally.counts, tally.values, metric, times=tally.times)


AnyCriterion: TypeAlias = "OneCriterion | CountedCriterion"


def _scale_of(values: Values) -> str:
    if len(values) <= 2:  # noqa: PLR2004 - a pair
        return "yes or no"
    whole = bool((values == values.round()).all())
    return "levels" if whole and len(values) <= MOST_LEVELS else "measured"


def _refuse_measurements(scale: str) -> None:
    if scale == "measured":
        raise Refused("kappa is for levels, and these are measurements; look at alpha")


def _weights(of: AnyCriterion) -> Weights | None:
    """A level apart counts for more than three apart; of yes and no there are none."""
    from standfast.agreement.weights import weights_for

    return weights_for("quadratic", of.levels.categories) if of.scale == "levels" else None


Figure: TypeAlias = Callable[[OneCriterion], "Iterable[Estimate]"]


def figures() -> tuple[Figure, ...]:
    """Every figure that there is, in the order in which they are shown."""
    return (kappa, without_paradox, alpha, one_score, with_gaps, other_chances)


def counted_figures() -> tuple[Callable[[CountedCriterion], Iterable[Estimate]], ...]:
    """Those that can be had where only counts are known.

    Conger's kappa is not among them, since it asks who gave a mark, nor are the ICC of panels.
    """
    return (without_paradox, alpha, one_score_counted, other_chances)


def kappa(of: OneCriterion) -> Iterator[Estimate]:
    """Agreement beyond chance; a level apart counts for more than three apart."""
    from standfast.agreement.coefficients import conger_kappa

    yield conger_kappa(of.levels, _weights(of))


def without_paradox(of: AnyCriterion) -> Iterator[Estimate]:
    """The same by an idea of chance that does not fall when nearly every mark is one level."""
    from standfast.agreement.coefficients import gwet_ac

    yield gwet_ac(of.levels, _weights(of))


def alpha(of: AnyCriterion) -> Iterator[Estimate]:
    """Krippendorff's alpha by the kind of scale."""
    metric = {"yes or no": "nominal", "levels": "ordinal", "measured": "interval"}
    yield of.alpha(metric[of.scale])


def one_score(of: OneCriterion) -> Iterator[Estimate]:
    """How far the score of one assessor, or the mean of all, stands for that of any; six forms.

    Of what all saw.
    """
    from standfast.agreement.icc import intraclass_correlations

    if of.scale == "yes or no":
        return
    yield from (one.estimate for one in intraclass_correlations(of.marks).values())


def with_gaps(of: OneCriterion) -> Iterator[Estimate]:
    """The same of one assessor, whoever it is, where not all saw everything."""
    import numpy as np

    from standfast.agreement.icc import icc_unbalanced

    there = ~np.isnan(of.marks)
    if of.scale != "yes or no" and not there.all():
        yield icc_unbalanced(np.nonzero(there)[0], of.marks[there]).estimate


def one_score_counted(of: CountedCriterion) -> Iterator[Estimate]:
    """How far one assessor's score stands for any other's, whoever they are."""
    from standfast.agreement.icc import icc_of_tally

    if of.scale != "yes or no":
        yield icc_of_tally(of.tally).estimate


def other_chances(of: AnyCriterion) -> Iterator[Estimate]:
    """Agreement beyond two other ideas of chance: all have common habits, or none has any.

    The first is Scott's pi where there are two assessors.
    """
    from standfast.agreement.coefficients import brennan_prediger, fleiss_kappa

    yield fleiss_kappa(of.levels, _weights(of))
    yield brennan_prediger(of.levels, _weights(of))


def why_misleading(of: OneCriterion) -> str | None:
    """Why kappa misleads about these marks, in a sentence; None when it does not."""
    from standfast.agreement.paradox import paradox

    try:
        return paradox(of.levels)
    except Refused:
        return None


def figures_of(
    of: OneCriterion, wanted: Iterable[Figure] | None = None
) -> tuple[tuple[Estimate, ...], tuple[str, ...]]:
    """The figures of one criterion, and why the others are left out."""
    return _given([partial(one, of) for one in (figures() if wanted is None else wanted)])


def figures_of_counts(of: CountedCriterion) -> tuple[tuple[Estimate, ...], tuple[str, ...]]:
    """The same of one of which only counts are known."""
    return _given([partial(one, of) for one in counted_figures()])


def _given(
    asked: Iterable[Callable[[], Iterable[Estimate]]],
) -> tuple[tuple[Estimate, ...], tuple[str, ...]]:
    found: list[Estimate] = []
    refused: list[str] = []
    for figure in asked:
        try:
            found.extend(figure())
        except Refused as why:
            refused.append(why.what)
    return tuple(found), tuple(refused)
