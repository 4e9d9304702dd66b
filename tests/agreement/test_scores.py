"""What ratings cannot support is refused, each with its reason."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from standfast.agreement.alpha import alpha_of_long, krippendorff_alpha
from standfast.agreement.coefficients import (
    brennan_prediger,
    cohen_kappa,
    conger_kappa,
    fleiss_kappa,
    gwet_ac,
    scott_pi,
)
from standfast.agreement.estimate import Estimate
from standfast.agreement.scores import Scores, scores_of, scores_of_counts
from standfast.agreement.tables import (
    fleiss_of_counts,
    kappa_of_each_pair,
    kappa_of_table,
    light_kappa,
    square_table,
)
from standfast.agreement.weights import own_weights, weights_for
from standfast.problems import Refused

NA = float("nan")
APART: list[list[float]] = [[1, NA], [NA, 2], [3, NA]]


def test_empty_rows_and_columns_do_not_count() -> None:
    scores = scores_of([[1, NA, 2], [NA, NA, NA], [2, NA, 2]])

    assert scores.codes.tolist() == [[0, 1], [1, 1]]
    assert scores.counts.tolist() == [[1, 1], [0, 2]]
    assert (scores.subjects.tolist(), scores.assessors.tolist()) == ([0, 2], [0, 2])


def test_a_pair_without_a_kappa_says_why_and_there_is_no_mean() -> None:
    scores = scores_of([[1, 1, NA, NA], [2, 2, NA, NA], [NA, 1, 1, NA], [NA, NA, NA, NA]])

    pairs = {(pair.first, pair.second): pair for pair in kappa_of_each_pair(scores)}

    assert pairs[0, 1].found is not None
    assert pairs[0, 1].found.kappa.value == 1.0
    assert pairs[0, 2].why == "the table is empty: the two scored no subject in common"
    assert pairs[1, 2].why.startswith("both assessors gave one and the same level")
    with pytest.raises(Refused, match="not every two assessors") as refusal:
        light_kappa(scores)
    assert len(refusal.value.reasons) == 2


def test_levels_that_nobody_gave_count_when_they_are_listed() -> None:
    seen, listed = scores_of([[1, 1], [2, 1]]), scores_of([[1, 1], [2, 1]], [1, 2, 3, 4])

    assert brennan_prediger(seen).value == pytest.approx(0.0)
    assert brennan_prediger(listed).value == pytest.approx((0.5 - 0.25) / 0.75)


def test_a_score_outside_the_list_is_refused_with_the_list() -> None:
    with pytest.raises(Refused, match=r"outside the list: 5, 7; the list is 1, 2, 3, 4"):
        scores_of([[5, 1], [7, 2]], [1, 2, 3, 4])


@pytest.mark.parametrize("take", [scores_of, krippendorff_alpha])
def test_nobody_scored_the_same_subject(take: Callable[[list[list[float]]], object]) -> None:
    with pytest.raises(Refused, match="no two assessors scored the same subject"):
        take(APART)


def test_nobody_scored_anything() -> None:
    with pytest.raises(Refused, match="no two assessors"):
        scores_of(np.full((3, 2), NA))
    with pytest.raises(Refused, match="no two assessors"):
        krippendorff_alpha(np.full((3, 2), NA))
    with pytest.raises(Refused, match="no two assessors"):
        alpha_of_long([], [])


@pytest.mark.parametrize("kappa", [cohen_kappa, scott_pi, fleiss_kappa, conger_kappa])
def test_no_variation_is_refused_with_what_is_needed(kappa: Callable[[Scores], Estimate]) -> None:
    with pytest.raises(Refused, match="every score is 3: without variation") as refusal:
        kappa(scores_of([[3, 3], [3, 3]], [1, 2, 3]))

    assert refusal.value.reasons == (
        "needed: practicals that differ, so that more than one level is given",
    )


def test_alpha_without_variation_among_what_can_be_compared_is_refused() -> None:
    with pytest.raises(Refused, match="every score that can be compared is 3"):
        krippendorff_alpha([[3.0, 3.0], [3.0, 3.0], [1.0, NA]])


def test_gwets_ac_needs_no_variation_but_a_list_of_levels() -> None:
    assert gwet_ac(scores_of([[3, 3], [3, 3]], [1, 2, 3])).value == pytest.approx(1.0)
    with pytest.raises(Refused, match="every score is 3"):
        gwet_ac(scores_of([[3, 3], [3, 3]]))


@pytest.mark.parametrize("kappa", [cohen_kappa, scott_pi])
def test_two_assessors_are_not_three(kappa: Callable[[Scores], Estimate]) -> None:
    with pytest.raises(Refused, match="two assessors are needed for this one, there are 3"):
        kappa(scores_of([[1, 2, 1], [2, 2, 1]]))
    with pytest.raises(Refused, match="there are 3"):
        square_table(scores_of([[1, 2, 1], [2, 2, 1]]))


def test_counts_do_not_say_whose_chance_it_is() -> None:
    counts = scores_of_counts([[2, 0], [1, 1], [0, 2]])

    assert fleiss_kappa(counts).value == pytest.approx(1 / 3)
    with pytest.raises(Refused, match="who gave which score is not known"):
        conger_kappa(counts)


@pytest.mark.parametrize(
    ("counts", "why"),
    [
        pytest.param([[1.5, 1]], "whole number", id="half an assessor"),
        pytest.param([[-1, 3]], "whole number", id="below nothing"),
        pytest.param([[1, 0], [0, 1]], "no two assessors", id="one score each"),
    ],
)
def test_counts_that_are_none_are_refused(counts: list[list[float]], why: str) -> None:
    with pytest.raises(Refused, match=why):
        scores_of_counts(counts)


def test_kappa_by_category_needs_equally_many_scores() -> None:
    with pytest.raises(Refused, match="same number of scores for every subject"):
        fleiss_of_counts([[2, 0], [1, 2], [0, 2]])


@pytest.mark.parametrize(
    ("table", "why"),
    [
        pytest.param([[1, 2, 3], [4, 5, 6]], "is square", id="not square"),
        pytest.param([[1, -2], [3, 4]], "at least 0", id="negative"),
        pytest.param([[1, NA], [3, 4]], "at least 0", id="a gap"),
        pytest.param([[0, 0], [0, 0]], "no subject in common", id="empty"),
        pytest.param([[7, 0], [0, 0]], "one and the same level throughout", id="no variation"),
    ],
)
def test_a_table_that_supports_no_kappa_is_refused(table: list[list[float]], why: str) -> None:
    with pytest.raises(Refused, match=why):
        kappa_of_table(table)


def test_a_score_is_finite_and_has_a_subject_and_an_assessor() -> None:
    with pytest.raises(Refused, match="infinite"):
        scores_of([[1, float("inf")]])
    with pytest.raises(Refused, match="a row for each subject"):
        scores_of([1, 2, 3])


def test_columns_need_a_subject_for_each_score() -> None:
    for subjects in ([0, 0, 1], [0, 0, -1, 1]):
        with pytest.raises(Refused, match="each score needs its subject"):
            alpha_of_long(subjects, [1, 2, 1, 1])


def test_alpha_knows_its_metrics_and_what_they_need() -> None:
    with pytest.raises(Refused, match="no metric 'cubic'; known: nominal, ordinal"):
        krippendorff_alpha([[1, 2], [2, 2]], "cubic")
    with pytest.raises(Refused, match="at least 0; there is -1"):
        krippendorff_alpha([[-1, 2], [2, 2]], "ratio")
    with pytest.raises(Refused, match="weights are for 3 values, given were 2"):
        krippendorff_alpha([[1, 2], [2, 2]], weights_for("linear", [1, 2, 3]))
    with pytest.raises(Refused, match="round the scores"):
        krippendorff_alpha(np.random.default_rng(1).random((1500, 2)))


def test_weights_must_fit_the_scores() -> None:
    scores = scores_of([[1, 2], [2, 2], [1, 1]])

    with pytest.raises(Refused, match="for 3 categories, the scores have 2"):
        gwet_ac(scores, weights_for("linear", [1, 2, 3]))
    with pytest.raises(Refused, match="who gave which score"):
        fleiss_kappa(scores, own_weights([[1.0, 0.5], [0.0, 1.0]]))


@pytest.mark.parametrize(
    ("matrix", "why"),
    [
        pytest.param([[1, 0, 0], [0, 1, 0]], "must be square", id="not square"),
        pytest.param([[1, -1], [0, 1]], "below 0", id="negative"),
        pytest.param([[0.9, 0], [0, 1]], "agree fully with itself", id="diagonal"),
        pytest.param([[1, 1.2], [0, 1]], "no pair more than fully", id="above one"),
    ],
)
def test_weights_of_ones_own_are_checked(matrix: list[list[float]], why: str) -> None:
    with pytest.raises(Refused, match=why):
        own_weights(matrix)


def test_weights_have_names_and_ratio_needs_positive_levels() -> None:
    with pytest.raises(Refused, match="no weights 'cubic'; known: identity, linear"):
        weights_for("cubic", [1, 2])
    with pytest.raises(Refused, match="values above 0; there is 0"):
        weights_for("ratio", [0, 1, 2])
