"""Agreement of two observers: counts, intervals, attempts and durations.

Reed DD & Azulay RL (2011), A Microsoft Excel 2010 based tool for calculating interobserver
agreement, Behav Anal Pract 4(2), 45-52 (text read; volume and pages from memory).  Own examples
are worked by hand, their kappa with scikit-learn 1.9.1.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from standfast.agreement.coefficients import cohen_kappa
from standfast.agreement.observers import (
    Alike,
    agreement_of_each,
    exact_count_per_interval,
    interval_by_interval,
    mean_count_per_interval,
    mean_duration_per_occurrence,
    scored_interval,
    total_count,
    total_duration,
    trial_by_trial,
    unscored_interval,
)
from standfast.agreement.scores import scores_of

TOLERANCE = 1e-9
Column = Sequence[float]
SHARES: dict[str, Callable[[Column, Column], Alike]] = {
    "total_count": total_count,
    "mean_count_per_interval": mean_count_per_interval,
    "exact_count_per_interval": exact_count_per_interval,
    "interval_by_interval": interval_by_interval,
    "scored_interval": scored_interval,
    "unscored_interval": unscored_interval,
    "trial_by_trial": trial_by_trial,
    "total_duration": total_duration,
    "mean_duration_per_occurrence": mean_duration_per_occurrence,
}

EXAMPLES: dict[str, tuple[Column, Column, dict[str, float | None]]] = {
    # Figure 1: events in 15 intervals of a minute; printed 100 %, 70 %, 66.7 %.
    "reed-count": (
        [1, 1, 1, 2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        [0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 4],
        {
            "total_count": 1.0,
            "mean_count_per_interval": 0.7,
            "exact_count_per_interval": 0.666666666667,
            "interval_by_interval": 0.733333333333,
            "scored_interval": 0.2,
            "unscored_interval": 0.714285714286,
        },
    ),
    # Figure 2; who scored the first and the last interval is not stated (kappa depends on it).
    "reed-interval": (
        [1, 0, 0, 0, 1, 1, 0],
        [0, 0, 0, 0, 1, 1, 1],
        {"interval_by_interval": 0.714285714286, "scored_interval": 0.5, "unscored_interval": 0.6},
    ),
    # Ratios .75, 1, .80 from a training page, with durations chosen to give them.
    "dur-web": (
        [30, 20, 40],
        [40, 20, 50],
        {"total_duration": 0.818181818182, "mean_duration_per_occurrence": 0.85},
    ),
    # Own.
    "count-own": (
        [0, 2, 1, 3, 0, 4, 2, 0, 1, 1, 0, 5],
        [0, 1, 1, 3, 1, 4, 3, 0, 0, 1, 0, 4],
        {
            "total_count": 0.947368421053,
            "mean_count_per_interval": 0.747222222222,
            "exact_count_per_interval": 0.583333333333,
            "interval_by_interval": 0.833333333333,
            "scored_interval": 0.777777777778,
            "unscored_interval": 0.6,
        },
    ),
    # Own: a share of nothing is not defined.
    "edge": (
        [0, 0, 0],
        [0, 0, 0],
        {
            "total_count": None,
            "mean_count_per_interval": 1.0,
            "exact_count_per_interval": 1.0,
            "interval_by_interval": 1.0,
            "scored_interval": None,
            "unscored_interval": 1.0,
        },
    ),
    # Own: ten attempts.
    "trial": (
        [1, 1, 0, 1, 0, 1, 1, 1, 0, 1],
        [1, 0, 0, 1, 0, 1, 1, 1, 1, 1],
        {
            "interval_by_interval": 0.8,
            "scored_interval": 0.75,
            "unscored_interval": 0.5,
            "trial_by_trial": 0.8,
        },
    ),
}
KAPPA = {
    "reed-count": 0.189189189189,
    "reed-interval": 0.416666666667,
    "count-own": 0.625,
    "trial": 0.52380952381,
}


@pytest.mark.parametrize(
    ("example", "name"),
    [(example, name) for example, (_, _, expected) in EXAMPLES.items() for name in expected],
)
def test_a_share_is_that_of_the_example(example: str, name: str) -> None:
    first, second, expected = EXAMPLES[example]

    found = SHARES[name](first, second)

    assert found.name == name
    assert found.value == pytest.approx(expected[name], abs=TOLERANCE)
    assert SHARES[name](second, first).value == found.value


@pytest.mark.parametrize("example", KAPPA)
def test_kappa_of_seen_or_not_is_that_of_the_example(example: str) -> None:
    first, second, _ = EXAMPLES[example]
    seen = np.column_stack([np.array(first) > 0, np.array(second) > 0])

    found = cohen_kappa(scores_of(seen, [0, 1]))

    assert found.value == pytest.approx(KAPPA[example], abs=TOLERANCE)


def test_intervals_that_agree_in_part_are_those_of_figure_1() -> None:
    first, second, _ = EXAMPLES["reed-count"]

    each = agreement_of_each(first, second)

    assert each.tolist() == [0, 0, 0, 0.5, *[1] * 10, 0]
    assert mean_count_per_interval(first, second).alike == 10.5


def test_occurrences_that_agree_in_part_are_those_of_the_training_page() -> None:
    first, second, _ = EXAMPLES["dur-web"]

    assert agreement_of_each(first, second).tolist() == [0.75, 1.0, 0.8]


def test_the_mean_over_occurrences_is_that_of_figure_3() -> None:
    """Quoted are the ratios 99.7, 2.3, 69.2 and 92.7 %, and the mean, 66 %; no times."""
    shorter, longer = [997, 23, 692, 927], [1000] * 4

    found = mean_duration_per_occurrence(shorter, longer).value

    assert found == pytest.approx(0.65975, abs=1e-4)


def test_a_share_of_nothing_says_why_it_is_not_defined() -> None:
    first, second, _ = EXAMPLES["edge"]

    assert scored_interval(first, second).why == "neither of the two saw it in any interval"
    assert total_count(first, second).why == "neither of the two counted anything"
