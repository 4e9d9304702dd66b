"""Severity of assessors from marks of lessons, against what was put in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.agreement.made_scores import Floats, Truth, draw, off

from standfast.agreement.ratings import Ratings
from standfast.agreement.severity import linked_parts, measure, scales_of
from standfast.problems import Refused


def marks(
    seed: int = 5, *, persons: int = 150, assessors: int = 6, top: int = 4
) -> tuple[Truth, Ratings]:
    """Lessons scored by two of the assessors on eight criteria, levels 1 to top + 1."""
    truth, made = draw(seed, persons=persons, assessors=assessors, criteria=8, top=top, each=2)
    zeros = np.zeros(len(made.score), dtype=np.int64)
    found = Ratings(
        *(made.person, made.assessor, made.criterion, zeros, made.person),
        made.score.astype(float) + 1,
        tuple(f"a{n}" for n in range(assessors)),
        tuple(f"c{n}" for n in range(8)),
        ("",),
        tuple(f"l{n}" for n in range(persons)),
    )
    return truth, found


def fair_of(truth: Truth) -> Floats:
    """The mean level that an assessor of severity 0 gives to each lesson, by the model itself."""
    line = truth.ability[:, None, None] - truth.difficulty[None, :, None] - truth.thresholds[None]
    climb = np.concatenate((np.zeros((*line.shape[:2], 1)), np.cumsum(line, axis=2)), axis=2)
    chance = np.exp(climb)
    chance /= chance.sum(axis=2, keepdims=True)
    return np.asarray((chance @ np.arange(1.0, chance.shape[2] + 1)).mean(axis=1))


def test_severities_are_those_that_the_marks_were_drawn_from() -> None:
    truth, ratings = marks(persons=400)
    found = measure(ratings, {}).fitted.assessors

    assert off(found.measure, truth.severity) < 0.08
    assert float(found.se.max()) < 0.08


def test_fair_scores_are_nearer_to_the_truth_than_the_means_that_were_given() -> None:
    truth, ratings = marks(persons=400)
    fair, true = measure(ratings, {}).fair(), fair_of(truth)

    assert off(fair.fair, true) < 0.85 * off(fair.given, true)
    inside = (fair.low <= true) & (true <= fair.high)
    assert 0.90 < inside.mean() < 0.99


def test_one_assessor_a_level_lower_moves_fair_scores_by_her_part_of_the_average_only() -> None:
    _, ratings = marks(persons=300, top=8)
    middling = (ratings.score > 2) & (ratings.score < 8)
    ratings = ratings.only(middling)  # so that a level less is within the scale
    lower = replace(ratings, score=ratings.score - (ratings.assessor == 0))
    before, after = measure(ratings, {}), measure(lower, {})
    hers = np.unique(before.lesson[before.assessor == 0])
    was, now = before.fair(), after.fair()

    assert after.points(float(after.fitted.assessors.measure[0])) == pytest.approx(
        before.points(float(before.fitted.assessors.measure[0])) - 5 / 6, abs=0.15
    )
    assert float((was.given - now.given)[hers].mean()) > 0.45  # one of two marks, a level less
    assert float((was.fair - now.fair)[hers].mean()) == pytest.approx(1 / 6, abs=0.05)
    others = np.setdiff1d(before.lesson, hers)
    assert float((was.fair - now.fair)[others].mean()) == pytest.approx(1 / 6, abs=0.05)


@pytest.mark.parametrize(
    "top", [pytest.param(4, id="five levels"), pytest.param(1, id="yes or no")]
)
def test_who_marks_as_the_model_says_is_as_regular_as_expected(top: int) -> None:
    """Standard normal over 15 draws of eight assessors, though fitted places lower every infit."""
    z = np.concatenate(
        [measure(marks(seed, top=top, assessors=8)[1], {}).regular().z for seed in range(15)]
    )

    assert abs(float(z.mean())) < 0.3
    assert 0.7 < float(z.std()) < 1.2


def test_what_is_expected_of_a_level_is_the_model_by_hand() -> None:
    _, ratings = marks()
    found = measure(ratings, {})
    fitted = found.fitted
    one = np.array([3])
    mean, variance = found.expected(one, np.array([2]), np.array([0.7]))
    line = fitted.persons.measure[3] - 0.7 - fitted.criteria.measure[2]
    odds = [1.0]
    for threshold in fitted.thresholds[0]:
        odds.append(odds[-1] * float(np.exp(line - threshold)))
    chance = [part / sum(odds) for part in odds]
    by_hand = sum(level * part for level, part in enumerate(chance, 1))

    assert mean[0] == pytest.approx(by_hand)
    assert variance[0] == pytest.approx(
        sum((level - by_hand) ** 2 * part for level, part in enumerate(chance, 1))
    )


def test_yes_and_no_beside_levels_have_scales_of_their_own() -> None:
    _, ratings = marks()
    yes = ratings.criterion < 3
    mixed = replace(ratings, score=np.where(yes, ratings.score > 3, ratings.score).astype(float))
    found = measure(mixed, {})

    assert len(found.fitted.thresholds) == 8
    assert np.nanmax(found.levels, axis=1).tolist() == [1.0] * 3 + [5.0] * 5


def test_a_level_that_nobody_gave_is_no_step_and_keeps_its_distance() -> None:
    _, ratings = marks()
    gap = replace(ratings, score=np.where(ratings.score >= 3, ratings.score + 1, ratings.score))
    found, plain = measure(gap, {}), measure(ratings, {})

    assert found.levels[0].tolist() == [1, 2, 4, 5, 6]
    assert found.fitted.assessors.measure == pytest.approx(plain.fitted.assessors.measure)
    assert float(found.fair().fair.mean()) > float(plain.fair().fair.mean())


def test_who_always_gives_the_highest_is_left_out_with_the_levels_only_they_gave() -> None:
    _, ratings = marks()
    always = replace(ratings, score=np.where(ratings.assessor == 1, 9.0, ratings.score))
    found = measure(always, {"assessor": {1: "Ann"}})

    assert found.levels[0].tolist() == [1, 2, 3, 4, 5]
    assert 1 not in found.ratings.assessor
    assert any("Ann is left out: every score is the highest" in note for note in found.notes)


def test_parts_without_a_common_lesson_are_apart_and_scales_without_a_common_criterion() -> None:
    _, ratings = marks(assessors=4)
    two = (ratings.assessor < 2) == (ratings.lesson < 75)
    apart = ratings.only(two)
    parts = [sorted(set(part.assessor.tolist())) for part in linked_parts(apart)]
    elsewhere = replace(ratings, criterion=ratings.criterion % 4 + 4 * (ratings.lesson < 75))
    scales = [sorted(set(scale.criterion.tolist())) for scale in scales_of(elsewhere)]

    assert sorted(parts) == [[0, 1], [2, 3]]
    assert scales == [[0, 1, 2, 3], [4, 5, 6, 7]]
    assert len(list(linked_parts(elsewhere))) == 1


def test_marks_all_alike_are_refused() -> None:
    _, ratings = marks()

    with pytest.raises(Refused, match="no score is left"):
        measure(replace(ratings, score=0 * ratings.score + 3), {})
