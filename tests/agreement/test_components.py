"""Laws of variance components, their recovery, and a second library's answer."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from standfast.agreement.components import (
    Components,
    balanced_components,
    effects_of,
    henderson_components,
)
from standfast.agreement.reml import reml_components
from standfast.problems import Refused

SEED = 20261125
Array = np.ndarray
CUBES = arrays(np.float64, st.tuples(*[st.integers(2, 5)] * 3), elements=st.integers(0, 9)).filter(
    lambda x: np.ptp(x) > 0
)


def simulated(rng: np.random.Generator, sizes: dict[str, int], truth: dict[str, float]) -> Array:
    """A complete design with normal effects of these variances."""
    facets = "".join(sizes)
    x = np.zeros(tuple(sizes.values()))
    for effect, variance in truth.items():
        shape = tuple(sizes[facet] if facet in effect else 1 for facet in facets)
        x = x + rng.normal(scale=np.sqrt(variance), size=shape)
    return x


def long(x: Array, facets: str) -> tuple[dict[str, Array], Array]:
    """The same scores as lists."""
    return dict(zip(facets, np.indices(x.shape).reshape(x.ndim, -1), strict=True)), x.ravel()


@given(CUBES)
def test_squares_and_degrees_of_freedom_add_up_to_the_whole(x: Array) -> None:
    for nested in ({}, {"r": "t"}):
        found = balanced_components(x, "prt", nested)

        assert sum(found.df.values()) == x.size - 1
        squares = sum(found.df[effect] * found.mean_squares[effect] for effect in found.df)
        assert squares == pytest.approx(((x - x.mean()) ** 2).sum(), rel=1e-9)


@given(CUBES, st.floats(0.1, 10), st.floats(-100, 100))
def test_components_follow_the_square_of_the_scale_and_no_shift(
    x: Array, scale: float, shift: float
) -> None:
    before = balanced_components(x, "pri").as_estimated
    after = balanced_components(x * scale + shift, "pri").as_estimated

    assert after == pytest.approx(
        {effect: value * scale**2 for effect, value in before.items()}, rel=1e-6, abs=1e-7
    )


@settings(deadline=None, max_examples=40)
@given(CUBES)
def test_hendersons_method_on_a_complete_design_is_the_analysis_of_variance(x: Array) -> None:
    for nested in ({}, {"r": "t"}):
        codes, scores = long(x, "prt")
        found = henderson_components(codes, scores, nested)

        expected = balanced_components(x, "prt", nested).as_estimated
        assert found.as_estimated == pytest.approx(expected, rel=1e-6, abs=1e-8)


@pytest.mark.parametrize("seed", range(4))
def test_reml_on_a_complete_design_without_negatives_is_the_analysis_of_variance(
    seed: int,
) -> None:
    rng = np.random.default_rng(SEED + seed)
    while True:
        x = simulated(
            rng, {"p": 14, "r": 5, "t": 4}, {"p": 1, "r": 0.5, "t": 0.4, "pr": 0.6, "prt": 0.5}
        )
        plain = balanced_components(x, "prt")
        if not plain.set_to_zero:
            break
    codes, scores = long(x, "prt")
    found = reml_components(codes, scores)

    assert found.converged
    assert found.as_estimated == pytest.approx(plain.as_estimated, rel=1e-5)


def with_holes(rng: np.random.Generator) -> tuple[dict[str, Array], Array]:
    codes, scores = long(simulated(rng, {"p": 40, "r": 6}, {"p": 1.0, "r": 0.4, "pr": 0.6}), "pr")
    kept = rng.random(scores.size) < 0.55
    return {facet: code[kept] for facet, code in codes.items()}, scores[kept]


def test_one_random_effect_with_unequal_numbers_agrees_with_statsmodels() -> None:
    from statsmodels.regression.mixed_linear_model import MixedLM

    codes, scores = with_holes(np.random.default_rng(SEED))
    ours = reml_components({"i": codes["r"], "p": codes["p"]}, scores, {"i": "p"})
    theirs = MixedLM(scores, np.ones((scores.size, 1)), codes["p"]).fit(reml=True)

    assert ours.converged
    assert ours.as_estimated["p"] == pytest.approx(float(theirs.cov_re[0, 0]), rel=1e-4)
    assert ours.as_estimated["ip"] == pytest.approx(float(theirs.scale), rel=1e-4)
    assert ours.mean == pytest.approx(float(theirs.fe_params[0]), rel=1e-5)


def test_crossed_effects_with_holes_agree_with_statsmodels() -> None:
    from statsmodels.regression.mixed_linear_model import MixedLM, VCSpec

    codes, scores = with_holes(np.random.default_rng(SEED))
    ours = reml_components(codes, scores)
    designs = [(code[:, None] == np.unique(code)[None, :]).astype(float) for code in codes.values()]
    names = [[[str(column) for column in range(design.shape[1])]] for design in designs]
    theirs = MixedLM(
        scores,
        np.ones((scores.size, 1)),
        np.zeros(scores.size),
        exog_vc=VCSpec(["p", "r"], names, [[design] for design in designs]),
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # one group, and it says so
        fit = theirs.fit(reml=True)

    assert ours.converged
    found = [ours.as_estimated["p"], ours.as_estimated["r"], ours.as_estimated["pr"]]
    assert found == pytest.approx([*map(float, fit.vcomp), float(fit.scale)], rel=2e-3)


TRUTH = {"p": 1.0, "r": 0.3, "pr": 0.5}


def errors(method: str, rounds: int, sizes: dict[str, int]) -> dict[str, float]:
    """The root mean square error of each component over simulated designs, half of it missing."""
    rng = np.random.default_rng(SEED)
    squares = dict.fromkeys(TRUTH, 0.0)
    for _ in range(rounds):
        x = simulated(rng, sizes, TRUTH)
        codes, scores = long(x, "pr")
        kept = rng.random(scores.size) < 0.5
        held = {facet: code[kept] for facet, code in codes.items()}
        found = recovered(method, x, held, scores[kept]).as_estimated
        for effect, truth in TRUTH.items():
            squares[effect] += (found[effect] - truth) ** 2 / rounds
    return {effect: float(np.sqrt(value)) for effect, value in squares.items()}


def recovered(method: str, x: Array, codes: dict[str, Array], scores: Array) -> Components:
    if method == "ANOVA":
        return balanced_components(x, "pr")
    if method == "Henderson 1":
        return henderson_components(codes, scores)
    return reml_components(codes, scores)


@pytest.mark.parametrize("method", ["ANOVA", "Henderson 1", "REML"])
def test_known_components_are_recovered(method: str) -> None:
    found = errors(method, 20, {"p": 60, "r": 12})

    # A variance of 59 and 11 degrees of freedom cannot be known better than sqrt(2 / df):
    assert found["p"] < 1.35 * 1.15 * np.sqrt(2 / 59)
    assert found["r"] < 1.6 * 0.35 * np.sqrt(2 / 11)
    assert found["pr"] < 0.06


@pytest.mark.slow
def test_reml_errs_no_more_than_moments_on_incomplete_designs_over_many_rounds() -> None:
    sizes = {"p": 120, "r": 15}
    likely, moments = errors("REML", 60, sizes), errors("Henderson 1", 60, sizes)

    for effect in TRUTH:
        assert likely[effect] < 1.05 * moments[effect]


@pytest.mark.parametrize(
    ("scores", "facets", "why"),
    [
        pytest.param([[1, 2, 3]], "pr", "'p' has only one level", id="one person"),
        pytest.param([[1], [2]], "pr", "'r' has only one level", id="one rater"),
        pytest.param([[2, 2], [2, 2]], "pr", "every score is 2", id="all the same"),
        pytest.param([[2, np.nan], [2, 1]], "pr", "1 of 4 scores are missing", id="a gap"),
        pytest.param([[2, 3], [2, 1]], "pri", "2 axes, and there are 3 facets", id="an axis less"),
        pytest.param([[2, 3], [2, 1]], "pp", "a letter of its own", id="a letter twice"),
    ],
)
def test_what_a_complete_design_cannot_support_is_refused(
    scores: object, facets: str, why: str
) -> None:
    with pytest.raises(Refused, match=why):
        balanced_components(scores, facets)  # type: ignore[arg-type] # lists of any depth


@pytest.mark.parametrize("method", [henderson_components, reml_components])
@pytest.mark.parametrize(
    ("codes", "scores", "why"),
    [
        pytest.param({"p": [0, 0], "r": [0, 1]}, [1, 2], "'p' has only one", id="one person"),
        pytest.param({"p": [0, 1], "r": [0, 0]}, [1, 2], "'r' has only one", id="one rater"),
        pytest.param({"p": [0, 0, 1], "r": [0, 1, 0]}, [3, 3, 3], "every score is 3", id="same"),
        pytest.param({"p": [0, 1], "r": [0, 1]}, [1, 2], "no two scores share", id="a score each"),
        pytest.param({"p": [0, 1], "r": [0, 1, 1]}, [1, 2], "equally long", id="lengths"),
        pytest.param({"p": [0, 1], "r": [0, 1]}, [1, np.nan], "missing", id="a gap"),
    ],
)
def test_what_an_incomplete_design_cannot_support_is_refused(
    method: object, codes: dict[str, list[int]], scores: list[float], why: str
) -> None:
    with pytest.raises(Refused, match=why):
        method(codes, scores)  # type: ignore[operator] # either of two functions


def test_a_rater_for_every_person_of_her_own_cannot_be_told_from_the_person() -> None:
    codes = {"p": [0, 0, 1, 1, 2, 2], "r": [0, 0, 1, 1, 2, 2]}

    with pytest.raises(Refused, match="cannot tell p, r, pr apart"):
        henderson_components(codes, [1, 2, 4, 3, 6, 6])


def test_scores_without_anything_left_over_are_refused_by_likelihood_and_not_by_squares() -> None:
    x = np.add.outer([0.0, 1.0, 3.0, 4.5], [0.0, 0.5, 2.0])

    assert balanced_components(x, "pr").as_estimated["pr"] == pytest.approx(0, abs=1e-12)
    with pytest.raises(Refused, match="leave nothing over"):
        reml_components(*long(x, "pr"))


def test_a_fit_cut_short_says_so() -> None:
    rng = np.random.default_rng(SEED)
    x = simulated(rng, {"p": 8, "r": 4, "i": 3}, {"p": 9.0, "pi": 4.0, "pri": 0.01})
    found = reml_components(*long(x, "pri"), most_steps=1)

    assert not found.converged
    assert "did not converge" in found.note
    assert found.note in found.said


@pytest.mark.parametrize(
    ("facets", "nested", "effects"),
    [
        pytest.param("pr", {}, ("p", "r", "pr"), id="crossed"),
        pytest.param("ip", {"i": "p"}, ("p", "ip"), id="items within persons"),
        pytest.param("prt", {"r": "t"}, ("p", "t", "pt", "rt", "prt"), id="raters within tasks"),
        pytest.param("pri", {}, ("p", "r", "i", "pr", "pi", "ri", "pri"), id="three crossed"),
    ],
)
def test_the_effects_of_a_design(
    facets: str, nested: dict[str, str], effects: tuple[str, ...]
) -> None:
    assert effects_of(facets, nested) == effects


@pytest.mark.parametrize(
    ("nested", "why"),
    [
        pytest.param({"x": "p"}, "both must be among", id="no such facet"),
        pytest.param({"r": "r"}, "both must be among", id="in itself"),
        pytest.param({"i": "r", "r": "p"}, "one level of nesting", id="twice"),
    ],
)
def test_a_nesting_that_is_not_understood_is_refused(nested: dict[str, str], why: str) -> None:
    with pytest.raises(Refused, match=why):
        effects_of("pri", nested)
