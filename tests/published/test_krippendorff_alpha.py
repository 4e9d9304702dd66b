"""Krippendorff's alpha: worked examples with gaps, under four metrics.

Computed values: krippendorff 0.9.0 and R irr 0.84.1, to 1e-6; printed ones to three decimals.
"""

from __future__ import annotations

import numpy as np
import pytest

from standfast.agreement.alpha import krippendorff_alpha

NA = float("nan")
TOLERANCE = 1e-6
Rows = list[list[float]]

# Observers by units.
EXAMPLES: dict[str, tuple[Rows, dict[str, float], dict[str, float]]] = {
    # Krippendorff 2011, section A.
    # data from memory; printed value from memory.
    "A": (
        [[0, 1, 0, 0, 0, 0, 0, 0, 1, 0], [1, 1, 1, 0, 0, 1, 0, 0, 0, 0]],
        {"nominal": 0.0952380952381},
        {"nominal": 0.095},
    ),
    # Krippendorff 2011, section B (also irrCAC raw_ben_gerry with one value removed).
    # printed value from memory.
    "B": (
        [[1, 1, 2, 2, 4, 3, 3, 3, 5, 4, 4, 1], [2, 1, 2, 2, 2, 3, 3, 3, 5, 4, 4, 4]],
        {"nominal": 0.691964285714},
        {"nominal": 0.692},
    ),
    # Krippendorff K. 2011, Computing Krippendorff's Alpha-Reliability, section C and D.
    # printed: nominal, ordinal and ratio read in the documentation of krippendorff 0.9.0,
    # interval recalled.
    "C": (
        [
            [1.0, 2.0, 3.0, 3.0, 2.0, 1.0, 4.0, 1.0, 2.0, NA, NA, NA],
            [1.0, 2.0, 3.0, 3.0, 2.0, 2.0, 4.0, 1.0, 2.0, 5.0, NA, 3.0],
            [NA, 3.0, 3.0, 3.0, 2.0, 3.0, 4.0, 2.0, 2.0, 5.0, 1.0, NA],
            [1.0, 2.0, 3.0, 3.0, 2.0, 4.0, 4.0, 1.0, 2.0, 5.0, 1.0, NA],
        ],
        {
            "nominal": 0.743421052632,
            "ordinal": 0.815387503755,
            "interval": 0.849107142857,
            "ratio": 0.797402774712,
        },
        {"nominal": 0.743, "ordinal": 0.815, "interval": 0.849, "ratio": 0.797},
    ),
    # encyclopaedia article on Krippendorff alpha (worked example): nominal .691, interval .811.
    # printed: .691 read, .811 recalled.
    "W": (
        [
            [NA, NA, NA, NA, NA, 3.0, 4.0, 1.0, 2.0, 1.0, 1.0, 3.0, 3.0, NA, 3.0],
            [1.0, NA, 2.0, 1.0, 3.0, 3.0, 4.0, 3.0, NA, NA, NA, NA, NA, NA, NA],
            [NA, NA, 2.0, 1.0, 3.0, 4.0, 4.0, NA, 2.0, 1.0, 1.0, 3.0, 3.0, NA, 4.0],
        ],
        {
            "nominal": 0.691358024691,
            "ordinal": 0.806721419941,
            "interval": 0.810844892812,
            "ratio": 0.808943670784,
        },
        {"nominal": 0.691, "interval": 0.811},
    ),
}


@pytest.mark.parametrize(
    ("name", "metric"),
    [(name, metric) for name, (_, expected, _) in EXAMPLES.items() for metric in expected],
)
def test_alpha_is_that_of_the_example(name: str, metric: str) -> None:
    rows, expected, printed = EXAMPLES[name]

    found = krippendorff_alpha(np.array(rows).T, metric)

    assert found.name == f"krippendorff_alpha_{metric}"
    assert found.value == pytest.approx(expected[metric], abs=TOLERANCE)
    assert round(found.value, 3) == printed.get(metric, round(expected[metric], 3))
