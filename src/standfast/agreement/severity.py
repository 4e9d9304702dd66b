"""The many-facet model put to the marks of lessons: scales, links, and what severity is worth.

A lesson is the model's person.  Marks that share neither lesson nor criterion have scales that
nothing compares, and assessors who never met in a lesson, not even by way of others, cannot be told
apart from the lessons that they saw; so each linked set is a model of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from standfast.agreement.rasch.fitted import Fitted
from standfast.agreement.rasch.linked import groups_of
from standfast.agreement.rasch.marginal import fit_marginal
from standfast.agreement.rasch.scores import Scored, Thresholds
from standfast.agreement.ratings import Codes, Ratings, Values, joined_codes
from standfast.problems import Refused


def scales_of(ratings: Ratings) -> Iterator[Ratings]:
    """The marks of each set of criteria that some lesson joins, in the order of the criteria."""
    yield from _parts(ratings, ratings.criterion)


def linked_parts(ratings: Ratings) -> Iterator[Ratings]:
    """The marks of each set of assessors whom lessons scored by several join, largest first."""
    yield from sorted(_parts(ratings, ratings.assessor), key=lambda part: -len(part))


def _parts(ratings: Ratings, members: Codes) -> Iterator[Ratings]:
    if not len(ratings):
        return
    lesson = np.unique(ratings.lesson, return_inverse=True)[1]
    member = np.unique(members, return_inverse=True)[1]
    _, label = groups_of(lesson, member, lesson)  # lessons twice: nothing else shall join them
    first = {int(one): int(members[label == one].min()) for one in np.unique(label)}
    for one in sorted(first, key=lambda group: first[group]):
        yield ratings.only(label == one)


MOST_PAIRS = 5_000
"""Of lessons and criteria, over which a severity is put into points."""


@dataclass(frozen=True, eq=False)
class Measured:
    """A fitted model, the marks that it covers, and the level that each step of a scale is."""

    fitted: Fitted
    ratings: Ratings
    levels: Values
    """Criteria of the model x steps from 0: the level of each, NaN beyond a criterion's last."""
    lesson: Codes
    """Of each mark its place among the model's persons; likewise the next two."""
    assessor: Codes
    criterion: Codes
    notes: tuple[str, ...]

    def expected(self, lesson: Codes, criterion: Codes, severity: Values) -> tuple[Values, Values]:
        """Mean and variance of the level of these lessons on these criteria at these severities.

        Equally long arrays; lessons and criteria by their place in the model.
        """
        chance, level = self._chances(lesson, criterion, severity)
        mean = (chance * level).sum(axis=1)
        return mean, (chance * (level - mean[:, None]) ** 2).sum(axis=1)

    def _chances(self, lesson: Codes, criterion: Codes, severity: Values) -> tuple[Values, Values]:
        """The chance of each level, and the levels: marks x steps, 0 beyond the last."""
        fitted = self.fitted
        own = fitted.thresholds[criterion if len(fitted.thresholds) > 1 else 0 * criterion]
        line = fitted.persons.measure[lesson] - severity - fitted.criteria.measure[criterion]
        climbed = np.cumsum(line[:, None] - np.nan_to_num(own), axis=1)
        weight = np.column_stack((np.zeros(len(line)), climbed))
        level = self.levels[criterion]
        weight = np.where(np.isnan(level), -np.inf, weight)
        chance = np.exp(weight - weight.max(axis=1, keepdims=True))
        return chance / chance.sum(axis=1, keepdims=True), np.nan_to_num(level)

    def shift(self) -> Values:
        """For each mark how much more an assessor of average severity would have given to it."""
        severity = self.fitted.assessors.measure[self.assessor]
        average, _ = self.expected(self.lesson, self.criterion, 0 * severity)
        hers, _ = self.expected(self.lesson, self.criterion, severity)
        return average - hers

    def points(self, severity: float) -> float:
        """How many points of a level somebody of that severity gives more than one of 0.

        On average over the lessons of the model, each on every criterion that it was marked on.
        """
        lesson, criterion, average = self._marked
        theirs, _ = self.expected(lesson, criterion, np.full(len(lesson), severity))
        return float((theirs - average).mean())

    @cached_property
    def _marked(self) -> tuple[Codes, Codes, Values]:
        """Lessons, the criteria they were marked on, and what severity 0 would have given there.

        Of more than `MOST_PAIRS` an even choice: in the order of criterion and place of the lesson,
        every so manieth, which changes a mean by less than a thousandth of a level.
        """
        key = joined_codes(self.lesson, self.criterion)
        at = np.unique(key, return_index=True)[1]
        if len(at) > MOST_PAIRS:
            place = self.fitted.persons.measure[self.lesson[at]]
            order = at[np.lexsort((place, self.criterion[at]))]
            at = order[np.linspace(0, len(order) - 1, MOST_PAIRS).round().astype(np.int64)]
        lesson, criterion = self.lesson[at], self.criterion[at]
        average, _ = self.expected(lesson, criterion, np.zeros(len(at)))
        return lesson, criterion, average

    def regular(self) -> Regular:
        """How far each assessor's infit is from what the model expects of her.

        That is below 1: each lesson's place is fitted to the very marks that are looked at, which
        takes from the spread of a mark at most its share of what is known of the lesson.  How much
        of that share, the infit of the assessor in the middle tells.
        """
        kept = ~np.isin(self.ratings.lesson, self.fitted.extreme)
        severity = self.fitted.assessors.measure[self.assessor]
        chance, _ = self._chances(self.lesson, self.criterion, severity)
        step = np.arange(chance.shape[1])
        away = step - (chance @ step)[:, None]
        variance, fourth = ((chance * away**power).sum(axis=1) for power in (2, 4))
        who = len(self.fitted.assessors.codes)

        def total(values: Values) -> Values:
            values = np.where(kept, values, 0.0)
            return np.asarray(np.bincount(self.assessor, values, minlength=who))

        middle = float(np.nanmedian(self.fitted.assessors.infit))
        left = 1 - variance / np.bincount(self.lesson, variance)[self.lesson]
        with np.errstate(invalid="ignore", divide="ignore"):
            least = total(variance * left) / total(variance)
            expected = np.clip(middle, least, np.ones(who))
            spread = np.sqrt(total(fourth - variance**2)) / total(variance)
            share = self.fitted.assessors.infit / expected
        return Regular(expected, (np.cbrt(share) - 1) * (3 / spread) + spread / 3)

    def fair(self) -> Fair:
        """What each lesson would have been given by an assessor of average severity.

        The mean level given, with `shift` added to each mark.  Its error has two parts, taken as
        independent: that of the marks themselves, which the model says, and of each severity.
        """
        count = len(self.fitted.persons.codes)
        n = np.bincount(self.lesson, minlength=count)
        severity = self.fitted.assessors.measure[self.assessor]
        _, variance = self.expected(self.lesson, self.criterion, severity)

        def mean(values: Values) -> Values:
            return np.asarray(np.bincount(self.lesson, values, minlength=count) / n)

        # A level falls by its variance for each logit of severity.
        who = len(self.fitted.assessors.codes)
        slope = np.bincount(self.lesson * who + self.assessor, variance, minlength=count * who)
        leaning = slope.reshape(count, who) / n[:, None] * self.fitted.assessors.se
        error = np.sqrt(mean(variance) / n + (leaning**2).sum(axis=1))
        given = mean(self.ratings.score)
        least = mean(np.nanmin(self.levels, axis=1)[self.criterion])
        most = mean(np.nanmax(self.levels, axis=1)[self.criterion])
        fair = np.clip(given + mean(self.shift()), least, most)
        low, high = (np.clip(fair + side * BOUND * error, least, most) for side in (-1, 1))
        return Fair(given, fair, low, high, n)


@dataclass(frozen=True, eq=False)
class Regular:
    """Of each assessor the infit to expect, and how far hers is from it, about standard normal.

    By its cube root: Wright & Masters (1982), Rating scale analysis, chapter 5 (from memory).
    """

    expected: Values
    z: Values


BOUND = 1.959963984540054
"""Standard errors to each side of a 95 % interval."""


@dataclass(frozen=True, eq=False)
class Fair:
    """Of each lesson of the model: mean level given, fair mean level with bounds, marks."""

    given: Values
    fair: Values
    low: Values
    high: Values
    n: Codes


def measure(ratings: Ratings, names: dict[str, dict[int, str]]) -> Measured:
    """The model fitted to the marks of a linked part; `names` as in `rasch.scores.Scored`.

    One set of thresholds where all criteria end at the same highest level, else each criterion its
    own.  A level that nobody gave is no step of a scale.  Who or what is left out by the model is
    left out of the marks, and the rest is measured again.

    Raises:
        Refused: the marks do not bear it, with the reason.
    """
    notes: list[str] = []
    while True:
        thresholds, levels, step = _steps(ratings)
        given = Scored(ratings.lesson, ratings.assessor, ratings.criterion, step, names)
        try:
            fitted = fit_marginal(given, thresholds=thresholds)
        except Refused as why:
            raise Refused(why.what, (*notes, *why.reasons)) from None
        kept = (
            np.isin(ratings.assessor, fitted.assessors.codes)
            & np.isin(ratings.criterion, fitted.criteria.codes)
            & np.isin(ratings.lesson, fitted.persons.codes)
        )
        notes += [note for note in fitted.notes if kept.all() or "left out" in note]
        if kept.all():
            return _measured(fitted, ratings, levels, tuple(dict.fromkeys(notes)))
        ratings = ratings.only(kept)


def _measured(fitted: Fitted, ratings: Ratings, levels: Values, notes: tuple[str, ...]) -> Measured:
    places = (
        np.searchsorted(fitted.persons.codes, ratings.lesson),
        np.searchsorted(fitted.assessors.codes, ratings.assessor),
        np.searchsorted(fitted.criteria.codes, ratings.criterion),
    )
    return Measured(fitted, ratings, levels, *places, notes)


def _steps(ratings: Ratings) -> tuple[Thresholds, Values, Codes]:
    """Whose thresholds, the level of each step of each criterion, and the step of each mark."""
    criteria = np.unique(ratings.criterion)
    different = [np.unique(ratings.score[ratings.criterion == one]) for one in criteria]
    common = len({scale.max() for scale in different}) == 1
    if common:
        different = [np.unique(ratings.score)] * len(criteria)
    levels = np.full((len(criteria), max(map(len, different))), np.nan)
    step = np.zeros(len(ratings), dtype=np.int64)
    for row, (code, scale) in enumerate(zip(criteria, different, strict=True)):
        levels[row, : len(scale)] = scale
        of = ratings.criterion == code
        step[of] = np.searchsorted(scale, ratings.score[of])
    return ("common" if common else "own"), levels, step


def lesson_numbers(ratings: Ratings) -> tuple[int, int]:
    """How many lessons, and how many of them two assessors or more scored."""
    key = joined_codes(ratings.lesson, ratings.assessor)
    at = np.unique(key, return_index=True)[1]
    _, counts = np.unique(ratings.lesson[at], return_counts=True)
    return len(counts), int((counts > 1).sum())
