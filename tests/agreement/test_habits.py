"""Habits that were put into invented marks are found, and none are found where none were put."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from standfast.agreement.habits import (
    central_tendency,
    drift,
    halo,
    pairs,
    residuals,
    severity,
)
from standfast.agreement.ratings import Ratings, Values, long_form, shared

WHO = ("ann", "bo", "cy", "dee")
Change = Callable[[Values, int], Values]
"""True values of a lesson's criteria and the lesson's number to what an assessor sees."""


def marked(
    changes: dict[str, Change], lessons: int = 60, criteria: int = 6, seed: int = 11
) -> Ratings:
    """Marks 1 to 7 of lessons that two assessors saw, in turn each two of four."""
    random = np.random.default_rng(seed)
    rows: list[tuple[str, str, str, float, str]] = []
    two = [(a, b) for n, a in enumerate(WHO) for b in WHO[n + 1 :]]
    for lesson in range(lessons):
        truth = 4 + random.normal(0, 0.7) + random.normal(0, 1.0, criteria)
        for who in two[lesson % len(two)]:
            seen = truth + random.normal(0, 0.4, criteria)
            levels = np.clip(np.round(changes.get(who, _same)(seen, lesson)), 1, 7)
            rows += [
                (f"l{lesson}", who, f"c{n}", float(level), f"q{lesson // 15}")
                for n, level in enumerate(levels)
            ]
    subjects, assessors, names, scores, occasions = (list(part) for part in zip(*rows, strict=True))
    return long_form(subjects, assessors, names, scores, occasions)


def _same(values: Values, _lesson: int) -> Values:
    return values


def periods(ratings: Ratings) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], tuple[str, ...]]:
    return np.arange(len(ratings.occasions)), ratings.occasions


def test_a_residual_is_a_mark_less_the_mean_of_the_others() -> None:
    ratings = long_form(
        ["s1", "s1", "s1", "s2"], ["ann", "bo", "cy", "ann"], ["spot"] * 4, [1, 3, 5, 2]
    )

    # Of a scale of 1 to 5: 0, 0.5, 1, and nobody else marked s2.
    assert residuals(ratings)[:3] == pytest.approx([-0.75, 0.0, 0.75])
    assert np.isnan(residuals(ratings)[3])


@pytest.mark.parametrize("kind", ["severity", "drift", "halo", "central_tendency", "pairs"])
def test_where_all_are_alike_hardly_anybody_stands_out(kind: str) -> None:
    """At most one in twenty such schools should have anybody; of 100, 9 are two errors above."""
    assert sum(any(school[kind]) for school in alike_schools()) <= 9


@cache
def alike_schools() -> list[dict[str, list[bool]]]:
    return [stand_out(marked({}, lessons=48, seed=seed)) for seed in range(100)]


def stand_out(ratings: Ratings) -> dict[str, list[bool]]:
    return {
        "severity": [one.stands_out for one in severity(ratings)],
        "drift": [one.stands_out for one in drift(ratings, *periods(ratings))],
        "halo": [one.stands_out for one in halo(ratings)],
        "central_tendency": [one.stands_out for one in central_tendency(ratings)],
        "pairs": [one.stands_out for one in pairs(ratings, shared(ratings))],
    }


def test_a_school_of_four_is_asked_about_four_and_six_pairs() -> None:
    assert [len(found) for found in stand_out(marked({})).values()] == [4, 4, 4, 4, 6]


def test_who_marks_lower_is_found_and_by_how_much() -> None:
    ratings = marked({"cy": lambda values, _: values - 1})
    (cy,) = [one for one in severity(ratings) if one.assessor == "cy"]

    assert cy.stands_out
    assert cy.mean.low < -1 / 6 < cy.mean.high  # one level of a scale of six steps


def test_a_severe_assessor_is_lower_in_each_of_her_pairs() -> None:
    ratings = marked({"cy": lambda values, _: values - 1})
    found = pairs(ratings, shared(ratings))

    assert {(one.first, one.second) for one in found if one.stands_out} == {
        ("ann", "cy"),
        ("bo", "cy"),
        ("cy", "dee"),
    }
    for one in found:
        if one.first == "cy":
            assert one.lower > one.higher
        if one.second == "cy":
            assert one.higher > one.lower


def test_who_became_milder_drifts_in_that_period() -> None:
    ratings = marked({"bo": lambda values, lesson: values + (1.2 if lesson >= 45 else 0)}, 60)
    found = {one.assessor: one for one in drift(ratings, *periods(ratings))}

    assert found["bo"].stands_out
    assert found["bo"].period == "q3"
    assert found["bo"].mean.value > 0.1


@pytest.mark.parametrize(("lessons", "looked"), [(21, 0), (23, 3)])
def test_a_period_of_three_lessons_is_not_looked_at(lessons: int, looked: int) -> None:
    ratings = marked(
        {}, lessons
    )  # of six lessons each assessor sees three, of eight all but one more
    found = drift(ratings, *periods(ratings))

    assert len(found) == looked


def test_looking_often_does_not_find_more_than_it_may() -> None:
    random = np.random.default_rng(3)
    found, runs = 0, 400
    for _ in range(runs):
        lessons = [f"l{n}" for n in range(48)]
        scores = random.normal(0, 1, 96)
        ratings = long_form(
            [lesson for lesson in lessons for _ in WHO[:2]],
            list(WHO[:2]) * 48,
            ["spot"] * 96,
            list(scores),
            [f"q{n // 6}" for n in range(48) for _ in WHO[:2]],
        )
        found += any(one.stands_out for one in drift(ratings, *periods(ratings)))

    assert found / runs <= 0.05 + 2 * (0.05 * 0.95 / runs) ** 0.5


def test_whose_criteria_are_all_alike_has_a_halo() -> None:
    ratings = marked({"dee": lambda values, _: np.full(6, values.mean())})
    found = {one.assessor: one for one in halo(ratings)}

    assert found["dee"].stands_out
    assert found["dee"].mean.value < 0


@pytest.mark.parametrize("shift", [-2.0, 2.0], ids=["severe", "lenient"])
def test_a_shift_alone_is_no_halo_and_no_love_of_the_middle(shift: float) -> None:
    ratings = marked({"dee": lambda values, _: values + shift})
    found = [
        one
        for one in (*halo(ratings), *central_tendency(ratings))
        if one.stands_out and one.assessor == "dee" and one.mean.value < 0
    ]

    assert not found


def test_who_keeps_to_the_middle_is_found() -> None:
    ratings = marked({"ann": lambda values, _: 4 + (values - 4) * 0.3})
    found = {one.assessor: one for one in central_tendency(ratings)}

    assert found["ann"].stands_out
    assert found["ann"].mean.value < 0


def test_of_yes_and_no_there_is_no_middle() -> None:
    ratings = marked({})
    yes_or_no = long_form(
        [ratings.subjects[at] for at in ratings.subject],
        [ratings.assessors[at] for at in ratings.assessor],
        [ratings.criteria[at] for at in ratings.criterion],
        list((ratings.score > 4).astype(float)),
    )

    assert central_tendency(yes_or_no) == ()


def test_with_two_criteria_nothing_is_said_of_halo() -> None:
    assert halo(marked({}, criteria=2)) == ()
    assert len(halo(marked({}, criteria=3))) == len(WHO)


def test_with_few_lessons_nothing_is_said_of_anybody() -> None:
    ratings = marked({}, lessons=6)  # each saw three

    assert severity(ratings) == halo(ratings) == central_tendency(ratings) == ()
    assert pairs(ratings, shared(ratings)) == ()
