"""Laws that coefficients keep; `test_against_libraries.py` holds them to other libraries."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from standfast.agreement.alpha import METRICS, alpha_of_long, krippendorff_alpha
from standfast.agreement.coefficients import (
    brennan_prediger,
    cohen_kappa,
    conger_kappa,
    fleiss_kappa,
    gwet_ac,
    percent_agreement,
    scott_pi,
)
from standfast.agreement.estimate import Estimate
from standfast.agreement.scores import Scores, ratings_of_table, scores_of
from standfast.agreement.tables import kappa_of_table, square_table
from standfast.agreement.weights import KINDS, Weights, weights_for

Floats = NDArray[np.float64]
LEVELS = [1, 2, 3, 4]
MANY: list[Callable[[Scores, Weights], Estimate]] = [
    percent_agreement,
    fleiss_kappa,
    conger_kappa,
    brennan_prediger,
    gwet_ac,
]
levels_or_gaps = st.sampled_from([1.0, 2.0, 3.0, 4.0, float("nan")])


@st.composite
def ratings(draw: st.DrawFn, assessors: int | None = None) -> Floats:
    """Ratings with gaps, of which one subject has all scores and they differ."""
    r = assessors or draw(st.integers(2, 5))
    n = draw(st.integers(2, 12))
    table: Floats = draw(arrays(np.float64, (n, r), elements=levels_or_gaps))
    table[0] = [1.0, *[2.0] * (r - 1)]
    return table


@st.composite
def tables(draw: st.DrawFn) -> NDArray[np.int64]:
    size = draw(st.integers(2, 5))
    cells = draw(arrays(np.int64, (size, size), elements=st.integers(0, 20)))
    assume((cells.sum(axis=0) > 0).sum() > 1)
    assume((cells.sum(axis=1) > 0).sum() > 1)
    return cells


@given(ratings(), st.sampled_from(sorted(KINDS)))
def test_no_coefficient_depends_on_the_order_of_assessors_or_subjects(
    table: Floats, kind: str
) -> None:
    order = np.random.default_rng(table.size)
    other = table[order.permutation(len(table))][:, order.permutation(table.shape[1])]
    weights = weights_for(kind, LEVELS)

    for figure in MANY:
        one, two = (figure(scores_of(each, LEVELS), weights) for each in (table, other))
        assert one.value == pytest.approx(two.value, abs=1e-12)
        assert one.se == pytest.approx(two.se, abs=1e-9)


@given(ratings(), st.sampled_from(sorted(METRICS)))
def test_alpha_does_not_depend_on_the_order_of_assessors_or_subjects(
    table: Floats, metric: str
) -> None:
    order = np.random.default_rng(table.size)
    shuffled = order.permuted(table, axis=1)[order.permutation(len(table))]

    one, two = krippendorff_alpha(table, metric), krippendorff_alpha(shuffled, metric)

    assert one.value == pytest.approx(two.value, abs=1e-12)


@given(ratings(), st.sampled_from(sorted(METRICS)))
def test_alpha_of_columns_is_that_of_the_rectangle(table: Floats, metric: str) -> None:
    subject, _ = np.indices(table.shape)

    found = alpha_of_long(subject.ravel(), table.ravel(), metric)

    assert found.value == pytest.approx(krippendorff_alpha(table, metric).value, abs=1e-12)
    assert found.se == pytest.approx(krippendorff_alpha(table, metric).se, abs=1e-9)


@given(ratings(), st.floats(0.1, 50.0), st.floats(-20.0, 20.0))
def test_interval_alpha_does_not_depend_on_unit_or_zero(
    table: Floats, unit: float, zero: float
) -> None:
    one = krippendorff_alpha(table, "interval").value
    two = krippendorff_alpha(table * unit + zero, "interval").value

    assert one == pytest.approx(two, abs=1e-7)


@given(ratings(), st.floats(0.1, 50.0))
def test_ratio_alpha_does_not_depend_on_unit(table: Floats, unit: float) -> None:
    one = krippendorff_alpha(table, "ratio").value

    assert one == pytest.approx(krippendorff_alpha(table * unit, "ratio").value, abs=1e-9)


@given(ratings())
def test_nominal_and_ordinal_alpha_ask_only_for_names_and_order(table: Floats) -> None:
    renamed = np.choose(np.nan_to_num(table, nan=0).astype(int), [np.nan, -7.0, 0.5, 0.6, 900.0])

    for metric in ("nominal", "ordinal"):
        one = krippendorff_alpha(table, metric).value
        assert one == pytest.approx(krippendorff_alpha(renamed, metric).value, abs=1e-12)


@given(ratings(), st.floats(0.1, 50.0), st.floats(-20.0, 20.0))
def test_linear_and_quadratic_weights_do_not_depend_on_unit_or_zero(
    table: Floats, unit: float, zero: float
) -> None:
    for kind in ("linear", "quadratic", "radical"):
        moved = [level * unit + zero for level in LEVELS]
        one, two = weights_for(kind, LEVELS), weights_for(kind, moved)
        assert one.matrix == pytest.approx(two.matrix, abs=1e-6)


@given(ratings())
def test_identity_weights_are_no_weights(table: Floats) -> None:
    scores = scores_of(table, LEVELS)
    same = weights_for("identity", LEVELS)

    for plain in (percent_agreement, fleiss_kappa, conger_kappa, brennan_prediger, gwet_ac):
        assert plain(scores) == plain(scores, same)


@settings(max_examples=25)
@given(arrays(np.float64, 9, elements=st.sampled_from([1.0, 2.0, 3.0, 4.0])), st.integers(2, 4))
def test_identical_columns_agree_perfectly(column: Floats, assessors: int) -> None:
    column[:2] = [1.0, 4.0]
    table = np.repeat(column[:, None], assessors, axis=1)

    for kind in KINDS:
        for figure in MANY:
            found = figure(scores_of(table, LEVELS), weights_for(kind, LEVELS))
            assert found.value == pytest.approx(1.0)
            assert found.se == pytest.approx(0.0, abs=1e-12)
    for metric in METRICS:
        assert krippendorff_alpha(table, metric).value == pytest.approx(1.0)


@given(ratings(assessors=2))
def test_pairs_and_many_meet_at_two_assessors(table: Floats) -> None:
    scores = scores_of(table[~np.isnan(table).any(axis=1)], LEVELS)

    assert cohen_kappa(scores).value == pytest.approx(conger_kappa(scores).value)
    assert scott_pi(scores).value == pytest.approx(fleiss_kappa(scores).value)
    assert cohen_kappa(scores).value == pytest.approx(
        kappa_of_table(square_table(scores)).kappa.value
    )


@given(tables())
def test_the_two_errors_of_kappa_differ_only_by_n_minus_one(cells: NDArray[np.int64]) -> None:
    """Linearised per subject and large sample are one variance, over n - 1 and over n."""
    n = int(cells.sum())
    linearised = cohen_kappa(scores_of(ratings_of_table(cells), list(range(len(cells)))))
    large = kappa_of_table(cells).kappa

    assert linearised.se is not None
    assert large.se is not None
    assert linearised.se * np.sqrt((n - 1) / n) == pytest.approx(large.se, abs=1e-6)


def test_one_subject_gives_a_figure_without_an_error() -> None:
    found = gwet_ac(scores_of([[1, 2, 2]]))

    assert (found.n, found.se, found.low) == (1, None, None)
    assert found.method == "no error from one subject"


def test_the_ordinal_metric_says_that_it_has_no_formula_for_its_error() -> None:
    found = krippendorff_alpha([[1, 2], [2, 2], [3, 3]], "ordinal")

    assert found.se is None
    assert "bootstrap" in found.method
