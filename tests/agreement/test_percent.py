"""Plain agreement and its interval."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm, t
from statsmodels.stats.proportion import proportion_confint

from standfast.agreement.percent import over_criteria, percent_agreement, wilson

STUDENT = (norm.ppf(0.975) / t.ppf(0.975, 19)) ** 2


def test_one_pair_in_each_lesson_is_a_little_less_than_independent() -> None:
    same = np.array([1.0] * 16 + [0.0] * 4)
    found = percent_agreement(same, np.arange(20))
    low, high = proportion_confint(16, 20, alpha=0.05, method="wilson")

    # The variance between lessons has n - 1 under it, so they are worth 19, not 20.
    assert found.value == 0.8
    assert (found.low, found.high) == pytest.approx(wilson(0.8, 19 * STUDENT), abs=1e-9)
    assert found.low is not None
    assert found.high is not None
    assert found.low < low < high < found.high


def test_pairs_that_are_alike_together_say_less() -> None:
    lesson = np.repeat(np.arange(20), 10)
    together = percent_agreement(np.repeat([1.0] * 16 + [0.0] * 4, 10), lesson)
    apart = percent_agreement(
        np.random.default_rng(1).permutation([1.0] * 160 + [0.0] * 40), lesson
    )

    assert together.value == apart.value == 0.8
    assert (together.low, together.high) == pytest.approx(wilson(0.8, 19 * STUDENT), abs=1e-9)
    assert together.low is not None
    assert apart.low is not None
    assert apart.low > together.low + 0.1


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    random = np.random.default_rng(7)
    held, runs = 0, 2_000
    lesson = np.repeat(np.arange(30), 8)
    for _ in range(runs):
        chance = random.beta(8, 2, 30)  # lessons differ; the mean is 0.8
        same = (random.random(240) < np.repeat(chance, 8)).astype(float)
        found = percent_agreement(same, lesson)
        assert found.low is not None
        assert found.high is not None
        held += found.low <= 0.8 <= found.high

    assert 0.93 < held / runs < 0.97


def test_there_is_no_interval_from_four_lessons_and_one_from_five() -> None:
    assert percent_agreement(np.ones(4), np.arange(4)).low is None
    assert percent_agreement(np.ones(5), np.arange(5)).low == pytest.approx(wilson(1.0, 5)[0])


def test_nothing_is_no_number() -> None:
    assert math.isnan(percent_agreement(np.zeros(0), np.zeros(0, dtype=np.int64)).value)


def test_fifty_answers_do_not_drown_one_level() -> None:
    same = np.concatenate([np.ones(50), np.zeros(1)])
    criterion = np.array([0] * 50 + [1])

    assert over_criteria(same, np.zeros(51, dtype=np.int64), criterion).value == 0.5
