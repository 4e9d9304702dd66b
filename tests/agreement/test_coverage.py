"""Intervals hold the true value about as often as they say; see `coverage.py`."""

from __future__ import annotations

import json
import math

import pytest
from tests.agreement.coverage import NOMINAL, STORED, Case, Covered, cases, run

ERRORS = 3.5
"""Standard errors of the simulation that are let pass: about 1 in 2,000."""
CLOSE = 0.02
"""How far a formula for many subjects may be off with as few as here, in many simulations."""

KEPT = {row["what"]: Covered(**row) for row in json.loads(STORED.read_text(encoding="utf-8"))}
CASES = cases()
IDS = [case.what for case in CASES]


def error(share: float, simulations: int) -> float:
    """Of a share of independent simulations."""
    return math.sqrt(share * (1 - share) / simulations)


def test_everything_that_is_simulated_is_stored() -> None:
    assert list(KEPT) == IDS
    assert all(kept.simulations >= 1_500 for kept in KEPT.values())


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_what_is_stored_is_of_this_truth_and_near_the_level(case: Case) -> None:
    kept = KEPT[case.what]

    assert kept.truth == pytest.approx(case.truth, abs=1e-12)
    assert kept.mean == pytest.approx(case.truth, abs=0.02)
    assert abs(kept.coverage - NOMINAL) <= CLOSE


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_a_fresh_simulation_covers_as_often_as_the_level_and_as_stored(case: Case) -> None:
    kept = KEPT[case.what]
    simulations = 200 if "bootstrap" in case.what else 500

    fresh = run(case, simulations, kept.seed + 1)
    assert abs(fresh.coverage - NOMINAL) <= ERRORS * error(NOMINAL, simulations)
    both = math.hypot(error(kept.coverage, simulations), error(kept.coverage, kept.simulations))
    assert abs(fresh.coverage - kept.coverage) <= ERRORS * both
