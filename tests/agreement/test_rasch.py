"""Many-facet Rasch fits: what was put in comes out, and names or directions change nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.agreement.made_scores import draw, off

from standfast.agreement.rasch.conditional import fit_conditional
from standfast.agreement.rasch.fitted import Fitted
from standfast.agreement.rasch.joint import fit_joint
from standfast.agreement.rasch.marginal import fit_marginal
from standfast.agreement.rasch.scores import Scored

Fitter = Callable[..., Fitted]
FITS = [
    pytest.param(fit_marginal, id="marginal"),
    pytest.param(fit_conditional, id="conditional"),
    pytest.param(fit_joint, id="joint"),
]
SEEDS = st.integers(0, 10_000)


def small(seed: int, top: int = 2) -> Scored:
    return draw(seed, persons=60, assessors=3, criteria=4, top=top, each=2)[1]


@pytest.mark.parametrize("fit", FITS)
@pytest.mark.parametrize("top", [1, 3], ids=["yes or no", "0 to 3"])
def test_what_was_put_in_comes_out_of_an_incomplete_design(fit: Fitter, top: int) -> None:
    truth, scores = draw(20261125, persons=600, assessors=6, criteria=8, top=top, each=2)
    found = fit(scores)

    # Off by about what the errors say; joint estimates are also stretched by about 1/16.
    stretch = 1.07 if fit is fit_joint else 1.0
    assert off(found.assessors.measure / stretch, truth.severity) < 1.5 * found.assessors.se.max()
    assert off(found.criteria.measure / stretch, truth.difficulty) < 1.5 * found.criteria.se.max()
    assert off(found.thresholds[0] / stretch, truth.thresholds[0]) < (
        0.09 if fit is fit_joint else 0.06
    )
    assert found.assessors.se.max() < 0.09
    assert found.persons.measure.shape == truth.ability.shape
    assert np.corrcoef(found.persons.measure, truth.ability)[0, 1] > 0.85


@pytest.mark.parametrize("fit", FITS)
def test_each_criterion_can_have_its_own_thresholds(fit: Fitter) -> None:
    truth, scores = draw(
        7, persons=900, assessors=4, criteria=5, top=3, each=2, own_thresholds=True
    )
    found = fit(scores, thresholds="own")

    assert found.thresholds.shape == truth.thresholds.shape
    assert off(found.thresholds / (1.1 if fit is fit_joint else 1), truth.thresholds) < 0.12
    assert off(found.assessors.measure, truth.severity) < 0.1


@pytest.mark.parametrize("fit", FITS)
def test_yes_or_no_may_stand_beside_levels_when_thresholds_are_own(fit: Fitter) -> None:
    scores = small(3, top=3)
    coarse = scores.criterion == 0
    found = fit(
        replace(scores, score=np.where(coarse, scores.score >= 2, scores.score)), thresholds="own"
    )

    assert np.isfinite(found.thresholds).sum(axis=1).tolist() == [1, 3, 3, 3]
    assert found.fair.max() < (1 + 3 * 3) / 4


@pytest.mark.slow
def test_a_federation_is_measured_without_a_shift() -> None:
    truth, scores = draw(5, persons=3_000, assessors=20, criteria=12, top=4, each=3)
    found = fit_marginal(scores)

    assert off(found.assessors.measure, truth.severity) < 0.03
    assert off(found.criteria.measure, truth.difficulty) < 0.015
    assert off(found.thresholds[0], truth.thresholds[0]) < 0.02
    assert abs((found.criteria.measure - truth.difficulty).mean()) < 1e-9


def test_errors_are_as_large_as_figures_scatter() -> None:
    found = [
        (fit_marginal(scores), truth)
        for truth, scores in (
            draw(seed, persons=150, assessors=4, criteria=5, top=2, each=2) for seed in range(40)
        )
    ]
    strayed = [(one.assessors.measure - truth.severity) / one.assessors.se for one, truth in found]

    assert np.sqrt(np.mean(np.square(strayed))) == pytest.approx(1, abs=0.15)


@pytest.mark.parametrize("fit", FITS)
def test_mean_squares_are_near_one_when_the_model_holds(fit: Fitter) -> None:
    _, scores = draw(11, persons=800, assessors=5, criteria=8, top=3, each=2)
    found = fit(scores)

    assert found.assessors.infit == pytest.approx(np.ones(5), abs=0.12)
    assert found.criteria.outfit == pytest.approx(np.ones(8), abs=0.15)


def test_an_assessor_who_throws_dice_stands_out_by_outfit() -> None:
    _, scores = draw(12, persons=400, assessors=5, criteria=6, top=3, each=3)
    dice = np.random.default_rng(1).integers(0, 4, len(scores.score))
    mixed = replace(scores, score=np.where(scores.assessor == 2, dice, scores.score))
    found = fit_marginal(mixed)

    assert found.assessors.outfit.argmax() == 2
    assert found.assessors.outfit_z[2] > 5
    assert np.delete(found.assessors.outfit_z, 2).max() < 2


# --- what must change nothing -----------------------------------------------------------------


@pytest.mark.parametrize("fit", FITS)
@settings(max_examples=6)
@given(seed=SEEDS, turn=st.randoms(use_true_random=False))
def test_other_codes_and_another_order_change_no_figure(
    fit: Fitter, seed: int, turn: object
) -> None:
    scores = small(seed)
    random = np.random.default_rng(seed)
    people, staff = random.permutation(60) * 3 + 7, random.permutation(3)
    order = random.permutation(len(scores.score))
    other = Scored(
        people[scores.person][order],
        staff[scores.assessor][order],
        scores.criterion[order],
        scores.score[order],
    )
    before, after = fit(scores), fit(other)

    assert after.assessors.measure[staff] == pytest.approx(before.assessors.measure, abs=1e-5)
    assert after.assessors.se[staff] == pytest.approx(before.assessors.se, abs=1e-4)
    assert after.loglik == pytest.approx(before.loglik, abs=1e-5)
    at = np.searchsorted(after.persons.codes, people)
    assert after.fair[at] == pytest.approx(before.fair, abs=1e-5)


@pytest.mark.parametrize("fit", FITS)
@settings(max_examples=6)
@given(seed=SEEDS, lift=st.integers(-3, 5))
def test_a_scale_that_starts_elsewhere_moves_only_the_fair_scores(
    fit: Fitter, seed: int, lift: int
) -> None:
    scores = small(seed)
    before, after = fit(scores), fit(replace(scores, score=scores.score + lift))

    assert after.assessors.measure == pytest.approx(before.assessors.measure, abs=1e-9)
    assert after.fair == pytest.approx(before.fair + lift, abs=1e-9)


@pytest.mark.parametrize("fit", FITS)
@settings(max_examples=6)
@given(seed=SEEDS)
def test_scores_counted_from_the_other_end_turn_every_sign(fit: Fitter, seed: int) -> None:
    scores = small(seed, top=2)
    before, after = fit(scores), fit(replace(scores, score=2 - scores.score))

    assert after.assessors.measure == pytest.approx(-before.assessors.measure, abs=1e-5)
    assert after.criteria.measure == pytest.approx(-before.criteria.measure, abs=1e-5)
    assert after.thresholds[0][::-1] == pytest.approx(-before.thresholds[0], abs=1e-5)
    assert after.persons.measure == pytest.approx(-before.persons.measure, abs=1e-5)
    assert after.fair == pytest.approx(2 - before.fair, abs=1e-5)
    assert after.loglik == pytest.approx(before.loglik, abs=1e-5)


@pytest.mark.parametrize("fit", FITS)
@settings(max_examples=6)
@given(seed=SEEDS)
def test_severities_difficulties_and_thresholds_sum_to_zero(fit: Fitter, seed: int) -> None:
    found = fit(small(seed))

    for figures in (found.assessors.measure, found.criteria.measure, found.thresholds[0]):
        assert figures.sum() == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("fit", FITS)
def test_common_and_own_thresholds_are_the_same_model_for_yes_or_no(fit: Fitter) -> None:
    scores = small(8, top=1)
    common, own = fit(scores), fit(scores, thresholds="own")

    assert own.loglik == pytest.approx(common.loglik, abs=1e-8)
    assert own.assessors.measure == pytest.approx(common.assessors.measure, abs=1e-6)


# --- fair scores ------------------------------------------------------------------------------


@pytest.mark.parametrize("fit", FITS)
def test_who_met_a_severe_assessor_is_not_worse_off(fit: Fitter) -> None:
    _, scores = draw(4, persons=200, assessors=2, criteria=6, top=3, each=2)
    # Two more people with the same scores: one from each assessor alone.
    found = fit(scores)
    severe = int(found.assessors.measure.argmax())
    extra = np.array([0, 1, 2, 1, 2, 1])
    both = Scored(
        np.concatenate((scores.person, np.repeat([900, 901], 6))),
        np.concatenate((scores.assessor, np.repeat([severe, 1 - severe], 6))),
        np.concatenate((scores.criterion, np.tile(np.arange(6), 2))),
        np.concatenate((scores.score, extra, extra)),
    )
    fair = fit(both)

    assert fair.fair[-2] > fair.fair[-1]
    assert (fair.fair_low <= fair.fair).all()
    assert (fair.fair <= fair.fair_high).all()
    assert fair.fair_low.min() >= 0
    assert fair.fair_high.max() <= 3


def test_a_fair_score_lies_between_what_mild_and_severe_assessors_gave() -> None:
    _, scores = draw(4, persons=300, assessors=3, criteria=8, top=3, each=3)
    found = fit_joint(scores)
    given = np.bincount(scores.person, weights=scores.score) / np.bincount(scores.person)
    within = ~np.isin(found.persons.codes, found.extreme)

    # All assessors scored all persons, so that the fair score is about the mean score.
    assert found.fair[within] == pytest.approx(given[within], abs=0.06)
