"""Which figures stand beside plain agreement, by the kind of marks."""

from __future__ import annotations

import numpy as np
import pytest

from standfast.desk.figures import OneCriterion, figures_of, why_misleading

SIX = ("ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)")
GAP = np.nan
YES_OR_NO = np.array([[1, 1], [0, 0], [1, 0], [1, 1], [0, 0], [0, 1], [1, 1], [0, 0]], float)
LEVELS = np.array([[1, 2], [2, 2], [3, 4], [4, 4], [1, 1], [3, 3], [2, 3], [4, 4]], float)
MEASURED = LEVELS / 7.0


def test_yes_or_no_has_unweighted_figures_and_no_icc() -> None:
    shown, left_out = figures_of(OneCriterion(YES_OR_NO))

    assert [one.name for one in shown] == [
        "conger_kappa",
        "gwet_ac1",
        "krippendorff_alpha_nominal",
        "fleiss_kappa",
        "brennan_prediger",
    ]
    assert left_out == ()


def test_levels_are_weighted_and_have_an_icc() -> None:
    shown, _ = figures_of(OneCriterion(LEVELS))

    assert [one.name for one in shown] == [
        "conger_kappa_quadratic",
        "gwet_ac2_quadratic",
        "krippendorff_alpha_ordinal",
        *SIX,
        "fleiss_kappa_quadratic",
        "brennan_prediger_quadratic",
    ]


def test_measurements_have_no_kappa_and_the_reason_is_kept() -> None:
    shown, left_out = figures_of(OneCriterion(MEASURED))

    assert [one.name for one in shown] == ["krippendorff_alpha_interval", *SIX]
    assert all("measurements" in why for why in left_out)


def test_what_the_marks_do_not_support_is_left_out_with_its_reason() -> None:
    gaps = LEVELS.copy()
    gaps[0, 1] = GAP
    shown, left_out = figures_of(OneCriterion(gaps))

    assert "ICC(2,1)" not in [one.name for one in shown]
    assert "ICC(1,1)" in [one.name for one in shown]
    assert len(left_out) == 1


def test_the_figures_are_those_of_a_published_table() -> None:
    # Feinstein & Cicchetti (1990), first table pair, from memory: agreement .85, kappa .32.
    cells = {(1, 1): 80, (1, 0): 10, (0, 1): 5, (0, 0): 5}
    marks = np.array([pair for pair, count in cells.items() for _ in range(count)], float)
    shown, _ = figures_of(OneCriterion(marks))
    known = {one.name: one.value for one in shown}

    assert known["conger_kappa"] == pytest.approx(0.32, abs=0.005)
    assert known["gwet_ac1"] == pytest.approx(0.81, abs=0.005)
    assert "kappa is only 0.3" in (why_misleading(OneCriterion(marks)) or "")
    assert why_misleading(OneCriterion(LEVELS)) is None
    assert why_misleading(OneCriterion(MEASURED)) is None
