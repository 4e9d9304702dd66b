"""Bounds against scipy, exact comparisons against bounds and by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta, binom
from statsmodels.stats.proportion import proportion_confint

from standfast.engine.beta import beta_point, beta_share
from standfast.engine.intervals import (
    at_most,
    cannot_reach,
    lower_bound,
    needed,
    reaches,
    upper_bound,
)
from standfast.model.rubric import Method

METHODS: tuple[Method, ...] = ("clopper-pearson", "wilson", "jeffreys")
STATSMODELS = {"clopper-pearson": "beta", "wilson": "wilson", "jeffreys": "jeffreys"}
COUNTS = st.integers(1, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
SHARES = st.sampled_from([0.5, 0.6, 0.75, 0.8, 0.85, 0.9, 0.95, 0.99])
ASSURANCES = st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.975, 0.99])


@given(
    st.floats(0.001, 0.999),
    st.floats(0.3, 2000, allow_nan=False),
    st.floats(0.3, 2000, allow_nan=False),
)
def test_the_beta_share_equals_that_of_scipy(p: float, a: float, b: float) -> None:
    assert beta_share(p, a, b) == pytest.approx(beta.cdf(p, a, b), abs=1e-10)


@given(st.floats(0.005, 0.995), st.floats(0.5, 500), st.floats(0.5, 500))
def test_the_beta_point_equals_that_of_scipy(share: float, a: float, b: float) -> None:
    assert beta_point(share, a, b) == pytest.approx(beta.ppf(share, a, b), abs=1e-10)


@pytest.mark.parametrize("method", METHODS)
@given(counts=COUNTS, assurance=ASSURANCES)
def test_bounds_equal_the_two_sided_limits_of_statsmodels(
    counts: tuple[int, int], assurance: float, method: Method
) -> None:
    x, n = counts
    both = proportion_confint(x, n, alpha=2 * (1 - assurance), method=STATSMODELS[method])
    ends = {"jeffreys": (x == 0, x == n)}.get(method, (False, False))

    if not ends[0]:
        assert lower_bound(x, n, assurance, method) == pytest.approx(both[0], abs=1e-9)
    if not ends[1]:
        assert upper_bound(x, n, assurance, method) == pytest.approx(both[1], abs=1e-9)


@given(st.floats(0.01, 40), st.floats(0.01, 40), ASSURANCES)
def test_an_effective_number_need_not_be_whole(x: float, more: float, assurance: float) -> None:
    n = x + more

    assert lower_bound(x, n, assurance, "clopper-pearson") == pytest.approx(
        beta.ppf(1 - assurance, x, more + 1), abs=1e-9
    )
    assert upper_bound(x, n, assurance, "clopper-pearson") == pytest.approx(
        beta.ppf(assurance, x + 1, more), abs=1e-9
    )


@pytest.mark.parametrize("method", METHODS)
def test_nothing_seen_bounds_nothing(method: Method) -> None:
    assert lower_bound(0, 0, 0.8, method) == 0
    assert upper_bound(0, 0, 0.8, method) == 1
    assert not reaches(0, 0, 0.5, 0.8, method)
    assert not cannot_reach(0, 0, 0.5, 0.8, method)


@given(COUNTS, st.fractions(Fraction(1, 20), Fraction(19, 20), max_denominator=50))
def test_the_exact_tail_equals_that_of_scipy(counts: tuple[int, int], p: Fraction) -> None:
    k, n = counts

    assert float(at_most(k, n, p)) == pytest.approx(binom.cdf(k, n, float(p)), abs=1e-11)


@pytest.mark.parametrize("method", METHODS)
@given(counts=COUNTS, share=SHARES, assurance=ASSURANCES)
def test_reaching_agrees_with_the_bound_away_from_ties(
    counts: tuple[int, int], share: float, assurance: float, method: Method
) -> None:
    x, n = counts
    low, high = (bound(x, n, assurance, method) for bound in (lower_bound, upper_bound))

    if abs(low - share) > 1e-9:
        assert reaches(x, n, share, assurance, method) is (low > share)
    if abs(high - share) > 1e-9:
        assert cannot_reach(x, n, share, assurance, method) is (high < share)


@pytest.mark.parametrize(
    ("n", "share", "assurance", "reached"),
    [
        # 1 of 1 under a share of 1/2 has the chance 1/2: exactly what 50 % assurance allows.
        pytest.param(1, 0.5, 0.5, True, id="one toss, on the line"),
        # 3 of 3 under 1/2: 1/8, exactly what 87.5 % assurance allows; floats may miss it.
        pytest.param(3, 0.5, 0.875, True, id="three tosses, on the line"),
        pytest.param(3, 0.5, 0.8751, False, id="three tosses, just past it"),
        # 2 of 2 under 9/10: 81/100, the line at 19 %; written as 0.19 it is no binary fraction.
        pytest.param(2, 0.9, 0.19, True, id="decimals, on the line"),
        pytest.param(2, 0.9, 0.190001, False, id="decimals, just past it"),
    ],
)
def test_a_tie_between_bound_and_standard_is_decided_exactly(
    n: int, share: float, assurance: float, reached: bool
) -> None:
    assert reaches(n, n, share, assurance, "clopper-pearson") is reached


def test_an_upper_bound_on_the_standard_can_still_reach_it() -> None:
    # 0 of 1 under 1/2: the chance of none is 1/2, so the bound at 50 % lies on 1/2.
    assert not cannot_reach(0, 1, 0.5, 0.5, "clopper-pearson")
    assert cannot_reach(0, 1, 0.5, 0.49, "clopper-pearson")


def test_ten_without_a_lapse_show_85_percent_and_nine_do_not() -> None:
    # 0.85**10 = 0.1969 <= 0.2 < 0.85**9 = 0.2316, by hand.
    assert needed(0.85, 0.8, 0, "clopper-pearson") == 10
    assert reaches(10, 10, 0.85, 0.8, "clopper-pearson")
    assert not reaches(9, 9, 0.85, 0.8, "clopper-pearson")


@pytest.mark.parametrize("method", METHODS)
@given(share=SHARES, assurance=ASSURANCES, lapses=st.integers(0, 12))
def test_what_is_needed_is_the_least_number(
    share: float, assurance: float, lapses: int, method: Method
) -> None:
    n = needed(share, assurance, lapses, method)

    assert n is not None
    assert reaches(n - lapses, n, share, assurance, method)
    assert not reaches(n - 1 - lapses, n - 1, share, assurance, method)


def test_thousands_of_answers_are_not_promised() -> None:
    assert needed(0.9999, 0.99, 0, "clopper-pearson") is None


@pytest.mark.parametrize("method", METHODS)
@given(counts=COUNTS, assurance=ASSURANCES)
def test_the_lower_bound_is_never_over_the_upper(
    counts: tuple[int, int], assurance: float, method: Method
) -> None:
    x, n = counts

    low, high = (bound(x, n, assurance, method) for bound in (lower_bound, upper_bound))

    assert 0 <= low <= high + 1e-12
    assert high <= 1
