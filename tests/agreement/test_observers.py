"""Two observers: gaps, and what cannot be laid side by side."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standfast.agreement.observers import (
    exact_count_per_interval,
    interval_by_interval,
    mean_count_per_interval,
    mean_duration_per_occurrence,
    scored_interval,
    total_duration,
    trial_by_trial,
    unscored_interval,
)
from standfast.problems import Refused

NA = float("nan")
counts = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=1, max_size=30)


def test_an_attempt_that_one_could_not_see_is_left_out_and_counted() -> None:
    found = trial_by_trial([1, 0, NA, 1], [1, 1, 1, NA])

    assert (found.value, found.alike, found.of, found.missing) == (0.5, 1, 2, 2)


def test_with_no_attempt_that_both_saw_there_is_no_share() -> None:
    found = trial_by_trial([1, NA], [NA, 0])

    assert found.value is None
    assert found.why == "there is no attempt that both saw"


def test_sheets_of_different_length_are_refused() -> None:
    with pytest.raises(Refused, match="one observer has 2 places, the other 3"):
        interval_by_interval([1, 0], [1, 0, 0])


def test_an_attempt_is_yes_or_no() -> None:
    with pytest.raises(Refused, match="there is 2"):
        trial_by_trial([1, 2], [1, 0])


def test_a_count_below_nothing_is_refused() -> None:
    with pytest.raises(Refused, match="below 0: -1"):
        exact_count_per_interval([1, -1], [1, 0])


def test_total_time_does_not_ask_for_equally_many_occurrences() -> None:
    assert total_duration([30, 30], [20, 20, 10]).value == pytest.approx(50 / 60)
    with pytest.raises(Refused):
        mean_duration_per_occurrence([30, 30], [20, 20, 10])


@given(counts)
def test_counts_that_are_the_same_agree_fully_and_exact_is_the_strictest(
    pairs: list[tuple[int, int]],
) -> None:
    first, second = map(list, zip(*pairs, strict=True))
    exact = exact_count_per_interval(first, second).value
    mean = mean_count_per_interval(first, second).value
    seen = interval_by_interval(first, second).value

    assert exact is not None
    assert mean is not None
    assert seen is not None
    assert exact <= mean + 1e-12
    assert mean <= seen + 1e-12
    assert exact_count_per_interval(first, first).value == 1.0


@given(counts)
def test_scored_and_unscored_share_one_number_of_disagreements(
    pairs: list[tuple[int, int]],
) -> None:
    first, second = map(list, zip(*pairs, strict=True))
    differ = [
        found.of - found.alike
        for found in (
            interval_by_interval(first, second),
            scored_interval(first, second),
            unscored_interval(first, second),
        )
    ]

    assert differ[0] == differ[1] == differ[2]
