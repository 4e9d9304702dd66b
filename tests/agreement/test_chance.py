"""Tests of differences, and of many at once, against other libraries and by counting."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from standfast.agreement.chance import adjusted, change, mean_difference, sign_test


def test_nothing_to_adjust_is_nothing() -> None:
    assert adjusted([]) == ()


def test_a_mean_is_tested_as_by_another_library() -> None:
    values = np.array([0.1, -0.05, 0.2, 0.12, 0.03, 0.08, -0.02, 0.1])
    found = mean_difference(values)
    expected = stats.ttest_1samp(values, 0)
    low, high = expected.confidence_interval()

    assert found.p == pytest.approx(float(expected.pvalue), abs=1e-12)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-12)


@pytest.mark.parametrize(("values", "p"), [([0.1] * 5, 2**-4), ([0.0] * 5, 1.0)])
def test_differences_without_spread_prove_no_more_than_their_signs(
    values: list[float], p: float
) -> None:
    assert mean_difference(np.array(values)).p == p


def test_a_change_is_tested_as_by_another_library() -> None:
    before = np.array([0.01, -0.04, 0.02, 0.05, -0.01, 0.0])
    now = np.array([0.09, 0.2, 0.02, 0.11, 0.05])
    found = change(before, now)
    expected = stats.ttest_ind(now, before)
    low, high = expected.confidence_interval()

    assert found.p == pytest.approx(float(expected.pvalue), abs=1e-12)
    assert (found.value, found.low, found.high) == pytest.approx(
        (now.mean() - before.mean(), low, high), abs=1e-12
    )


def test_a_change_without_spread_proves_no_more_than_shuffling() -> None:
    assert change(np.zeros(4), np.ones(4)).p == pytest.approx(2 / 70)  # 8 choose 4


@pytest.mark.parametrize(
    ("lower", "higher", "p"),
    [
        pytest.param(0, 0, 1.0, id="nothing"),
        pytest.param(5, 0, 2 / 32, id="five of five"),
        pytest.param(6, 0, 2 / 64, id="six of six"),
        pytest.param(1, 7, 18 / 256, id="one of eight"),
        pytest.param(4, 4, 1.0, id="even"),
    ],
)
def test_signs_are_counted_exactly(lower: int, higher: int, p: float) -> None:
    assert sign_test(lower, higher) == pytest.approx(p, abs=1e-12)
