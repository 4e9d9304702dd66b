"""The restricted likelihood beside the plain one on dense matrices, and its slopes."""

from __future__ import annotations

from math import log, pi

import numpy as np
import pytest

from standfast.agreement import reml
from standfast.agreement.blocks import Likelihood, cheapest_split
from standfast.agreement.components import henderson_components, long_form
from standfast.agreement.reml import reml_components, reml_work
from standfast.problems import Refused

Array = np.ndarray


def incomplete(
    persons: int, assessors: int, criteria: int, each: int, seed: int = 5
) -> tuple[dict[str, Array], Array]:
    """Each person seen by some assessors, a tenth of the marks missing."""
    rng = np.random.default_rng(seed)
    who = [rng.choice(assessors, each, replace=False) for _ in range(persons)]
    p = np.repeat(np.arange(persons), each * criteria)
    r = np.repeat(np.concatenate(who), criteria)
    i = np.tile(np.arange(criteria), persons * each)
    x = rng.normal(0, 1.0, persons)[p] + rng.normal(0, 0.6, assessors)[r]
    x += rng.normal(0, 0.5, criteria)[i] + rng.normal(0, 0.5, (persons, assessors))[p, r]
    x += rng.normal(0, 0.7, (persons, criteria))[p, i] + rng.normal(0, 0.4, x.size)
    kept = rng.random(x.size) < 0.9
    return {"p": p[kept], "r": r[kept], "i": i[kept]}, x[kept]


def plain_deviance(x: Array, cells: list[Array], ratios: Array) -> float:
    """Minus twice the restricted log likelihood, from its definition."""
    v = np.eye(x.size)
    for cell, ratio in zip(cells, ratios, strict=True):
        v += ratio**2 * (cell[:, None] == cell[None, :])
    inverse, ones = np.linalg.inv(v), np.ones(x.size)
    of_mean = ones @ inverse @ ones
    off = x - ones @ inverse @ x / of_mean
    free = x.size - 1
    left = off @ inverse @ off
    return float(np.linalg.slogdet(v)[1] + log(of_mean) + free * (1 + log(2 * pi * left / free)))


@pytest.mark.parametrize(
    ("nested", "without"),
    [
        pytest.param({}, (), id="crossed"),
        pytest.param({}, ("ri", "pi"), id="some effects left out"),
        pytest.param({"i": "p"}, (), id="nested"),
    ],
)
def test_it_is_the_likelihood_of_the_definition_with_its_slopes(
    nested: dict[str, str], without: tuple[str, ...]
) -> None:
    codes, scores = incomplete(9, 4, 5, 3)
    x, cells, _ = long_form(codes, scores - scores.mean(), nested, without)
    asked = dict(list(cells.items())[:-1])
    fit = Likelihood.of(x, asked, cheapest_split(asked))
    ratios = np.linspace(0.3, 1.2, len(asked))
    value, slopes = fit.with_slopes(ratios)
    step = 1e-5 * np.eye(ratios.size)

    assert value == pytest.approx(plain_deviance(x, list(asked.values()), ratios), rel=1e-10)
    for row, slope in enumerate(slopes):
        up, down = (
            plain_deviance(x, list(asked.values()), ratios + sign * step[row]) for sign in (1, -1)
        )
        assert slope == pytest.approx((up - down) / 2e-5, rel=1e-5, abs=1e-4)


def test_two_thousand_scores_with_six_effects_take_few_looks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    codes, scores = incomplete(100, 6, 11, 2)
    looks: list[int] = []
    plain = Likelihood._at

    def counted(self: Likelihood, ratios: Array) -> object:
        looks.append(1)
        return plain(self, ratios)

    monkeypatch.setattr(Likelihood, "_at", counted)
    found = reml_components(codes, scores)

    assert found.converged
    assert len(looks) < 150
    assert reml_work(codes, scores) * len(looks) < 1e10  # a few seconds of plain arithmetic


def test_known_components_come_back() -> None:
    """Root mean square error over books, in standard deviations of the effects."""
    truth = {"p": 1.0, "r": 0.36, "i": 0.25, "pr": 0.25, "pi": 0.49, "pri": 0.16}
    off = []
    for seed in range(6):
        found = reml_components(*incomplete(120, 12, 8, 2, seed), without=("ri",))
        assert found.converged
        off.append([found.as_estimated[e] ** 0.5 - v**0.5 for e, v in truth.items()])
    rmse = dict(zip(truth, np.sqrt(np.mean(np.square(off), axis=0)), strict=True))

    assert rmse["p"] < 0.12  # of 120 persons: sampling alone gives about 0.065
    assert max(rmse[effect] for effect in ("pr", "pi", "pri")) < 0.06
    assert max(rmse["r"], rmse["i"]) < 0.25  # of 12 assessors and 8 criteria


def test_an_effect_left_out_goes_to_those_that_hold_it() -> None:
    codes, scores = incomplete(60, 6, 6, 3)
    for method in (reml_components, henderson_components):
        every, fewer = method(codes, scores), method(codes, scores, without=("pi", "ri"))

        assert "pi" not in fewer.as_estimated
        assert fewer.as_estimated["pri"] > every.as_estimated["pri"] + 0.2


def test_what_cannot_be_held_is_refused_with_what_to_use(monkeypatch: pytest.MonkeyPatch) -> None:
    codes, scores = incomplete(20, 4, 5, 2)
    monkeypatch.setattr(reml, "MOST_CELLS", 1_000)

    assert reml_work(codes, scores) == float("inf")
    with pytest.raises(Refused, match="use the method of moments"):
        reml_components(codes, scores)
