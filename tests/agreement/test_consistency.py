"""Laws of the consistency of pass marks, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standfast.agreement.consistency import (
    EffectiveTest,
    beta_binomial,
    classification,
    conditional_sem,
    effective_test,
    kr21,
    normal_consistency,
    person_by_person,
)
from standfast.agreement.true_scores import TrueScores
from standfast.problems import Refused


@given(st.floats(-3, 3), st.floats(0, 0.99))
def test_consistency_lies_between_chance_and_certainty(z: float, reliability: float) -> None:
    found = normal_consistency(z, reliability)

    assert found.p_chance - 1e-9 <= found.p0 <= 1
    assert found.p0 == pytest.approx(normal_consistency(-z, reliability).p0)


@given(st.integers(0, 20))
def test_four_outcomes_of_two_administrations_are_everything(cut: int) -> None:
    found = beta_binomial(20, 13.4, 3.6, cut)
    just_one = found.pass_rate - found.p_both_pass

    assert found.p_both_pass + found.p_both_fail + 2 * just_one == pytest.approx(1)


@pytest.mark.parametrize("cut", [0.0, 0.1, 0.35, 0.6, 0.9, 1.0])
@pytest.mark.parametrize(
    "truth", [TrueScores(3, 2), TrueScores(0.6, 0.2, 0.3, 0.8), TrueScores(30, 20)]
)
def test_the_four_outcomes_are_what_drawn_scores_show(truth: TrueScores, cut: float) -> None:
    rng = np.random.default_rng(20261125)
    test = EffectiveTest(40.0, np.ones(4), truth, None)
    effective = int(np.ceil(cut * 40))
    found = classification(test, cut, effective)
    share = truth.lower + (truth.upper - truth.lower) * rng.beta(truth.alpha, truth.beta, 200_000)
    first, second = (rng.binomial(40, share) >= effective for _ in range(2))

    assert found.true_pass == pytest.approx(np.mean(first & (share >= cut)), abs=0.005)
    assert found.false_pass == pytest.approx(np.mean(first & (share < cut)), abs=0.005)
    assert found.p0 == pytest.approx(np.mean(first == second), abs=0.005)
    outcomes = found.true_pass + found.false_pass + found.false_fail + found.true_fail
    assert outcomes == pytest.approx(1)


def test_everybody_passing_has_no_agreement_beyond_chance() -> None:
    assert np.isnan(beta_binomial(20, 13.4, 3.6, 0).kappa)


def test_a_perfect_count_has_no_error_and_a_middling_one_most() -> None:
    errors = conditional_sem([0, 5, 10], 10)

    assert errors[0] == errors[2] == 0
    assert errors[1] == max(conditional_sem(range(11), 10))


def test_what_scores_cannot_support_is_refused() -> None:
    with pytest.raises(Refused, match="at least 2 points"):
        kr21(1, 0.5, 0.25)
    with pytest.raises(Refused, match="no more than chance"):
        beta_binomial(20, 10, 1.0, 10)
    with pytest.raises(Refused, match="not between 0 and 1"):
        normal_consistency(0, 1.2)
    with pytest.raises(Refused, match="not between 0 and 1"):
        effective_test([1, 2, 3], 0, 10, 1.0)
    with pytest.raises(Refused, match="more than 4 are needed"):
        effective_test([0, 0, 10, 10], 0, 10, 0.5)
    with pytest.raises(Refused, match="scores from 0 to 10"):
        person_by_person([11], 10, 5)
    with pytest.raises(Refused, match="at least 2 are needed"):
        conditional_sem([1], 1)
