"""Habits of assessors: severity, drift, halo, the middle of the scale, one-sided pairs.

Each is a difference between an assessor and the others *who saw the same lesson*, so that whom
somebody happened to see does not count.  The unit is the lesson: marks inside one are no
independent witnesses.  Values are taken as shares of what occurs on their criterion, 0 lowest, 1
highest.  Who is compared with one other assessor only shares every difference with her: what looks
like the one being low may be the other being high, and only a third can tell.

Under `LEAST_LESSONS` shared lessons nothing is said.  Whoever is left is asked about at once, and
p values are adjusted for it (`chance.adjusted`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from standfast.agreement.chance import Mean, adjusted, change, mean_difference, sign_test
from standfast.agreement.counting import coded
from standfast.agreement.percent import LEAST_LESSONS
from standfast.agreement.ratings import (
    Codes,
    Ratings,
    Shared,
    Values,
    first_of,
    joined_codes,
    places_of,
)

LEAST_IN_PERIOD = 4
"""Shared lessons in a period, and before it, to ask whether it is another.  Common practice, no
source."""
LEAST_CRITERIA = 3
"""On a sheet, to ask whether they are too alike.  Common practice, no source."""
MARGIN = 0.05
"""A 95 % interval and this adjusted p value are what counts as standing out."""


@dataclass(frozen=True)
class Habit:
    """How an assessor differs from the others who saw the same lessons."""

    assessor: str
    mean: Mean
    """In shares of the scale; below 0 is lower, or less spread."""
    p: float
    """Adjusted for all who were asked about."""
    period: str = ""
    """Of a drift: the period that is most unlike those before it."""

    @property
    def stands_out(self) -> bool:
        """Whether it is more than chance among so many."""
        return self.p < MARGIN


@dataclass(frozen=True)
class Pair:
    """Two assessors over the lessons that both saw."""

    first: str
    second: str
    lessons: int
    lower: int
    """Lessons in which the first gave less, in all that both marked."""
    higher: int
    difference: float
    """First less second, in shares of the scale; the mean of lessons."""
    p: float
    """Sign test, adjusted for all pairs."""

    @property
    def stands_out(self) -> bool:
        """Whether one gives less more often than chance."""
        return self.p < MARGIN


def scaled(ratings: Ratings) -> Values:
    """Each score as a share of what occurs on its criterion; 0.5 where only one score occurs."""
    count = len(ratings.criteria)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, ratings.criterion, ratings.score)
    np.maximum.at(high, ratings.criterion, ratings.score)
    span = (high - low)[ratings.criterion]
    share = (ratings.score - low[ratings.criterion]) / np.where(span > 0, span, 1.0)
    return np.where(span > 0, share, 0.5)


def severity(ratings: Ratings) -> tuple[Habit, ...]:
    """Who marks lower or higher than the others on the same things, by name.

    An assessor's mean residual: her mark less the mean of the others' marks of the same subject,
    criterion and occasion; the mean of each lesson, then of lessons.
    """
    return _habits(ratings, lesson_means(ratings, residuals(ratings)))


def residuals(ratings: Ratings) -> Values:
    """Each mark less the mean of the others' of the same thing; NaN where there is no other."""
    return _less_others(scaled(ratings), ratings.unit)


def _less_others(values: Values, group: Codes) -> Values:
    """Each value less the mean of the other values of its group; NaN where it is alone."""
    total, count = np.bincount(group, values), np.bincount(group)
    others = count[group] - 1
    mean = (total[group] - values) / np.where(others > 0, others, 1)
    return np.where(others > 0, values - mean, np.nan)


@dataclass(frozen=True, eq=False)
class LessonMeans:
    """One value for each lesson and assessor."""

    lesson: Codes
    assessor: Codes
    value: Values
    occasion: Codes


def lesson_means(ratings: Ratings, values: Values) -> LessonMeans:
    """The mean of each assessor's values in each lesson, NaN left out.

    Each criterion counts as much as another, so that fifty answers do not drown one level.
    """
    there = ~np.isnan(values)
    of = ratings.only(there)
    cell = joined_codes(of.lesson, of.assessor, of.criterion)
    one = first_of(cell)
    cells = _mean(values[there], cell)
    group = joined_codes(of.lesson[one], of.assessor[one])
    where = one[first_of(group)]
    return LessonMeans(
        of.lesson[where], of.assessor[where], _mean(cells, group), of.occasion[where]
    )


def _habits(ratings: Ratings, means: LessonMeans) -> tuple[Habit, ...]:
    """One for each assessor with enough lessons, p values adjusted."""
    by_name = _by_name(ratings, means)
    return _adjust(Habit(name, mean, mean.p) for name, mean in by_name.items())


def _by_name(ratings: Ratings, means: LessonMeans) -> dict[str, Mean]:
    """The mean of each assessor with enough lessons."""
    values = {n: means.value[means.assessor == code] for code, n in enumerate(ratings.assessors)}
    return {n: mean_difference(v) for n, v in values.items() if len(v) >= LEAST_LESSONS}


def _adjust(found: Iterable[Habit]) -> tuple[Habit, ...]:
    every = list(found)
    p_values = adjusted([one.p for one in every])
    return tuple(replace(one, p=p) for one, p in zip(every, p_values, strict=True))


def drift(ratings: Ratings, period_of: Codes, periods: tuple[str, ...]) -> tuple[Habit, ...]:
    """Whose severity changed: for each assessor the period that is most unlike those before.

    `period_of` gives for each occasion its place in `periods`, which are in the order of time.
    Each period with enough shared lessons is held against all before it together.  That is to
    look again and again, so the least p value counts as often as was looked (Bonferroni), then
    assessors are adjusted for each other.  Who has never two such periods is left out.
    """
    means = lesson_means(ratings, residuals(ratings))
    when = period_of[means.occasion]
    found = []
    for code, name in enumerate(ratings.assessors):
        mine = means.assessor == code
        looks = list(_looks(means.value[mine], when[mine]))
        if looks:
            period, mean = min(looks, key=lambda look: look[1].p)
            found.append(Habit(name, mean, min(1.0, mean.p * len(looks)), periods[period]))
    return _adjust(found)


def _looks(values: Values, when: Codes) -> Iterator[tuple[int, Mean]]:
    for period in np.unique(when):
        now, before = values[when == period], values[when < period]
        if min(len(now), len(before)) >= LEAST_IN_PERIOD:
            yield int(period), change(before, now)


def halo(ratings: Ratings) -> tuple[Habit, ...]:
    """On whose sheets the criteria are more alike (below 0) than on the others' of that lesson.

    Compared is the standard deviation over the criteria of a sheet, each as the mean of its marks
    there, for criteria that every assessor of the lesson marked.  Whose general impression colours
    every criterion has less of it.  Severity alone is no halo: see `_both_ways`.

    Source: Saal, Downey and Lahey (1980), Psychological Bulletin 88, 413-428; from memory.
    """
    return _both_ways(ratings, scaled(ratings), _spread)


def central_tendency(ratings: Ratings) -> tuple[Habit, ...]:
    """Who keeps nearer (below 0) to the middle of the scale than the others of that lesson.

    Compared is the mean distance from the middle, over criteria with three scores or more: of
    yes and no neither is the middle.  Severity alone is none: see `_both_ways`.

    Source: Saal, Downey and Lahey (1980), as above.
    """
    once = first_of(joined_codes(ratings.criterion, coded(ratings.score)[1]))
    different = np.bincount(ratings.criterion[once], minlength=len(ratings.criteria))
    of = ratings.only((different > _TWO)[ratings.criterion])
    return _both_ways(of, np.abs(scaled(of) - 0.5), _mean) if len(of) else ()


_TWO = 2
Fold = Callable[[Values, Codes], Values]


def _mean(values: Values, group: Codes) -> Values:
    return np.asarray(np.bincount(group, values) / np.bincount(group), dtype=np.float64)


def _spread(values: Values, group: Codes) -> Values:
    """The standard deviation of each group; 0 of a single value."""
    count = np.bincount(group)
    off = values - _mean(values, group)[group]
    squares = np.bincount(group, off**2)
    return np.asarray(np.sqrt(squares / np.maximum(count - 1, 1)), dtype=np.float64)


def _both_ways(ratings: Ratings, values: Values, fold: Fold) -> tuple[Habit, ...]:
    """Habits that show in the sheets as they are, and allowing for the mean of each sheet.

    High marks lie close together at the end of the scale, whoever gives them: as they are, sheets
    of a lenient assessor seem alike.  Allowing for the mean, those of a severe one do, whose lower
    marks are as even as the lesson was.  Only what shows both ways, the same way, is a habit of
    its own: the larger p value counts, and 1 when they point in opposite directions.
    """
    plain = _by_name(ratings, _compared(ratings, values, fold, beyond_mean=False))
    beyond = _by_name(ratings, _compared(ratings, values, fold, beyond_mean=True))
    found = []
    for name, mean in plain.items():
        other = beyond[name]
        p = max(mean.p, other.p) if mean.value * other.value > 0 else 1.0
        found.append(Habit(name, mean, p))
    return _adjust(found)


def _compared(ratings: Ratings, values: Values, fold: Fold, *, beyond_mean: bool) -> LessonMeans:
    """One value for each sheet, less the mean of the lesson's other sheets.

    Only criteria that all of a lesson's assessors marked, and lessons with enough of these.
    """
    cell = joined_codes(ratings.lesson, ratings.assessor, ratings.criterion)
    where = first_of(cell)
    mark = _mean(values, cell)
    lesson, assessor = ratings.lesson[where], ratings.assessor[where]
    kept = _by_all(lesson, assessor, ratings.criterion[where])
    sheet = joined_codes(lesson[kept], assessor[kept])
    first = first_of(sheet)
    folded = fold(mark[kept], sheet)
    if beyond_mean:
        of_cell = _mean(scaled(ratings), cell)
        folded = _beyond_mean(folded, _mean(of_cell[kept], sheet))
    less = _less_others(folded, lesson[kept][first])
    alone = np.isnan(less)
    occasion = ratings.occasion[where][kept][first]
    return LessonMeans(
        *(lesson[kept][first][~alone], assessor[kept][first][~alone], less[~alone]),
        occasion=occasion[~alone],
    )


def _beyond_mean(values: Values, mean: Values) -> Values:
    """What is not to be expected of a sheet with that mean: less a parabola through all sheets."""
    powers = np.stack([np.ones_like(mean), mean, mean**2], axis=1)
    fit = np.linalg.lstsq(powers, values, rcond=None)[0]
    return np.asarray(values - powers @ fit, dtype=np.float64)


def _by_all(lesson: Codes, assessor: Codes, criterion: Codes) -> NDArray[np.bool_]:
    """Where every assessor of the lesson has the criterion, and enough such criteria."""
    sheets = lesson[first_of(joined_codes(lesson, assessor))]
    saw = np.bincount(sheets, minlength=int(lesson.max()) + 1)
    both = joined_codes(lesson, criterion)
    by_all = np.bincount(both)[both] == saw[lesson]
    many = np.bincount(lesson[by_all], minlength=len(saw)) / np.maximum(saw, 1)
    return np.asarray(by_all & (many[lesson] >= LEAST_CRITERIA), dtype=np.bool_)


def pairs(ratings: Ratings, both: Shared) -> tuple[Pair, ...]:
    """Every two assessors with enough lessons in common: how often the first gave less.

    A lesson in which the differences add up to nothing is left out of the sign test.
    """
    if not len(both.first):
        return ()
    first, second = ratings.assessor[both.first], ratings.assessor[both.second]
    share = scaled(ratings)
    difference = share[both.first] - share[both.second]
    lesson = joined_codes(first, second, ratings.lesson[both.first])
    cell = joined_codes(lesson, ratings.criterion[both.first])
    of_cell = first_of(cell)
    mean = _mean(_mean(difference, cell), lesson[of_cell])
    where = first_of(lesson)
    two = joined_codes(first[where], second[where])
    found = []
    for places in places_of(two):
        if len(places) >= LEAST_LESSONS:
            at = where[places[0]]
            found.append(_pair(ratings, (int(first[at]), int(second[at])), mean[places]))
    p_values = adjusted([pair.p for pair in found])
    return tuple(replace(pair, p=p) for pair, p in zip(found, p_values, strict=True))


def _pair(ratings: Ratings, who: tuple[int, int], means: Values) -> Pair:
    lower, higher = int((means < -_ROUNDING).sum()), int((means > _ROUNDING).sum())
    names = (ratings.assessors[who[0]], ratings.assessors[who[1]])
    p = sign_test(lower, higher)
    return Pair(*names, len(means), lower, higher, float(means.mean()), p)


_ROUNDING = 1e-9
