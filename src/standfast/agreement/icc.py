"""How far one assessor's score can stand for any assessor's: intraclass correlations.

All six forms of Shrout & Fleiss (1979) from the mean squares (`squares.py`).  Only `scipy.special`
is used: loading `scipy.stats` takes longer than the figures do.

What is shared by the functions: a form's own error, its test against zero, and its interval come
from F ratios of mean squares.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtrc, fdtri

from standfast.agreement.counting import Tally
from standfast.agreement.estimate import Estimate
from standfast.agreement.squares import (
    LEAST_RATERS,
    LEAST_SUBJECTS,
    MeanSquares,
    all_the_same,
    mean_squares,
    no_less_than_rounding,
)
from standfast.problems import Refused

Floats = NDArray[np.float64]
Interval = tuple[float, float]

SOURCE = "Shrout & Fleiss (1979); McGraw & Wong (1996)"
SOURCE_UNBALANCED = "Fisher (1925); interval Wald (1940); unequal numbers Donner & Wells (1986)"
MCGRAW_WONG = {
    "ICC(1,1)": "ICC(1)",
    "ICC(2,1)": "ICC(A,1)",
    "ICC(3,1)": "ICC(C,1)",
    "ICC(1,k)": "ICC(k)",
    "ICC(2,k)": "ICC(A,k)",
    "ICC(3,k)": "ICC(C,k)",
}
"""The name in Shrout & Fleiss, and the same coefficient's name in McGraw & Wong."""

BISECTIONS = 200


@dataclass(frozen=True)
class IntraclassCorrelation:
    """One coefficient with its interval, and the F test of its being zero."""

    estimate: Estimate
    also_called: str
    """McGraw & Wong's name."""
    f: float
    """Infinite when the scores leave no error at all."""
    df1: float
    df2: float
    p: float


def intraclass_correlations(
    ratings: ArrayLike, *, level: float = 0.95
) -> dict[str, IntraclassCorrelation]:
    """All six coefficients, by Shrout & Fleiss's names: `ICC(1,1)` ... `ICC(3,k)`.

    `ratings` is subjects x raters without gaps.  Which one to read: 1 when each subject had other
    raters, 2 when the same raters stand for many like them and their severity counts, 3 when only
    these raters matter; `1` for the score of one rater, `k` for the mean of all.
    At most 1; below 0 when raters differ more than subjects do.

    The interval of `ICC(2,k)` is the one-rater interval stepped up, as Shrout & Fleiss have it;
    `agreement_of_means_interval` has McGraw & Wong's own.

    Raises:
        Refused: fewer than two subjects or raters, a gap, or all scores the same.

    Source: Shrout & Fleiss (1979), Psychological Bulletin 86, 420-428; McGraw & Wong (1996),
    Psychological Methods 1, 30-46.

    >>> scores = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6],
    ...           [10, 5, 6, 9], [6, 2, 4, 7]]
    >>> round(intraclass_correlations(scores)["ICC(2,1)"].estimate.value, 2)
    0.29
    """
    ms = mean_squares(ratings)
    df1, df_within, df_error = ms.n - 1, ms.n * (ms.k - 1), (ms.n - 1) * (ms.k - 1)
    singles = {
        "1": (_one_of(ms.subjects, ms.within, ms.k), ms.within, df_within),
        "2": (_agreement_of_one(ms), ms.error, df_error),
        "3": (_one_of(ms.subjects, ms.error, ms.k), ms.error, df_error),
    }
    found = {}
    for form, (value, error, df2) in singles.items():
        one = (
            agreement_interval(ms, level)
            if form == "2"
            else _f_interval(ms.subjects, error, ms.k, (df1, df2), level)
        )
        f, p = _f_test(ms.subjects, error, df1, df2)
        for raters in (1, ms.k):
            name = f"ICC({form},{'1' if raters == 1 else 'k'})"
            low, high = (stepped_up(bound, raters) for bound in one)
            estimate = Estimate(
                name,
                stepped_up(value, raters),
                ms.n,
                SOURCE,
                low=low,
                high=high,
                level=level,
                method="F distribution" if form != "2" else "F distribution, Satterthwaite df",
            )
            found[name] = IntraclassCorrelation(
                estimate, MCGRAW_WONG[name], f, float(df1), float(df2), p
            )
    return {name: found[name] for name in MCGRAW_WONG}


def stepped_up(one: float, raters: float) -> float:
    """The coefficient of the mean of so many raters, from that of one.

    Source: Spearman (1910), Brown (1910), British Journal of Psychology 3.

    >>> stepped_up(0.5, 2)
    0.6666666666666666
    """
    below = 1.0 + (raters - 1.0) * one
    return -np.inf if below <= 0.0 else raters * one / below


def agreement_df(ms: MeanSquares) -> float:
    """Satterthwaite's degrees of freedom behind the interval of `ICC(2,1)`.

    A coefficient below 0 counts as 0 here: the approximation is for variances, which are not.

    Source: Shrout & Fleiss (1979), p. 424.
    """
    one = max(0.0, _agreement_of_one(ms))
    of_raters = ms.k * one * ms.raters
    of_error = (ms.n * (1 + (ms.k - 1) * one) - ms.k * one) * ms.error
    return _satterthwaite(of_raters, of_error, ms)


def agreement_interval(ms: MeanSquares, level: float = 0.95) -> Interval:
    """The interval of `ICC(2,1)`, one rater's score where severity counts.

    Source: Shrout & Fleiss (1979), p. 424; McGraw & Wong (1996), table 7.
    """
    over, under = _quantiles(ms.n - 1, agreement_df(ms), level)
    others = ms.k * ms.raters + (ms.k * ms.n - ms.k - ms.n) * ms.error
    low = _share(ms.n * (ms.subjects - over * ms.error), over * others + ms.n * ms.subjects)
    high = _share(ms.n * (under * ms.subjects - ms.error), others + ms.n * under * ms.subjects)
    return low, high


def agreement_of_means_interval(ms: MeanSquares, level: float = 0.95) -> Interval:
    """McGraw & Wong's own interval of `ICC(A,k)`, with degrees of freedom of its own.

    Source: McGraw & Wong (1996), table 7.
    """
    mean = stepped_up(max(0.0, _agreement_of_one(ms)), ms.k)
    of_raters = ms.k * mean * ms.raters
    of_error = (ms.n * (1 - mean) + ms.k * mean * (ms.n - 1)) * ms.error
    over, under = _quantiles(ms.n - 1, _satterthwaite(of_raters, of_error, ms), level)
    low = _share(
        ms.n * (ms.subjects - over * ms.error),
        over * (ms.raters - ms.error) + ms.n * ms.subjects,
    )
    high = _share(
        ms.n * (under * ms.subjects - ms.error),
        ms.raters - ms.error + ms.n * under * ms.subjects,
    )
    return low, high


def icc_unbalanced(
    subject: ArrayLike, score: ArrayLike, *, level: float = 0.95
) -> IntraclassCorrelation:
    """ICC(1) when subjects have different numbers of scores, from any raters.

    `subject` has a whole number of 0 or more per score, `score` the scores; one dimension each,
    equally long.  The interval is exact for unequal numbers and equals the usual one for equal
    numbers.

    Raises:
        Refused: one subject, no subject with two scores, a gap, or all scores the same.

    Source: Fisher (1925); interval Wald (1940), Annals of Mathematical Statistics 11, 96-100.
    """
    counts, means, within, whole = _by_subject(subject, score)
    return _one_way(counts, means, np.ones(len(counts)), within, whole, level)


def icc_of_tally(tally: Tally, *, level: float = 0.95) -> IntraclassCorrelation:
    """The same from how often subjects were given each value, and how many subjects were.

    Raises:
        Refused: as `icc_unbalanced`.
    """
    times = tally.times
    given = tally.counts.sum(axis=1)
    if len(tally.values) == 1:
        raise all_the_same(float(tally.values[0]))
    total = float(times @ given)
    values = tally.values - float(times @ (tally.counts @ tally.values)) / total
    means = tally.counts @ values / given
    whole = float(times @ (tally.counts @ values**2))
    _refuse_few(int(times.sum()), int(total), float(given.max()))
    within = whole - summed(times * given, means**2)
    return _one_way(given, means, times, within, whole, level)


def _one_way(
    counts: Floats,
    means: Floats,
    times: Floats,
    within_ss: float,
    spread: float,
    level: float,
) -> IntraclassCorrelation:
    """From subjects' number and mean of scores, and squares within subjects and of all.

    Each row stands for so many subjects.
    """
    every = counts * times
    total, subjects = float(every.sum()), int(times.sum())
    n0 = (total - summed(every, counts) / total) / (subjects - 1)
    df1, df2 = subjects - 1, int(total) - subjects
    between = summed(every, (means - summed(every, means) / total) ** 2) / df1
    within = no_less_than_rounding(within_ss, spread) / df2
    f, p = _f_test(between, within, df1, df2)
    low, high = _wald_interval((counts, means, times), within, (df1, df2), level)
    estimate = Estimate(
        "ICC(1,1)",
        _one_of(between, within, n0),
        subjects,
        SOURCE_UNBALANCED,
        low=low,
        high=high,
        level=level,
        method="exact for unequal numbers",
    )
    return IntraclassCorrelation(estimate, "ICC(1)", f, float(df1), float(df2), p)


def summed(x: Floats, y: Floats) -> float:
    """The sum of products of two lists, on one thread.

    A matrix library's own product starts threads for lists of this length, and takes fifty times
    as long on a machine that is busy.
    """
    return float(np.einsum("i,i->", x, y))


def _one_of(between: float, error: float, per_subject: float) -> float:
    return _share(between - error, between + (per_subject - 1) * error)


def _agreement_of_one(ms: MeanSquares) -> float:
    others = ms.k * ms.raters + (ms.k * ms.n - ms.k - ms.n) * ms.error
    return _share(ms.n * (ms.subjects - ms.error), others + ms.n * ms.subjects)


def _satterthwaite(of_raters: float, of_error: float, ms: MeanSquares) -> float:
    """Degrees of freedom of a sum of two mean squares; those of error when the sum is nothing."""
    df_raters, df_error = ms.k - 1, (ms.n - 1) * (ms.k - 1)
    below = of_raters**2 / df_raters + of_error**2 / df_error
    return (of_raters + of_error) ** 2 / below if below > 0 else float(df_error)


def _quantiles(df1: float, df2: float, level: float) -> Interval:
    """Upper quantiles of F with these degrees of freedom, and with them exchanged."""
    upper = 0.5 + level / 2
    return float(fdtri(df1, df2, upper)), float(fdtri(df2, df1, upper))


def _share(above: float, below: float) -> float:
    return above / below if below else float("nan")


def _f_interval(
    between: float, error: float, k: float, df: tuple[float, float], level: float
) -> Interval:
    over, under = _quantiles(*df, level)
    return _one_of(between, over * error, k), _one_of(under * between, error, k)


def _f_test(between: float, error: float, df1: float, df2: float) -> Interval:
    """F and its p value: the chance of so large a ratio when subjects do not differ."""
    if error == 0:
        return float("inf"), 0.0
    f = between / error
    return f, float(fdtrc(df1, df2, f))


def _by_subject(subject: ArrayLike, score: ArrayLike) -> tuple[Floats, Floats, float, float]:
    """Per subject number and mean of scores; squares within subjects, and altogether."""
    who, x = np.asarray(subject), np.asarray(score, dtype=np.float64)
    if who.shape != x.shape or x.ndim != 1:
        raise Refused("subjects and scores are not equally long lists")
    if not np.isfinite(x).all():
        raise Refused("a score is missing: leave out what was not scored")
    if not x.size:
        raise Refused("there are no scores: at least 2 subjects are needed")
    if np.ptp(x) == 0:
        raise all_the_same(float(x[0]))
    x = x - x.mean()
    counts = np.bincount(who).astype(np.float64)
    seen = counts > 0
    means = np.bincount(who, weights=x)[seen] / counts[seen]
    counts = counts[seen]
    _refuse_few(len(counts), x.size, float(counts.max()))
    whole = summed(x, x)
    return counts, means, whole - summed(counts, means**2), whole


def _refuse_few(subjects: int, scores: int, most: float) -> None:
    if subjects < LEAST_SUBJECTS or most < LEAST_RATERS:
        raise Refused(
            f"{subjects} subjects with {scores} scores: at least 2 subjects are needed, and"
            " one of them scored at least twice"
        )


def _wald_interval(
    rows: tuple[Floats, Floats, Floats], within: float, df: tuple[int, int], level: float
) -> Interval:
    """The ICC at the two ratios of variances that the F distribution just allows.

    Of each row number and mean of scores, and how many subjects it stands for.
    """
    (counts, means, times), (df1, df2) = rows, df
    if within == 0:
        return 1.0, 1.0

    def f_at(icc: float) -> float:
        ratio = icc / (1.0 - icc)
        weights = times * counts / (1.0 + counts * ratio)
        middle = summed(weights, means) / float(weights.sum())
        return summed(weights, (means - middle) ** 2) / df1 / within

    over, under = _quantiles(df1, df2, level)
    least = -1.0 / (float(counts.max()) - 1.0)
    return _where(f_at, over, least), _where(f_at, 1.0 / under, least)


def _where(f_at: Callable[[float], float], wanted: float, least: float) -> float:
    """Where a falling function of the ICC, between its least value and 1, has this value."""
    low, high = least, 1.0
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        if middle in {low, high}:
            break
        if f_at(middle) > wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2
