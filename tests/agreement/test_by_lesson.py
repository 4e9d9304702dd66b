"""Bounds by drawing lessons: the figures they are of, and what hanging together does to them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from standfast.agreement import by_lesson
from standfast.agreement.alpha import krippendorff_alpha
from standfast.agreement.bootstrap import bootstrapped, bootstrapped_alpha
from standfast.agreement.by_lesson import Draws, draws_of, intervals
from standfast.agreement.coefficients import CONGER, GWET_AC, conger_kappa, gwet_ac
from standfast.agreement.estimate import Estimate
from standfast.agreement.percent import LEAST_LESSONS
from standfast.agreement.ratings import Ratings, long_form
from standfast.agreement.scores import scores_of
from standfast.agreement.weights import weights_for

LEVELS, YES_OR_NO, MEASURED = 4, 2, 40


def marks(values: int, lessons: int = 40, tries: int = 1, seed: int = 3) -> Ratings:
    """Two of three assessors see each lesson; half of the second's marks are the first's."""
    rng = np.random.default_rng(seed)
    rows = []
    for lesson in range(lessons):
        who = rng.choice(3, 2, replace=False)
        alike = rng.random() < 0.7  # in this lesson they look the same way
        for nth in range(tries):
            first, other = rng.integers(values, size=2)
            marked = (first, first if alike else other)
            for assessor, mark in zip(who, marked, strict=True):
                rows.append((f"l{lesson} {nth}", f"a{assessor}", "c", float(mark), f"l{lesson}"))
    subjects, assessors, criteria, scores, of = zip(*rows, strict=True)
    return long_form(subjects, assessors, criteria, scores, lessons=of)


def figures(ratings: Ratings) -> dict[str, Estimate]:
    table = ratings.table(0).scores
    values = np.unique(table[~np.isnan(table)])
    if len(values) > 20:
        found = [krippendorff_alpha(table, "interval")]
    else:
        ready, two = scores_of(table), len(values) == 2
        weights = None if two else weights_for("quadratic", ready.categories)
        found = [conger_kappa(ready, weights), gwet_ac(ready, weights)]
        found.append(krippendorff_alpha(table, "nominal" if two else "ordinal"))
    return {one.name: one for one in found}


@pytest.mark.parametrize("values", [LEVELS, YES_OR_NO, MEASURED])
def test_a_draw_of_every_lesson_once_is_the_figure_itself(values: int) -> None:
    ratings = marks(values, tries=3)
    known = figures(ratings)
    lessons = np.unique(ratings.lesson)
    found, refused = intervals(
        ratings, 0, known, Draws(np.ones((2, len(lessons)), dtype=np.uint16), lessons)
    )

    assert refused == ()
    assert set(found) == set(known)
    for name, one in found.items():
        assert (one.low, one.high) == pytest.approx((known[name].value,) * 2, abs=1e-9)


def test_where_a_lesson_is_one_mark_it_is_the_bootstrap_over_subjects() -> None:
    ratings = marks(LEVELS, lessons=60)
    table = ratings.table(0).scores
    ready = scores_of(table)
    weights = weights_for("quadratic", ready.categories)
    found, _ = intervals(ratings, 0, figures(ratings), draws_of(ratings, draws=20_000))
    others = (
        bootstrapped(CONGER, ready, weights, seed=1, draws=20_000),
        bootstrapped(GWET_AC, ready, weights, seed=1, draws=20_000),
        bootstrapped_alpha(table, "ordinal", seed=1, draws=20_000),
    )

    for one, other in zip(found.values(), others, strict=True):
        assert other.low is not None
        assert other.high is not None
        assert (one.low, one.high) == pytest.approx((other.low, other.high), abs=0.015)


def test_tries_of_one_lesson_are_no_witnesses_of_their_own() -> None:
    """Agreement goes by lesson: drawing tries one by one would make it look far too sure."""
    ratings = marks(LEVELS, lessons=20, tries=15)
    apart = replace(ratings, lesson=ratings.subject)
    known = figures(ratings)
    together, alone = (
        intervals(one, 0, known, draws_of(one))[0]["gwet_ac2_quadratic"] for one in (ratings, apart)
    )

    assert together.se is not None
    assert alone.se is not None
    assert together.se > 2 * alone.se


def test_the_same_marks_give_the_same_bounds_and_say_how() -> None:
    ratings = marks(LEVELS)
    one, again = (intervals(ratings, 0, figures(ratings), draws_of(ratings))[0] for _ in "12")

    assert one == again
    assert all("2,000 draws" in estimate.method for estimate in one.values())


def test_under_so_many_lessons_there_are_none() -> None:
    few, enough = (marks(LEVELS, lessons=LEAST_LESSONS - less, tries=4) for less in (1, 0))
    none, why = intervals(few, 0, figures(few), draws_of(few))

    assert none == {}
    assert why == (f"no bounds from fewer than {LEAST_LESSONS} lessons",)
    assert intervals(enough, 0, figures(enough), draws_of(enough))[0]


def test_draws_without_any_difference_are_refused_by_name() -> None:
    """One of thirty lessons has the only no: a third of the draws are without it."""
    rows = [(f"l{n}", who, "c", float(n > 0)) for n in range(30) for who in ("ann", "bo")]
    subjects, assessors, criteria, scores = zip(*rows, strict=True)
    ratings = long_form(subjects, assessors, criteria, scores)
    found, refused = intervals(ratings, 0, figures(ratings), draws_of(ratings))

    assert found.keys() == {"gwet_ac1"}  # it needs no variation
    assert len(refused) == 2
    assert refused[0].startswith("no bounds of conger_kappa")


def test_other_figures_are_passed_over() -> None:
    ratings = marks(LEVELS)
    icc = Estimate("ICC(2,1)", 0.5, 40, "")

    assert intervals(ratings, 0, {icc.name: icc}, draws_of(ratings)) == ({}, ())


def test_a_large_book_s_draws_are_the_same_a_few_at_a_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ratings = marks(LEVELS, tries=2)
    known = figures(ratings)
    at_once = draws_of(ratings, draws=50)
    found, _ = intervals(ratings, 0, known, at_once)
    monkeypatch.setattr(by_lesson, "_AT_ONCE", 7 * 40)
    pieces = draws_of(ratings, draws=50)
    again, _ = intervals(ratings, 0, known, pieces)

    assert len(list(pieces.pieces())) == 8
    assert np.array_equal(pieces.times, at_once.times)
    assert set(again) == set(found) == set(known)
    for name, one in found.items():
        assert again[name].low == pytest.approx(one.low, abs=1e-12)
        assert again[name].high == pytest.approx(one.high, abs=1e-12)
