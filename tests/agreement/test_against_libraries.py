"""Our figures beside those of other people's libraries, over random tables with gaps.

krippendorff 0.9, statsmodels 0.15, scikit-learn 1.9 and pingouin 0.7, each written by others from
the same papers.  Where a library has no figure for a table, that table is left out by `assume`.
"""

from __future__ import annotations

import warnings
from typing import Literal, get_args

import krippendorff
import numpy as np
import pandas as pd
import pingouin
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats.inter_rater import aggregate_raters, cohens_kappa
from statsmodels.stats.inter_rater import fleiss_kappa as fleiss_elsewhere
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

from standfast.agreement.alpha import alpha_of_long, krippendorff_alpha
from standfast.agreement.chance import adjusted
from standfast.agreement.coefficients import brennan_prediger, cohen_kappa, fleiss_kappa
from standfast.agreement.icc import (
    IntraclassCorrelation,
    icc_unbalanced,
    intraclass_correlations,
)
from standfast.agreement.percent import wilson
from standfast.agreement.scores import ratings_of_table, scores_of
from standfast.agreement.squares import mean_squares
from standfast.agreement.tables import kappa_of_table, square_table
from standfast.agreement.weights import weights_for

Floats = NDArray[np.float64]
Cells = NDArray[np.int64]
Metric = Literal["nominal", "ordinal", "interval", "ratio"]
Kind = Literal["linear", "quadratic"]

LEVELS = [1.0, 2.0, 3.0, 4.0]
METRICS: tuple[Metric, ...] = get_args(Metric)
KINDS: list[Kind | None] = [None, "linear", "quadratic"]
GAP = float("nan")
FAR_BELOW = -1_000  # near minus infinity digits are lost; past it pingouin says 10, which is none


@st.composite
def square_tables(draw: st.DrawFn) -> Cells:
    """Counts of two assessors who each gave at least two levels."""
    size = draw(st.integers(2, 5))
    cells = draw(arrays(np.int64, (size, size), elements=st.integers(0, 20)))
    assume((cells.sum(axis=0) > 0).sum() > 1)
    assume((cells.sum(axis=1) > 0).sum() > 1)
    return cells


@st.composite
def with_gaps(draw: st.DrawFn, levels: tuple[float, ...]) -> Floats:
    """Ratings with gaps, of which one subject has all scores and they differ."""
    size = draw(st.tuples(st.integers(2, 12), st.integers(2, 6)))
    table: Floats = draw(arrays(np.float64, size, elements=st.sampled_from([*levels, GAP])))
    table[0] = [levels[0], *[levels[1]] * (size[1] - 1)]
    return table


def kind_for(kind: Kind | None, size: int) -> str:
    """Our name for no weights is identity."""
    return kind if kind and size > 1 else "identity"


@pytest.mark.parametrize("kind", KINDS)
@given(cells=square_tables())
def test_kappa_and_both_its_errors_are_those_of_statsmodels(
    kind: Kind | None, cells: Cells
) -> None:
    ours = kappa_of_table(cells, weights_for(kind_for(kind, len(cells)), np.arange(len(cells))))
    with np.errstate(all="ignore"):  # its z of two assessors without any error is 0 / 0
        theirs = cohens_kappa(cells, wt=kind)

    assert ours.kappa.value == pytest.approx(theirs.kappa, abs=1e-9)
    assert ours.kappa.se == pytest.approx(np.sqrt(max(0.0, theirs.var_kappa)), abs=1e-6)
    assert ours.se_h0 == pytest.approx(np.sqrt(max(0.0, theirs.var_kappa0)), abs=1e-6)


@given(square_tables())
def test_the_interval_of_kappa_is_that_of_statsmodels(cells: Cells) -> None:
    ours = kappa_of_table(cells).kappa
    with np.errstate(all="ignore"):
        theirs = cohens_kappa(cells)
    assume(theirs.var_kappa > 1e-12)

    assert ours.low == pytest.approx(max(-1.0, theirs.kappa_low), abs=1e-6)
    assert ours.high == pytest.approx(min(1.0, theirs.kappa_upp), abs=1e-6)


@pytest.mark.parametrize("kind", KINDS)
@given(cells=square_tables())
def test_kappa_of_two_lists_of_marks_is_that_of_scikit_learn(
    kind: Kind | None, cells: Cells
) -> None:
    levels = list(range(len(cells)))
    marks = ratings_of_table(cells)
    theirs = cohen_kappa_score(*marks.astype(int).T, labels=levels, weights=kind)

    weights = weights_for(kind_for(kind, len(levels)), levels)
    scores = scores_of(marks, levels)
    assert cohen_kappa(scores, weights).value == pytest.approx(theirs, abs=1e-9)
    assert kappa_of_table(square_table(scores), weights).kappa.value == pytest.approx(
        theirs, abs=1e-9
    )


@given(arrays(np.float64, (9, 4), elements=st.sampled_from(LEVELS)))
def test_fleiss_and_even_chance_are_those_of_statsmodels(table: Floats) -> None:
    table[0] = LEVELS
    counts, _ = aggregate_raters(table)
    scores = scores_of(table)

    assert fleiss_kappa(scores).value == pytest.approx(fleiss_elsewhere(counts), abs=1e-12)
    evenly = fleiss_elsewhere(counts, method="uniform")
    assert brennan_prediger(scores).value == pytest.approx(evenly, abs=1e-12)


@pytest.mark.parametrize("metric", METRICS)
@given(table=with_gaps((1.0, 2.0, 3.0, 4.0)))
def test_alpha_is_that_of_krippendorff(metric: Metric, table: Floats) -> None:
    theirs = krippendorff.alpha(table.T, level_of_measurement=metric)

    assert krippendorff_alpha(table, metric).value == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("metric", METRICS)
@given(table=with_gaps((0.0, 0.5, 1.25, 3.0, 8.5)))
def test_alpha_of_uneven_values_is_that_of_krippendorff(metric: Metric, table: Floats) -> None:
    theirs = krippendorff.alpha(table.T, level_of_measurement=metric)
    subject = np.indices(table.shape)[0]

    assert krippendorff_alpha(table, metric).value == pytest.approx(theirs, abs=1e-9)
    long = alpha_of_long(subject.ravel(), table.ravel(), metric)
    assert long.value == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("metric", METRICS)
def test_alpha_of_many_ratings_is_that_of_krippendorff(metric: Metric) -> None:
    """Long enough to be counted in several pieces, and with levels nobody used between others."""
    random = np.random.default_rng(8)
    table = np.clip(
        np.rint(random.normal(4, 2, (30_000, 1)) + random.normal(0, 1, (30_000, 7))), 1, 9
    )
    table[random.random(table.shape) < 0.4] = GAP
    table[table == 6] = 7
    theirs = krippendorff.alpha(table.T, level_of_measurement=metric)

    assert krippendorff_alpha(table, metric).value == pytest.approx(theirs, abs=1e-9)


def pingouin_iccs(table: Floats) -> pd.DataFrame:
    """What pingouin says, by McGraw and Wong's names, intervals with all their digits."""
    subject, rater = np.indices(table.shape)
    columns = {"subject": subject.ravel(), "rater": rater.ravel(), "score": table.ravel()}
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore", DeprecationWarning)  # it asks pandas in an older way
        found = pingouin.intraclass_corr(
            pd.DataFrame(columns), targets="subject", raters="rater", ratings="score"
        )
    return pd.DataFrame(found).set_index("Type")


@pytest.fixture
def _all_digits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(pingouin.options, "round.column.CI95", None)


@st.composite
def complete(draw: st.DrawFn) -> Floats:
    """Scores without gaps in which subjects differ and raters are not quite of one mind."""
    size = draw(st.tuples(st.integers(3, 12), st.integers(2, 6)))
    table: Floats = draw(arrays(np.float64, size, elements=st.integers(0, 10).map(float)))
    ms = None if np.ptp(table.mean(axis=1)) == 0 else mean_squares(table)
    assume(ms is not None and ms.error > 0 and ms.subjects > 0)
    return table


@pytest.mark.usefixtures("_all_digits")
@settings(max_examples=25)
@given(complete())
def test_all_six_intraclass_correlations_with_f_are_those_of_pingouin(table: Floats) -> None:
    theirs = pingouin_iccs(table)

    ours = intraclass_correlations(table)
    assert sorted(one.also_called for one in ours.values()) == sorted(map(our_name, theirs.index))
    for name, row in theirs.iterrows():
        assume(FAR_BELOW < row["ICC"] <= 1)
        mine = named(ours, str(name))
        assert mine.estimate.value == pytest.approx(row["ICC"], rel=1e-7, abs=1e-9)
        assert mine.f == pytest.approx(row["F"], rel=1e-7)
        assert (mine.df1, mine.df2) == (row["df1"], row["df2"])
        assert mine.p == pytest.approx(row["pval"], rel=1e-6, abs=1e-12)


@pytest.mark.usefixtures("_all_digits")
@settings(max_examples=25)
@given(complete())
def test_the_intervals_of_intraclass_correlations_are_those_of_pingouin(table: Floats) -> None:
    """Below 0 the two part ways for agreement: we count a variance below 0 as 0 for its df."""
    ours, theirs = intraclass_correlations(table), pingouin_iccs(table)
    assume(ours["ICC(2,1)"].estimate.value >= 0)

    for name, row in theirs.iterrows():
        mine = named(ours, str(name)).estimate
        low, high = row["CI95"]
        assume(low > FAR_BELOW)
        assert (mine.low, mine.high) == pytest.approx((low, high), rel=1e-6, abs=1e-8)


@pytest.mark.usefixtures("_all_digits")
def test_one_way_of_equal_numbers_is_that_of_pingouin() -> None:
    table = np.random.default_rng(5).normal(size=(14, 1)) + np.random.default_rng(6).normal(
        size=(14, 3)
    )
    theirs = pingouin_iccs(table).loc["ICC(1,1)"]

    ours = icc_unbalanced(np.indices(table.shape)[0].ravel(), table.ravel())
    assert ours.estimate.value == pytest.approx(theirs["ICC"], rel=1e-9)
    assert (ours.estimate.low, ours.estimate.high) == pytest.approx(tuple(theirs["CI95"]), rel=1e-9)


def our_name(theirs: str) -> str:
    """McGraw and Wong's name; pingouin writes the number of raters of a one-way figure too."""
    return {"ICC(1,1)": "ICC(1)", "ICC(1,k)": "ICC(k)"}.get(theirs, theirs)


def named(ours: dict[str, IntraclassCorrelation], theirs: str) -> IntraclassCorrelation:
    """Ours of that name."""
    return next(one for one in ours.values() if one.also_called == our_name(theirs))


@given(st.integers(1, 400), st.floats(0, 1), st.floats(0.5, 0.999))
def test_wilson_is_that_of_statsmodels(n: int, share: float, level: float) -> None:
    yes = round(share * n)
    expected = proportion_confint(yes, n, alpha=1 - level, method="wilson")

    assert wilson(yes / n, n, level) == pytest.approx(expected, abs=1e-12)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_adjusting_for_many_questions_is_that_of_statsmodels(p_values: list[float]) -> None:
    expected = multipletests(p_values, method="fdr_bh")[1]

    assert adjusted(p_values) == pytest.approx(expected, abs=1e-12)
