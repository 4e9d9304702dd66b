"""Laws of the intraclass correlations, what they refuse, and how they recover what was put in."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standfast.agreement.icc import icc_unbalanced, intraclass_correlations
from standfast.agreement.squares import mean_squares
from standfast.problems import Refused

MARKS = (
    st.integers(2, 8)
    .flatmap(
        lambda k: st.lists(
            st.lists(st.integers(0, 10), min_size=k, max_size=k), min_size=2, max_size=12
        )
    )
    .filter(lambda rows: len({tuple(row) for row in rows}) > 1)
)
SEED = 20261125


def values(scores: object) -> dict[str, float]:
    found = intraclass_correlations(scores)  # type: ignore[arg-type] # arrays and lists alike
    return {name: icc.estimate.value for name, icc in found.items()}


@given(MARKS, st.floats(-1e4, 1e4), st.floats(0.01, 100))
def test_neither_shift_nor_scale_changes_a_coefficient(
    rows: list[list[int]], shift: float, scale: float
) -> None:
    before, after = values(rows), values(np.array(rows) * scale + shift)

    for name, value in before.items():
        if abs(value) < 1e6:  # near a pole every digit moves
            assert after[name] == pytest.approx(value, rel=1e-4, abs=1e-6)


@given(MARKS, st.randoms(use_true_random=False))
def test_the_order_of_subjects_and_raters_does_not_matter(
    rows: list[list[int]], chance: random.Random
) -> None:
    x = np.array(rows)
    rng = np.random.default_rng(chance.randrange(2**32))
    mixed = x[rng.permutation(x.shape[0])][:, rng.permutation(x.shape[1])]
    before, after = mean_squares(x), mean_squares(mixed)

    assert (after.subjects, after.raters, after.error, after.within) == pytest.approx(
        (before.subjects, before.raters, before.error, before.within), abs=1e-9
    )


@given(MARKS)
def test_the_sums_of_squares_add_up_and_coefficients_stay_at_most_one(
    rows: list[list[int]],
) -> None:
    x = np.array(rows, dtype=float)
    n, k = x.shape
    ms = mean_squares(x)
    parts = (n - 1) * ms.subjects + (k - 1) * ms.raters + (n - 1) * (k - 1) * ms.error

    assert parts == pytest.approx(((x - x.mean()) ** 2).sum(), rel=1e-9)
    assert all(value <= 1 + 1e-12 or np.isnan(value) for value in values(x).values())


@given(MARKS)
def test_a_value_lies_inside_its_interval(rows: list[list[int]]) -> None:
    for icc in intraclass_correlations(rows).values():
        value = icc.estimate
        assert value.low is not None
        assert value.high is not None
        if np.isfinite([value.low, value.value, value.high]).all():
            assert value.low - 1e-9 <= value.value <= value.high + 1e-9


def test_a_wider_level_gives_a_wider_interval() -> None:
    scores = [[3, 4, 2], [5, 5, 4], [1, 2, 2], [4, 5, 3]]
    narrow, wide = (
        intraclass_correlations(scores, level=level)["ICC(2,1)"].estimate for level in (0.8, 0.99)
    )

    assert narrow.low is not None
    assert wide.low is not None
    assert narrow.high is not None
    assert wide.high is not None
    assert wide.low < narrow.low
    assert narrow.high < wide.high


def test_raters_who_differ_only_in_severity_agree_on_order_and_not_on_scores() -> None:
    found = intraclass_correlations([[1, 3], [2, 4], [5, 7]])

    assert found["ICC(3,1)"].estimate.value == 1
    assert found["ICC(3,1)"].f == np.inf
    assert found["ICC(3,1)"].p == 0
    assert 0 < found["ICC(2,1)"].estimate.value < 1


def test_scores_far_from_zero_lose_no_digits() -> None:
    scores = np.array([[1, 3, 2], [2, 4, 4], [5, 7, 5]], dtype=float)

    assert values(scores + 1e8) == pytest.approx(values(scores), rel=1e-6)


def test_more_subjects_than_fit_in_a_piece_are_added_up_whole() -> None:
    x = np.random.default_rng(SEED).normal(3, 1, (5_003, 4))  # neither in pieces nor in 200s
    ms = mean_squares(x)

    assert ms.subjects == pytest.approx(4 * x.mean(axis=1).var(ddof=1), rel=1e-10)
    assert ms.raters == pytest.approx(5_003 * x.mean(axis=0).var(ddof=1), rel=1e-10)
    within = (x - x.mean(axis=1, keepdims=True)) ** 2
    assert ms.within == pytest.approx(within.sum() / (5_003 * 3), rel=1e-10)


@pytest.mark.parametrize(
    ("scores", "why"),
    [
        pytest.param([[1, 2, 3]], "at least 2 subjects", id="one subject"),
        pytest.param([[1], [2], [3]], "at least 2 raters", id="one rater"),
        pytest.param([[4, 4], [4, 4]], "every score is 4", id="all the same"),
        pytest.param([[1, 2], [1, 2]], "every subject has the same", id="no two subjects differ"),
        pytest.param([[1, np.nan], [2, 3]], "1 of 4 scores are missing", id="a gap"),
        pytest.param([[1, np.inf], [2, -np.inf]], "2 of 4 scores are missing", id="no numbers"),
        pytest.param([1, 2, 3], "two dimensions", id="a single list"),
    ],
)
def test_what_scores_cannot_support_is_refused_with_the_reason(scores: object, why: str) -> None:
    with pytest.raises(Refused, match=why):
        intraclass_correlations(scores)  # type: ignore[arg-type] # lists of any depth


@pytest.mark.parametrize(
    ("subject", "score", "why"),
    [
        pytest.param([0, 0], [1, 2], "at least 2 subjects", id="one subject"),
        pytest.param([0, 1, 2], [1, 2, 3], "scored at least twice", id="one score each"),
        pytest.param([0, 0, 1], [2, 2, 2], "every score is 2", id="all the same"),
        pytest.param([0, 0, 1], [2, np.nan, 2], "missing", id="a gap"),
        pytest.param([0, 1], [2, 3, 4], "equally long", id="lists of other lengths"),
        pytest.param([], [], "at least 2 subjects", id="nothing"),
    ],
)
def test_unequal_numbers_are_refused_too(subject: list[int], score: list[float], why: str) -> None:
    with pytest.raises(Refused, match=why):
        icc_unbalanced(subject, score)


def test_the_exact_interval_of_unequal_numbers_holds_the_truth_as_often_as_it_says() -> None:
    rng = np.random.default_rng(SEED)
    counts = np.array([1, 2, 2, 3, 4, 6, 8, 2, 3, 5])
    subject = np.repeat(np.arange(10), counts)
    truth, held, rounds = 0.4, 0, 1500
    for _ in range(rounds):
        own = rng.normal(scale=np.sqrt(truth), size=10)[subject]
        scores = own + rng.normal(scale=np.sqrt(1 - truth), size=subject.size)
        value = icc_unbalanced(subject, scores, level=0.9).estimate
        assert value.low is not None
        assert value.high is not None
        held += value.low <= truth <= value.high

    assert held / rounds == pytest.approx(0.9, abs=0.025)  # three standard errors


@pytest.mark.parametrize(
    ("name", "truth"),
    [("ICC(1,1)", 1.0 / 1.75), ("ICC(2,1)", 1.0 / 1.75), ("ICC(3,1)", 1.0 / 1.5)],
)
def test_coefficients_of_many_subjects_come_near_the_truth(name: str, truth: float) -> None:
    rng = np.random.default_rng(SEED)
    n, k, rounds = 300, 30, 40
    errors = []
    for _ in range(rounds):
        persons, raters = rng.normal(size=(n, 1)), rng.normal(scale=0.5, size=(1, k))
        x = persons + raters + rng.normal(scale=np.sqrt(0.5), size=(n, k))
        errors.append(values(x)[name] - truth)

    assert np.sqrt(np.mean(np.square(errors))) < 0.04
