"""Subjects drawn again: the same seed, the same figure, and the right amount of doubt."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from standfast.agreement.alpha import METRICS, krippendorff_alpha
from standfast.agreement.bootstrap import bootstrapped, bootstrapped_alpha, drawn, with_interval
from standfast.agreement.coefficients import (
    BRENNAN_PREDIGER,
    CONGER,
    FLEISS,
    GWET_AC,
    Coefficient,
    coefficient_of,
)
from standfast.agreement.estimate import Estimate
from standfast.agreement.scores import scores_of
from standfast.agreement.weights import weights_for
from standfast.problems import Refused

Floats = NDArray[np.float64]
ALL = [BRENNAN_PREDIGER, CONGER, FLEISS, GWET_AC]


def invented_ratings(subjects: int, assessors: int, gaps: float, seed: int) -> Floats:
    random = np.random.default_rng(seed)
    truth = random.normal(2.5, 1.0, (subjects, 1))
    table = np.clip(np.rint(truth + random.normal(0, 0.6, (subjects, assessors))), 1, 4)
    table[random.random(table.shape) < gaps] = np.nan
    return np.asarray(table, dtype=float)


TABLE = invented_ratings(150, 4, 0.2, seed=3)


def by_hand(table: Floats, coefficient: Coefficient, picked: NDArray[np.int64]) -> float:
    """The figure worked out anew from the ratings of the drawn subjects."""
    scores = scores_of(table[picked], [1, 2, 3, 4])
    return coefficient_of(coefficient, scores, weights_for("linear", [1, 2, 3, 4])).value


def picked_with(seed: int) -> NDArray[np.int64]:
    """Which of 20 subjects each of 25 draws takes."""
    random = np.random.default_rng(seed)
    return np.array([random.integers(20, size=20, dtype=np.uint16) for _ in range(25)], dtype=int)


@pytest.mark.parametrize("coefficient", ALL, ids=lambda each: each.name)
def test_a_draw_is_the_figure_of_the_drawn_subjects(coefficient: Coefficient) -> None:
    table = invented_ratings(20, 3, 0.1, seed=5)
    scores = scores_of(table, [1, 2, 3, 4])
    assert len(scores.counts) == len(table)
    picked = picked_with(11)

    found = bootstrapped(
        coefficient, scores, weights_for("linear", [1, 2, 3, 4]), seed=11, draws=25
    )

    values = [by_hand(table, coefficient, row) for row in picked]
    assert found.se == pytest.approx(np.std(values, ddof=1))
    assert (found.low, found.high) == pytest.approx(tuple(np.quantile(values, [0.025, 0.975])))


@pytest.mark.parametrize("metric", sorted(METRICS))
def test_a_draw_is_the_alpha_of_the_drawn_subjects(metric: str) -> None:
    table = invented_ratings(20, 3, 0.0, seed=5)
    picked = picked_with(11)

    found = bootstrapped_alpha(table, metric, seed=11, draws=25)

    values = [krippendorff_alpha(table[row], metric).value for row in picked]
    assert found.value == krippendorff_alpha(table, metric).value
    assert found.se == pytest.approx(np.std(values, ddof=1))


@pytest.mark.parametrize("coefficient", ALL, ids=lambda each: each.name)
def test_bootstrap_and_formula_tell_about_the_same_doubt(coefficient: Coefficient) -> None:
    scores = scores_of(TABLE, [1, 2, 3, 4])
    formula = coefficient_of(coefficient, scores)

    found = bootstrapped(coefficient, scores, seed=7)

    assert found.value == formula.value
    assert found.se == pytest.approx(formula.se, rel=0.15)
    assert found.low == pytest.approx(formula.low, abs=0.03)


def test_the_doubt_about_alpha_is_about_that_of_its_formula() -> None:
    formula = krippendorff_alpha(TABLE, "interval")

    found = bootstrapped_alpha(TABLE, "interval", seed=7)

    assert found.se == pytest.approx(formula.se, rel=0.15)
    assert found.method == "percentile bootstrap over subjects, 2,000 draws"


def test_the_same_seed_gives_the_same_interval_and_another_one_another() -> None:
    scores = scores_of(TABLE)
    one, again, other = (bootstrapped(FLEISS, scores, seed=seed, draws=200) for seed in (1, 1, 2))

    assert one == again
    assert one.low != other.low


def test_draws_do_not_depend_on_how_many_are_held_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    tables = np.arange(12.0).reshape(6, 2)
    whole = drawn(tables, lambda sums: sums[:, 0], seed=4, draws=50)
    monkeypatch.setattr("standfast.agreement.bootstrap._CELLS", 18)

    assert drawn(tables, lambda sums: sums[:, 0], seed=4, draws=50).tolist() == whole.tolist()


def test_draws_without_variation_are_counted_and_too_many_are_refused() -> None:
    estimate = Estimate("x", 0.5, 10, "own")
    few = np.r_[np.linspace(0, 1, 97), [np.nan] * 3]
    many = np.r_[np.linspace(0, 1, 94), [np.nan] * 6]

    assert with_interval(estimate, few).method.endswith("3 of them without variation left out")
    with pytest.raises(Refused, match="6 of 100 draws of the subjects had no variation"):
        with_interval(estimate, many)


def test_nearly_uniform_scores_are_refused_a_bootstrap() -> None:
    table = np.ones((12, 2))
    table[0] = [1, 2]

    with pytest.raises(Refused, match="more practicals that differ"):
        bootstrapped(FLEISS, scores_of(table), seed=1)
