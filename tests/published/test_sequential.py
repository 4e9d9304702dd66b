"""Wald's sequential test against plans that were worked out elsewhere.

Sources: Wald (1947), Sequential Analysis, ch. 5 (constants from memory); NIST/SEMATECH e-Handbook,
6.2.6 (constants from memory); the third plan is our own, worked out apart from this code.
"""

from __future__ import annotations

from fractions import Fraction
from math import log

import pytest

from standfast.engine.sequential import Sequential

WALD = Sequential(Fraction("0.1"), Fraction("0.3"), Fraction("0.02"), Fraction("0.03"))
NIST = Sequential(Fraction("0.01"), Fraction("0.1"), Fraction("0.05"), Fraction("0.1"))
OWN = Sequential(Fraction("0.05"), Fraction("0.15"), Fraction("0.05"), Fraction("0.1"))

FIRST = (0, 0, 1, *([0] * 40))
SECOND = (0, 1, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1)


@pytest.mark.parametrize(
    ("plan", "upper", "lower", "miss", "hit", "first_accepted"),
    [
        (WALD, 48.5, 0.030612244898, 1.09861228867, -0.251314428281, 14),
        (NIST, 18.0, 0.105263157895, 2.30258509299, -0.0953101798043, 24),
        (OWN, 18.0, 0.105263157895, 1.09861228867, -0.11122563511, 21),
    ],
    ids=["Wald", "NIST", "own"],
)
def test_bounds_and_weights(
    plan: Sequential, upper: float, lower: float, miss: float, hit: float, first_accepted: int
) -> None:
    assert float(plan.upper) == pytest.approx(upper, abs=1e-6)
    assert float(plan.lower) == pytest.approx(lower, abs=1e-6)
    assert log(plan.ratio(1, 1)) == pytest.approx(miss, abs=1e-6)
    assert log(plan.ratio(0, 1)) == pytest.approx(hit, abs=1e-6)
    assert plan.more_to_accept(0, 0) == first_accepted


@pytest.mark.parametrize(
    ("plan", "slope", "reject", "accept"),
    [(WALD, 0.186, 2.88, -2.58), (NIST, 0.0397, 1.205, -0.939)],
    ids=["Wald", "NIST"],
)
def test_the_lines_of_the_chart(
    plan: Sequential, slope: float, reject: float, accept: float
) -> None:
    rise = log(plan.ratio(1, 1)) - log(plan.ratio(0, 1))

    assert -log(plan.ratio(0, 1)) / rise == pytest.approx(slope, abs=6e-4)
    assert log(plan.upper) / rise == pytest.approx(reject, abs=6e-3)
    assert log(plan.lower) / rise == pytest.approx(accept, abs=6e-3)


TABLES: dict[str, tuple[Sequential, dict[int, tuple[int | None, int | None]]]] = {
    "Wald": (
        WALD,
        {
            3: (None, None),
            5: (None, 4),
            10: (None, 5),
            20: (1, 7),
            24: (1, 8),
            30: (3, 9),
            40: (4, 11),
            50: (6, 13),
        },
    ),
    "NIST": (
        NIST,
        {
            1: (None, None),
            2: (None, 2),
            5: (None, 2),
            10: (None, 2),
            20: (None, 3),
            24: (0, 3),
            30: (0, 3),
            40: (0, 3),
            50: (1, 4),
        },
    ),
    "own": (
        OWN,
        {
            2: (None, None),
            3: (None, 3),
            5: (None, 3),
            10: (None, 4),
            20: (None, 5),
            24: (0, 5),
            30: (0, 6),
            40: (1, 7),
            50: (2, 7),
        },
    ),
}


@pytest.mark.parametrize("name", TABLES)
def test_the_plan_as_a_table(name: str) -> None:
    plan, table = TABLES[name]

    for trials, (accept, reject) in table.items():
        assert plan.most_to_accept(trials) == accept, trials
        assert plan.least_to_reject(trials) == reject, trials


@pytest.mark.parametrize(
    ("plan", "walk", "verdict", "at"),
    [
        (WALD, FIRST, "accept", 20),
        (WALD, SECOND, "reject", 8),
        (NIST, FIRST, "go on", 43),
        (NIST, SECOND, "reject", 3),
        (OWN, FIRST, "accept", 32),
        (OWN, SECOND, "reject", 5),
    ],
)
def test_walks(plan: Sequential, walk: tuple[int, ...], verdict: str, at: int) -> None:
    told = [plan.verdict(sum(walk[:n]), n) for n in range(1, len(walk) + 1)]
    ended = next((n for n, one in enumerate(told, 1) if one != "go on"), len(walk))

    assert (told[ended - 1], ended) == (verdict, at)


@pytest.mark.parametrize(
    ("plan", "rate", "rejected", "trials"),
    [
        (WALD, 0.1, 0.0136921602175, 29.9018083138),
        (WALD, 0.3, 0.972576396235, 26.6022068743),
        (NIST, 0.01, 0.0220471078743, 30.2127262177),
        (NIST, 0.1, 0.900421195317, 22.3691548542),
        (OWN, 0.05, 0.0346111118242, 41.8178397247),
        (OWN, 0.15, 0.904428910339, 39.349821413),
    ],
)
def test_how_often_it_rejects_and_how_long_it_takes(
    plan: Sequential, rate: float, rejected: float, trials: float
) -> None:
    """Exactly, by following every way that is still open."""
    still = {0: 1.0}
    ended, waited = 0.0, 0.0
    for n in range(1, 600):
        after: dict[int, float] = {}
        for misses, chance in still.items():
            after[misses] = after.get(misses, 0.0) + chance * (1 - rate)
            after[misses + 1] = after.get(misses + 1, 0.0) + chance * rate
        waited += sum(still.values())
        verdicts = {misses: plan.verdict(misses, n) for misses in after}
        ended += sum(c for m, c in after.items() if verdicts[m] == "reject")
        still = {m: c for m, c in after.items() if verdicts[m] == "go on" and c > 1e-15}
        if sum(still.values()) < 1e-12:
            break

    assert ended == pytest.approx(rejected, abs=1e-6)
    assert waited == pytest.approx(trials, abs=1e-5)
