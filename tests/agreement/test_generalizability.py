"""Laws of decision studies, and the chance that another panel decides otherwise."""

from __future__ import annotations

import doctest
import importlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standfast.agreement.generalizability import (
    composite,
    decision_studies,
    decision_study,
    falls_from,
    least_counts,
    otherwise_given,
    second_panel,
    two_disagree,
)
from standfast.problems import Refused

SEED = 20261125
VARIANCE = st.floats(0.001, 10)
# p person, r assessor, t practical, i criterion: an invented school's three-way design.
SCHOOL = {"p": 0.30, "r": 0.05, "t": 0.04, "pr": 0.08, "pt": 0.25, "rt": 0.01, "prt": 0.20}


@pytest.mark.parametrize("module", ["icc", "components", "generalizability", "consistency"])
def test_the_examples_in_the_words_are_right(module: str) -> None:
    found = doctest.testmod(importlib.import_module(f"standfast.agreement.{module}"))

    assert found.attempted > 0
    assert found.failed == 0


@given(VARIANCE, VARIANCE, VARIANCE, st.integers(1, 50))
def test_more_assessors_are_never_worth_less_and_absolute_never_more_than_relative(
    p: float, r: float, pr: float, number: int
) -> None:
    components = {"p": p, "r": r, "pr": pr}
    fewer, more = decision_studies(components, [{"r": number}, {"r": number + 1}])

    assert more.phi >= fewer.phi
    assert more.erho2 >= fewer.erho2
    assert fewer.phi <= fewer.erho2 <= 1


@given(VARIANCE, VARIANCE, st.integers(2, 20))
def test_the_relative_coefficient_steps_up_as_spearman_and_brown_say(
    p: float, pr: float, number: int
) -> None:
    one, many = decision_studies({"p": p, "r": 1.0, "pr": pr}, [{"r": 1}, {"r": number}])

    assert many.erho2 == pytest.approx(number * one.erho2 / (1 + (number - 1) * one.erho2))


def test_what_persons_do_on_fixed_criteria_is_measured_and_not_error() -> None:
    components = {"p": 0.4, "i": 0.2, "r": 0.1, "pi": 0.3, "pr": 0.05, "ri": 0.02, "pri": 0.24}
    study = decision_study(components, {"r": 2, "i": 6}, fixed="i")

    assert study.universe == pytest.approx(0.4 + 0.3 / 6)
    assert study.relative_error == pytest.approx(0.05 / 2 + 0.24 / 12)
    assert study.absolute_error == pytest.approx(0.05 / 2 + 0.24 / 12 + 0.1 / 2 + 0.02 / 12)


def test_a_component_below_zero_counts_as_zero() -> None:
    with_negative = decision_study({"p": 1.0, "r": -0.2, "pr": 0.5}, {"r": 3})

    assert with_negative == decision_study({"p": 1.0, "r": 0.0, "pr": 0.5}, {"r": 3})


@pytest.mark.parametrize("counts", [{"r": 1, "t": 1}, {"r": 2, "t": 2}, {"r": 3, "t": 1}])
def test_the_chance_of_another_decision_is_what_simulated_panels_show(
    counts: dict[str, int],
) -> None:
    rng = np.random.default_rng(SEED)
    rounds, mean, cut = 400_000, 3.4, 3.0
    person = rng.normal(scale=np.sqrt(SCHOOL["p"]), size=rounds)
    passed = [mean + person + panel_error(rng, counts, rounds) >= cut for _ in range(2)]
    found = second_panel(decision_study(SCHOOL, counts), mean, cut)

    assert found.otherwise == pytest.approx(np.mean(passed[0] != passed[1]), abs=0.004)
    assert found.passing == pytest.approx(np.mean(passed[0]), abs=0.004)


def panel_error(rng: np.random.Generator, counts: dict[str, int], rounds: int) -> np.ndarray:
    """What a panel of one person's own errs by: every effect but the person's drawn anew."""
    error = np.zeros(rounds)
    for effect, variance in SCHOOL.items():
        if effect != "p":
            levels = [counts[facet] for facet in effect if facet != "p"]
            drawn = rng.normal(scale=np.sqrt(variance), size=(rounds, int(np.prod(levels))))
            error += drawn.mean(axis=1)
    return error


@given(VARIANCE, VARIANCE, st.floats(-3, 3))
def test_another_panel_is_a_matter_of_chance_at_most_and_surest_far_from_the_cut(
    universe: float, error: float, cut: float
) -> None:
    study = decision_study({"p": universe, "r": 0.0, "pr": error}, {"r": 1})
    near, far = second_panel(study, 0.0, cut), second_panel(study, 0.0, 2 * cut)

    assert 0 <= near.otherwise <= 0.5
    assert far.otherwise <= near.otherwise + 1e-12
    assert near.agreeing == 1 - near.otherwise


def test_two_panels_that_are_always_right_never_differ_and_blind_ones_as_two_coins() -> None:
    assert two_disagree(0.3, 1.0) == 0
    assert two_disagree(0.0, 0.0) == pytest.approx(0.5)


def test_a_mean_at_the_cut_is_the_least_sure_and_the_mean_chance_is_the_whole() -> None:
    study = decision_study(SCHOOL, {"r": 2, "t": 2})
    spread = np.sqrt(study.universe + study.absolute_error)
    seen = np.linspace(3.4 - 8 * spread, 3.4 + 8 * spread, 40_001)
    density = np.exp(-(((seen - 3.4) / spread) ** 2) / 2)
    chances = np.array([otherwise_given(study, 3.4, 3.0, float(x)) for x in seen])

    assert chances @ density / density.sum() == pytest.approx(
        second_panel(study, 3.4, 3.0).otherwise, abs=1e-4
    )
    assert otherwise_given(study, 3.4, 3.0, 2.99) > otherwise_given(study, 3.4, 3.0, 2.0)


def test_more_assessors_and_practicals_in_words() -> None:
    before, after = (
        second_panel(decision_study(SCHOOL, counts), 3.4, 3.0)
        for counts in ({"r": 1, "t": 1}, {"r": 2, "t": 2})
    )
    words = falls_from(before, after)

    assert words.startswith("the chance that another panel would have decided otherwise falls from")
    assert f"{before.otherwise:.0%}"[:-1] in words
    assert f"{after.otherwise:.0%}"[:-1] in words
    assert falls_from(after, before).count("rises") == 1
    assert "stays at" in falls_from(after, after)


def test_the_cheapest_panel_that_is_sure_enough() -> None:
    choices = [{"r": r, "t": t} for r in (1, 2) for t in (1, 2, 3, 4)]
    found = least_counts(SCHOOL, choices, mean=3.4, cut=3.0, most_otherwise=0.25)

    assert found is not None
    before = choices[choices.index(found.counts) - 1]  # type: ignore[arg-type] # whole numbers
    assert second_panel(found, 3.4, 3.0).otherwise <= 0.25
    assert second_panel(decision_study(SCHOOL, before), 3.4, 3.0).otherwise > 0.25
    assert least_counts(SCHOOL, choices, mean=3.4, cut=3.0, most_otherwise=0.001) is None


@pytest.mark.parametrize(
    ("components", "counts", "fixed", "why"),
    [
        pytest.param({"r": 1.0}, {"r": 1}, "", "no component of persons", id="no persons"),
        pytest.param({"p": 1.0, "pr": 1.0}, {}, "", "how many of r is not said", id="no number"),
        pytest.param({"p": 1.0, "pr": 1.0}, {"r": 0}, "", "must be above 0", id="none of them"),
        pytest.param({"p": 1.0, "pr": 1.0}, {"r": 1}, "i", "none of the facets", id="no facet"),
    ],
)
def test_a_study_that_cannot_be_made_is_refused(
    components: dict[str, float], counts: dict[str, float], fixed: str, why: str
) -> None:
    with pytest.raises(Refused, match=why):
        decision_study(components, counts, fixed=fixed)


def test_no_variance_at_all_is_refused() -> None:
    study = decision_study({"p": 0.0, "r": 0.0, "pr": 0.0}, {"r": 1})

    with pytest.raises(Refused, match="every component is zero"):
        second_panel(study, 3.0, 3.0)


@pytest.mark.parametrize(
    ("parts", "weights", "why"),
    [
        pytest.param(
            [[[1, 2], [3, 5]], [[1, 2], [3, 5], [4, 4]]], None, "same persons", id="other"
        ),
        pytest.param([[[1, 2], [3, 5]], [[1, 2], [3, 5]]], [0.5, 0.6], "sum to 1.1", id="weights"),
    ],
)
def test_a_total_that_cannot_be_made_is_refused(
    parts: list[list[list[int]]], weights: list[float] | None, why: str
) -> None:
    with pytest.raises(Refused, match=why):
        composite(parts, weights)
