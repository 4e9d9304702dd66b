"""The figures about one criterion beside plain agreement: the one place to add another.

A figure takes the marks of a criterion as `subjects x raters`, NaN for what was not marked, and
gives estimates; or refuses with a sentence that says what the marks do not support.  Each is
computed for every criterion with shared marks, shown by its name, and stands in the JSON.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, TypeAlias

from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.agreement.estimate import Estimate
    from standfast.agreement.ratings import Scores
    from standfast.agreement.scores import Scores as Ready
    from standfast.agreement.weights import Weights

Figure: TypeAlias = "Callable[[Scores], Iterable[Estimate]]"


MOST_LEVELS = 20
"""Scores of more different values are measurements, not levels.  Ours, no source."""


def figures() -> tuple[Figure, ...]:
    """Every figure that there is, in the order in which they are shown."""
    return (kappa, without_paradox, alpha, one_score)


def kappa(scores: Scores) -> Iterator[Estimate]:
    """Agreement beyond chance; a level apart counts for more than three apart."""
    from standfast.agreement.coefficients import conger_kappa

    ready, weights = _levels(scores)
    yield conger_kappa(ready, weights)


def without_paradox(scores: Scores) -> Iterator[Estimate]:
    """The same by an idea of chance that does not fall when nearly every mark is one level."""
    from standfast.agreement.coefficients import gwet_ac

    ready, weights = _levels(scores)
    yield gwet_ac(ready, weights)


def alpha(scores: Scores) -> Iterator[Estimate]:
    """Krippendorff's alpha by the kind of scale."""
    from standfast.agreement.alpha import krippendorff_alpha

    metric = {"yes or no": "nominal", "levels": "ordinal", "measured": "interval"}
    yield krippendorff_alpha(scores, metric[_scale(scores)])


def one_score(scores: Scores) -> Iterator[Estimate]:
    """How far the score of one assessor stands for that of any; of those whom all saw."""
    from standfast.agreement.icc import intraclass_correlations

    if _scale(scores) == "yes or no":
        return
    yield intraclass_correlations(scores)["ICC(2,1)"].estimate


def why_misleading(scores: Scores) -> str | None:
    """Why kappa misleads about these marks, in a sentence; None when it does not."""
    from standfast.agreement.paradox import paradox

    try:
        return paradox(_levels(scores)[0])
    except Refused:
        return None


def _scale(scores: Scores) -> str:
    import numpy as np

    values = np.unique(scores[~np.isnan(scores)])
    if len(values) <= 2:  # noqa: PLR2004 - a pair
        return "yes or no"
    whole = bool((values == np.rint(values)).all())
    return "levels" if whole and len(values) <= MOST_LEVELS else "measured"


def _levels(scores: Scores) -> tuple[Ready, Weights | None]:
    """The marks ready for coefficients, and their weights.

    Raises:
        Refused: they are measurements.
    """
    from standfast.agreement.scores import scores_of
    from standfast.agreement.weights import weights_for

    scale = _scale(scores)
    if scale == "measured":
        raise Refused("kappa is for levels, and these are measurements; look at alpha")
    ready = scores_of(scores)
    return ready, weights_for("quadratic", ready.categories) if scale == "levels" else None


def figures_of(
    scores: Scores, wanted: Iterable[Figure] | None = None
) -> tuple[tuple[Estimate, ...], tuple[str, ...]]:
    """The figures of one criterion, and why the others are left out."""
    found: list[Estimate] = []
    refused: list[str] = []
    for figure in figures() if wanted is None else wanted:
        try:
            found.extend(figure(scores))
        except Refused as why:
            refused.append(why.what)
    return tuple(found), tuple(refused)
