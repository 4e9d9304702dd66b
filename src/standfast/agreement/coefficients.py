"""Agreement beyond chance, for two assessors or many, with gaps and with weights.

Every coefficient is (agreement - chance) / (1 - chance); they differ in what they call chance.
All of them are made from sums over subjects (`Sums`), so that the figure and its bootstrap are
one code, and their error is Gwet's: each subject's part in the coefficient, linearised.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from standfast.agreement.counting import MISSING, Floats, different_rows
from standfast.agreement.estimate import Estimate
from standfast.agreement.scores import Scores
from standfast.agreement.weights import Weights, weights_for
from standfast.problems import Refused

GWET = "Gwet (2008), Br J Math Stat Psychol 61, 29-48; Handbook, 4th ed. 2014"
_NO_VARIATION = 1e-12  # what rounding leaves of 1 - chance when every score is the same


@dataclass(frozen=True, eq=False)
class Sums:
    """What every coefficient is made from, summed over subjects; leading axes are draws."""

    agreement: Floats
    """Weighted agreement of the pairs of scores of a subject, mean over its pairs."""
    twice: Floats
    """How many subjects were scored at least twice."""
    subjects: Floats
    """How many subjects were scored at all."""
    shares: Floats
    """... x q: share of the subject's scores in each category."""
    given: Floats
    """... x r x q: how often each assessor gave each category; r = 0 when not known."""


Chance = Callable[[Sums, Floats], Floats]
ChanceParts = Callable[[Scores, Sums, Floats], Floats]


@dataclass(frozen=True)
class Coefficient:
    """One idea of chance."""

    name: str
    source: str
    chance: Chance
    parts: ChanceParts
    """How far each subject moves chance (n values of mean 0)."""
    whose: bool = False
    """Whether chance asks who gave which score."""


def subject_tables(scores: Scores, weights: Weights, *, whose: bool = False) -> Floats:
    """What each subject adds to `Sums`, side by side (n x T), for `sums_of` and the bootstrap.

    Only with `whose` is there who gave what, which takes r x q numbers for each subject.
    """
    twice = scores.scored_twice.astype(float)
    parts = [
        _pair_agreement(scores, weights.matrix) * twice,
        twice,
        np.ones_like(twice),
        scores.counts / scores.counts.sum(axis=1, keepdims=True),
    ]
    if whose:
        given = scores.codes[:, :, None] == np.arange(len(scores.categories))
        parts.append(given.reshape(len(twice), -1).astype(float))
    return np.column_stack(parts)


def sums_of(tables: Floats, size: int) -> Sums:
    """Sums from tables that were added up; the last axis is that of `subject_tables`."""
    rest = tables[..., 3 + size :]
    given = rest.reshape(*tables.shape[:-1], rest.shape[-1] // size, size)
    return Sums(tables[..., 0], tables[..., 1], tables[..., 2], tables[..., 3 : 3 + size], given)


def value_of(coefficient: Coefficient, sums: Sums, weights: Floats) -> Floats:
    """The coefficient of each set of sums; NaN where there is no variation, or no pair."""
    with np.errstate(divide="ignore", invalid="ignore"):
        agreement = sums.agreement / sums.twice
        room = 1.0 - coefficient.chance(sums, weights)
        room = np.where(np.abs(room) < _NO_VARIATION, np.nan, room)
        return np.asarray(1.0 - (1.0 - agreement) / room)


def coefficient_of(
    coefficient: Coefficient, scores: Scores, weights: Weights | None = None, level: float = 0.95
) -> Estimate:
    """The coefficient, its linearised error and its t interval over n - 1 (at most 1).

    Subjects with one score enter chance but not agreement.  No finite-population correction.

    Raises:
        Refused: weights of another size or not symmetric, one category only, no variation, or
            chance that needs to know who gave which score.

    Source: Gwet (2008, 2014); the figures of its example of 12 subjects by 4 assessors.
    """
    weights = weights or weights_for("identity", scores.categories)
    _refuse_weights(scores, weights)
    every = scores
    scores, times = (every, times_of(every)) if coefficient.whose else once(every)
    tables = subject_tables(scores, weights)
    sums = sums_of(times @ tables, len(scores.categories))
    if coefficient.whose:
        sums = replace(sums, given=every.of_each)
    value = float(value_of(coefficient, sums, weights.matrix))
    if math.isnan(value):
        raise Refused(_same_throughout(scores), [_NEEDED])
    room = 1.0 - float(coefficient.chance(sums, weights.matrix))
    weight_of_subject = sums.subjects / sums.twice
    parts = weight_of_subject * (tables[:, 0] - (1.0 - room) * tables[:, 1]) / room
    parts = parts - (1.0 - value) * coefficient.parts(scores, sums, weights.matrix) / room
    name = key_of(coefficient.name, weights)
    return linearised(name, value, parts - value, coefficient.source, level, times=times)


def once(scores: Scores) -> tuple[Scores, Floats]:
    """The scores with every different row of counts once, and how many subjects each stands for.

    Who gave a score is not in them.
    """
    if scores.known is not None:
        return scores, times_of(scores)
    counts, times = different_rows(scores.codes, len(scores.categories))
    nobody = np.empty((len(counts), 0), dtype=np.int64)
    rows = np.arange(len(counts))
    return replace(scores, codes=nobody, subjects=rows, assessors=rows[:0], known=counts), times


def times_of(scores: Scores) -> Floats:
    """How many subjects each row of the scores stands for."""
    return np.ones(len(scores.subjects)) if scores.times is None else scores.times


def percent_agreement(scores: Scores, weights: Weights | None = None) -> Estimate:
    """How often two assessors of a subject agree (0 to 1), over subjects scored at least twice.

    Every such subject counts the same, however many scored it.
    """
    weights = weights or weights_for("identity", scores.categories)
    _refuse_weights(scores, weights)
    twice = scores.scored_twice
    each, times = _pair_agreement(scores, weights.matrix)[twice], times_of(scores)[twice]
    value = float(times @ each / times.sum())
    name = key_of("percent_agreement", weights)
    return linearised(name, value, each - value, GWET, 0.95, times=times)


def cohen_kappa(scores: Scores, weights: Weights | None = None) -> Estimate:
    """Two assessors' agreement beyond what each one's own shares of the categories would give.

    Linearised error; `tables.kappa_of_table` has the large-sample one.

    Raises:
        Refused: not two assessors, and as `coefficient_of`.

    Source: Cohen (1960), Educ Psychol Meas 20, 37-46; (1968), Psychol Bull 70, 213-220.
    """
    _refuse_unless_two(scores)
    name = "cohen_kappa" if _plain(weights) else "weighted_kappa"
    source = "Cohen (1960, 1968); error: Gwet (2014)"
    found = replace(CONGER, name=name, source=source)
    return coefficient_of(found, scores, weights)


def scott_pi(scores: Scores, weights: Weights | None = None) -> Estimate:
    """Two assessors' agreement beyond what their common shares of the categories would give.

    Raises:
        Refused: not two assessors, and as `coefficient_of`.

    Source: Scott (1955), Public Opinion Quarterly 19, 321-325 (from memory).
    """
    _refuse_unless_two(scores)
    source = "Scott (1955); error: Gwet (2014)"
    return coefficient_of(replace(FLEISS, name="scott_pi", source=source), scores, weights)


def fleiss_kappa(scores: Scores, weights: Weights | None = None) -> Estimate:
    """Many assessors' agreement beyond what their common shares of the categories would give.

    Source: Fleiss (1971), Psychol Bull 76, 378-382; with gaps and weights Gwet (2014).
    """
    return coefficient_of(FLEISS, scores, weights)


def conger_kappa(scores: Scores, weights: Weights | None = None) -> Estimate:
    """Cohen's kappa for many assessors: chance from each one's own shares of the categories.

    Source: Conger (1980), Psychol Bull 88, 322-328 (from memory); with gaps Gwet (2014).
    """
    return coefficient_of(CONGER, scores, weights)


def brennan_prediger(scores: Scores, weights: Weights | None = None) -> Estimate:
    """Agreement beyond what scores drawn evenly from the list of categories would give.

    Source: Brennan & Prediger (1981), Educ Psychol Meas 41, 687-699 (from memory).
    """
    return coefficient_of(BRENNAN_PREDIGER, scores, weights)


def gwet_ac(scores: Scores, weights: Weights | None = None) -> Estimate:
    """Gwet's AC1, or with weights AC2: hardly moved by lopsided shares of the categories.

    Source: Gwet (2008), Br J Math Stat Psychol 61, 29-48.
    """
    name = "gwet_ac1" if _plain(weights) else "gwet_ac2"
    return coefficient_of(replace(GWET_AC, name=name), scores, weights)


def linearised(
    name: str,
    value: float,
    parts: Floats,
    source: str,
    level: float,
    *,
    times: Floats | None = None,
) -> Estimate:
    """An estimate with error and t interval from each subject's part in it (n, about 0).

    With `times` each part is that of so many subjects.
    """
    n = len(parts) if times is None else int(times.sum())
    if n < 2:  # noqa: PLR2004 - one subject has no spread
        return Estimate(name, value, n, source, level=level, method="no error from one subject")
    from scipy.special import stdtrit  # the quantile of t, without loading scipy.stats

    squares = np.square(parts) if times is None else np.square(parts) * times
    se = math.sqrt(float(squares.sum()) / (n * (n - 1)))
    reach = float(stdtrit(n - 1, 0.5 + level / 2)) * se
    low, high = value - reach, min(1.0, value + reach)
    method = f"linearised over {n} subjects, t interval"
    return Estimate(name, value, n, source, se, low, high, level, method)


def key_of(name: str, weights: Weights) -> str:
    """The key of a figure: the plain name, or with the weights after it."""
    return name if weights.name == "identity" else f"{name}_{weights.name}"


def _plain(weights: Weights | None) -> bool:
    return weights is None or weights.name == "identity"


def _pair_agreement(scores: Scores, weights: Floats) -> Floats:
    """Mean weighted agreement over the pairs of scores of each subject; 0 without a pair."""
    given = scores.counts.sum(axis=1)
    agreeing = (scores.counts * (scores.counts @ weights - 1.0)).sum(axis=1)
    return np.asarray(agreeing / np.maximum(given * (given - 1.0), 1.0))


def _spread_evenly(sums: Sums, weights: Floats) -> Floats:
    size = len(weights)
    return np.full(sums.subjects.shape, weights.sum() / size**2 if size > 1 else np.nan)


def _no_parts(scores: Scores, sums: Sums, weights: Floats) -> Floats:  # noqa: ARG001 - one shape
    return np.zeros(len(scores.counts))


def _common_shares(sums: Sums, weights: Floats) -> Floats:
    share = sums.shares / sums.subjects[..., None]
    return np.asarray(((share @ weights) * share).sum(axis=-1))


def _common_parts(scores: Scores, sums: Sums, weights: Floats) -> Floats:
    share = sums.shares / sums.subjects
    own = scores.counts / scores.counts.sum(axis=1, keepdims=True)
    return np.asarray(2.0 * (own @ (weights @ share) - share @ weights @ share))


def _hard_to_score(sums: Sums, weights: Floats) -> Floats:
    size = len(weights)
    share = sums.shares / sums.subjects[..., None]
    scale = weights.sum() / (size * (size - 1)) if size > 1 else np.nan
    return np.asarray(scale * (share * (1.0 - share)).sum(axis=-1))


def _hard_parts(scores: Scores, sums: Sums, weights: Floats) -> Floats:
    size = len(weights)
    share = sums.shares / sums.subjects
    own = scores.counts / scores.counts.sum(axis=1, keepdims=True)
    scale = weights.sum() / (size * (size - 1))
    return np.asarray(2.0 * scale * (own @ (1.0 - share) - share @ (1.0 - share)))


def _own_shares(sums: Sums, weights: Floats) -> Floats:
    """Mean over all pairs of assessors of the chance that their own shares would agree."""
    share = _share_of_each(sums)
    assessors = share.shape[-2]
    everybody = share.sum(axis=-2)
    together = ((everybody @ weights) * everybody).sum(axis=-1)
    alone = ((share @ weights) * share).sum(axis=(-2, -1))
    return np.asarray((together - alone) / (assessors * (assessors - 1)))


def _own_parts(scores: Scores, sums: Sums, weights: Floats) -> Floats:
    share = _share_of_each(sums)
    assessors = len(share)
    others = (share.sum(axis=0) - share) @ weights  # r x q
    subject, assessor = np.nonzero(scores.codes != MISSING)
    moved = (
        others[assessor, scores.codes[subject, assessor]] - (others * share).sum(axis=1)[assessor]
    )
    each = moved * (len(scores.codes) / sums.given.sum(axis=-1))[assessor]
    own = np.bincount(subject, each, minlength=len(scores.codes))
    return np.asarray(2.0 * own / (assessors * (assessors - 1)))


def _share_of_each(sums: Sums) -> Floats:
    if sums.given.shape[-2] < 2:  # noqa: PLR2004 - a pair
        raise Refused(
            "who gave which score is not known, so each assessor's own chance cannot be told",
            ["Fleiss' kappa, Brennan and Prediger's and Gwet's AC do not need to know"],
        )
    return np.asarray(sums.given / sums.given.sum(axis=-1, keepdims=True))


_NEEDED = "needed: practicals that differ, so that more than one level is given"


def _same_throughout(scores: Scores) -> str:
    used = scores.categories[scores.counts.any(axis=0)]
    if len(used) == 1:
        return (
            f"every score is {used[0]:g}: without variation, agreement by skill cannot be told "
            "from agreement by chance"
        )
    return "with these weights every pair of scores agrees, so there is nothing to tell apart"


def _refuse_weights(scores: Scores, weights: Weights) -> None:
    size = len(scores.categories)
    if weights.matrix.shape != (size, size):
        rows = len(weights.matrix)
        raise Refused(f"weights are for {rows} categories, the scores have {size}")
    if not np.array_equal(weights.matrix, weights.matrix.T):
        raise Refused(
            "weights differ by who gave which score, which only a table of two assessors can use"
        )


def _refuse_unless_two(scores: Scores) -> None:
    if scores.codes.shape[1] != 2:  # noqa: PLR2004 - a pair
        raise Refused(
            f"two assessors are needed for this one, there are {scores.codes.shape[1]}",
            ["for more, use Conger's or Fleiss' kappa, or Gwet's AC"],
        )


FLEISS = Coefficient("fleiss_kappa", "Fleiss (1971); Gwet (2014)", _common_shares, _common_parts)
CONGER = Coefficient(
    "conger_kappa", "Conger (1980); Gwet (2014)", _own_shares, _own_parts, whose=True
)
BRENNAN_PREDIGER = Coefficient(
    "brennan_prediger", "Brennan & Prediger (1981); Gwet (2014)", _spread_evenly, _no_parts
)
GWET_AC = Coefficient("gwet_ac", GWET, _hard_to_score, _hard_parts)
