"""Forecasts against closed forms, against a walk person by person, and their spread's worth."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import sqrt
from random import Random
from typing import Any, Protocol

import numpy as np
import pytest
from scipy import stats

from standfast.engine.planning.chances import Rate, Share, spread, unevenness
from standfast.engine.planning.forecast import (
    KINDS,
    Course,
    Drawn,
    Habits,
    Kind,
    Months,
    Term,
    Trying,
    simulate,
    together,
)

NEVER, ALWAYS = Share(0.0, 10), Share(1.0, 10)
NONE = Rate(0.0, 10)
FAR = 99
DRAWS = 20_000
SURE = Habits(
    comes_back=ALWAYS,
    comes_late=NEVER,
    again=dict.fromkeys(KINDS, NEVER),
    gives_up=NEVER,
    extra=dict.fromkeys(KINDS, NONE),
    again_after=dict.fromkeys(KINDS, 2),
)
"""Everybody comes in time and passes at once."""


def months(count: int = 12) -> Months:
    return Months(tuple(n % 12 + 1 for n in range(count)), (1.0,) * count)


def due(month: int, held: int, **other: Any) -> Term:  # noqa: ANN401 - any field of a term
    """Awards that fall due for a refresher in that month, which suffices for half a year."""
    said = {"kept": None, "late_from": month + 2, "gone_from": month + 12, "suffices": month + 6}
    return replace(Term(month, "refresher", None, 0, 0, 0, held), **{**said, **other})


def course(*terms: Term, newcomers: Rate = NONE, **other: Any) -> Course:  # noqa: ANN401 - same
    """These terms; an award that starts anew falls due beyond the forecast."""
    beyond = Term(FAR, "refresher", None, FAR, FAR, FAR)
    every = (*terms, beyond)
    return replace(Course(every, (len(terms),) * 40, (), newcomers), **other)


def lessons(
    drawn: Drawn, kind: Kind, month: int | slice
) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    found = drawn.lessons[kind][:, month]
    return found if found.ndim == 1 else found.sum(axis=1)


# --- closed forms -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "share",
    [
        pytest.param(Share(0.8, 10, 34, 41), id="history and prior"),
        pytest.param(Share(0.8, 10), id="prior alone"),
        pytest.param(Share(0.5, 1, 0, 30), id="nobody"),
    ],
)
def test_a_share_is_the_mean_of_its_beta_posterior(share: Share) -> None:
    a = share.prior * share.weight + share.yes
    b = (1 - share.prior) * share.weight + share.of - share.yes
    drawn = share.drawn(np.random.default_rng(1), DRAWS)

    assert share.mean == pytest.approx(stats.beta.mean(a, b), rel=1e-12)
    assert stats.kstest(drawn, stats.beta(a, b).cdf).pvalue > 0.001


def test_a_rate_is_the_mean_of_its_gamma_posterior() -> None:
    rate = Rate(0.5, 3, 30, 35.5)
    drawn = rate.drawn(np.random.default_rng(1), DRAWS)
    posterior = stats.gamma(0.5 * 3 + 30, scale=1 / (3 + 35.5))

    assert rate.mean == pytest.approx(posterior.mean(), rel=1e-12)
    assert stats.kstest(drawn, posterior.cdf).pvalue > 0.001


def test_a_prior_of_none_or_all_holds_until_history_gainsays_it() -> None:
    chance = np.random.default_rng(1)

    assert set(NEVER.drawn(chance, 9)) == {0.0}
    assert set(ALWAYS.drawn(chance, 9)) == {1.0}
    assert set(NONE.drawn(chance, 9)) == {0.0}
    assert Share(0.0, 10, 1, 5).drawn(chance, 9).min() > 0
    assert Share(1.0, 10, 4, 5).drawn(chance, 9).max() < 1
    assert Rate(0.0, 10, 1, 5).drawn(chance, 9).min() > 0


class Exact(Protocol):
    """A distribution in closed form."""

    def cdf(self, x: float) -> object: ...


def is_point(found: int, share: float, exact: Exact) -> bool:
    """Whether a drawn point can be the exact one, five standard errors of the share allowed."""
    error = 5 * sqrt(share * (1 - share) / DRAWS)
    below, upto = (float(str(exact.cdf(n))) for n in (found - 1, found))
    return below < share + error and upto > share - error


@pytest.mark.parametrize("held", [1, 7, 40, 300])
@pytest.mark.parametrize("share", [Share(0.8, 10, 34, 41), Share(0.8, 10), Share(0.3, 1, 1, 2)])
def test_refreshers_of_a_month_are_beta_binomial(held: int, share: Share) -> None:
    habits = replace(SURE, comes_back=share)
    (drawn,) = simulate([course(due(4, held))], habits, months(), draws=DRAWS)
    a = share.prior * share.weight + share.yes
    b = (1 - share.prior) * share.weight + share.of - share.yes
    exact = stats.betabinom(held, a, b)
    found = drawn.spread("refresher", slice(4, 5))

    assert is_point(found.low, 0.1, exact)
    assert is_point(found.middle, 0.5, exact)
    assert is_point(found.high, 0.9, exact)
    assert found.mean == pytest.approx(exact.mean(), abs=5 * exact.std() / sqrt(DRAWS))
    assert lessons(drawn, "refresher", slice(0, 4)).max() == 0


@pytest.mark.parametrize(
    ("span", "over"),
    [
        pytest.param(slice(3, 4), 1.0, id="a month"),
        pytest.param(slice(3, 9), 6.0, id="half a year of one rate"),
        pytest.param(slice(0, 1), 0.25, id="the rest of a month"),
    ],
)
def test_newcomers_are_negative_binomial(span: slice, over: float) -> None:
    rate = Rate(0.5, 3, 30, 35.5)
    ahead = replace(months(), parts=(0.25, *(1.0,) * 11))
    (drawn,) = simulate([course(newcomers=rate)], SURE, ahead, draws=DRAWS)
    weight = (3 + 35.5) / over
    exact = stats.nbinom(0.5 * 3 + 30, weight / (weight + 1))
    found = drawn.spread("practical", span)

    assert is_point(found.low, 0.1, exact)
    assert is_point(found.middle, 0.5, exact)
    assert is_point(found.high, 0.9, exact)
    assert found.mean == pytest.approx(exact.mean(), abs=5 * exact.std() / sqrt(DRAWS))


def test_newcomers_in_groups_have_the_same_mean_and_that_much_more_variance() -> None:
    rate, times = Rate(2.5, 1_000_000), 1.8
    (drawn,) = simulate([course(newcomers=rate, unevenness=times)], SURE, months(), draws=DRAWS)
    exact = stats.nbinom(2.5 / (times - 1), 1 / times)
    found = drawn.spread("practical", slice(4, 5))

    assert exact.var() == pytest.approx(times * 2.5)
    assert is_point(found.low, 0.1, exact)
    assert is_point(found.high, 0.9, exact)
    assert found.mean == pytest.approx(2.5, abs=5 * exact.std() / sqrt(DRAWS))


@pytest.mark.parametrize(
    ("counts", "uneven"),
    [
        pytest.param([3, 2, 4, 3, 2, 3, 1, 4, 3, 2, 5, 3], False, id="each alone"),
        pytest.param([9, 0, 0, 0, 12, 0, 0, 1, 8, 0, 0, 0], True, id="in groups"),
        pytest.param([4], False, id="one month"),
        pytest.param([0, 0, 0], False, id="nobody"),
    ],
)
def test_months_are_uneven_when_chance_alone_would_hardly_make_them_so(
    counts: list[int], *, uneven: bool
) -> None:
    mean = sum(counts) / len(counts)
    found = unevenness(counts, [mean] * len(counts))

    assert (found > 1) == uneven
    if mean and len(counts) > 1:
        exact = stats.chisquare(counts)
        assert uneven == (exact.pvalue < 0.01)
        if uneven:
            assert found == pytest.approx(exact.statistic / (len(counts) - 1), rel=1e-12)


def test_calendar_months_share_the_newcomers_of_a_year_by_a_dirichlet_posterior() -> None:
    counts = (0, 0, 30, 0, 0, 0, 0, 0, 6, 0, 0, 0)
    rate = Rate(3.0, 1_000_000)
    one = course(newcomers=rate, by_calendar_month=counts)
    (drawn,) = simulate([one], SURE, months(), draws=DRAWS)

    for month, count in enumerate(counts):
        expected = 3.0 * 12 * (10 + count) / (120 + 36)
        found = lessons(drawn, "practical", month)
        error = float(found.std()) / sqrt(DRAWS)
        assert found.mean() == pytest.approx(expected, abs=5 * error)


# --- what follows from what ---------------------------------------------------------------------


def test_who_is_not_passed_tries_again_two_months_later_and_then_again() -> None:
    habits = replace(SURE, again=dict.fromkeys(KINDS, Share(0.4, 1_000_000)))
    (drawn,) = simulate([course(due(1, 100))], habits, months(), draws=DRAWS)

    for month, expected in ((1, 100), (3, 40), (5, 16), (7, 6.4)):
        assert lessons(drawn, "refresher", month).mean() == pytest.approx(expected, rel=0.02)
    assert lessons(drawn, "refresher", 2).max() == 0
    assert lessons(drawn, "practical", slice(None)).max() == 0


def test_who_gives_up_after_a_try_does_not_come_again() -> None:
    again, gives_up = dict.fromkeys(KINDS, Share(0.4, 1_000_000)), Share(0.25, 1_000_000)
    habits = replace(SURE, again=again, gives_up=gives_up)
    one = course(due(1, 100), trying=(Trying(0, "practical", people=100),))
    (drawn,) = simulate([one], habits, months(), draws=DRAWS)

    expected: dict[Kind, dict[int, float]] = {
        "refresher": {1: 100, 3: 30, 5: 9},
        "practical": {0: 75, 2: 22.5},
    }
    for kind, by_month in expected.items():
        for month, mean in by_month.items():
            assert lessons(drawn, kind, month).mean() == pytest.approx(mean, rel=0.02)


@pytest.mark.parametrize(("suffices", "kind"), [(2, "practical"), (3, "refresher")])
def test_a_next_try_after_the_last_month_of_refreshers_is_a_full_practical(
    suffices: int, kind: Kind
) -> None:
    habits = replace(SURE, again=dict.fromkeys(KINDS, Share(0.4, 1_000_000)))
    (drawn,) = simulate([course(due(1, 100, suffices=suffices))], habits, months(), draws=DRAWS)
    other: Kind = "refresher" if kind == "practical" else "practical"

    assert lessons(drawn, other, 3).max() == 0
    assert lessons(drawn, kind, 3).mean() == pytest.approx(40, rel=0.02)


def test_late_holders_come_by_refresher_while_it_suffices_and_then_by_practical_until_gone() -> (
    None
):
    habits = replace(SURE, comes_back=NEVER, comes_late=Share(0.1, 1_000_000))
    term = due(0, 1000, late_from=2, suffices=4, gone_from=7)
    (drawn,) = simulate([course(term)], habits, months(), draws=DRAWS)

    for month in range(12):
        came = 1000 * 0.1 * 0.9 ** (month - 2) if 2 <= month < 7 else 0
        by_refresher = lessons(drawn, "refresher", month).mean()
        by_practical = lessons(drawn, "practical", month).mean()
        assert by_refresher == pytest.approx(came if month <= 4 else 0, rel=0.02)
        assert by_practical == pytest.approx(came if month > 4 else 0, rel=0.02)


def test_terms_that_ran_out_before_are_waited_for_as_well() -> None:
    habits = replace(SURE, comes_late=Share(0.1, 1_000_000))
    one = course(late=(due(-9, 500, late_from=-7, suffices=-3, gone_from=2),))
    ahead = replace(months(), parts=(0.5, *(1.0,) * 11))
    (drawn,) = simulate([one], habits, ahead, draws=DRAWS)

    assert lessons(drawn, "practical", 0).mean() == pytest.approx(25, rel=0.02)
    assert lessons(drawn, "practical", 1).mean() == pytest.approx(47.5, rel=0.02)
    assert lessons(drawn, "practical", slice(2, 12)).max() == 0


def test_what_is_kept_falls_due_again_and_what_starts_anew_in_its_own_turn() -> None:
    kept, anew = due(9, 0), due(11, 0)
    terms = (due(1, 20, kept=1), kept, anew)
    one = replace(course(*terms), fresh=(2,) * 12, trying=(Trying(3, "practical", people=5),))
    (drawn,) = simulate([one], SURE, months(), draws=9)
    by_month = {month: drawn.spread("refresher", slice(month, month + 1)) for month in range(12)}

    assert {month: found.low for month, found in by_month.items() if found.high} == {
        1: 20,
        9: 20,
        11: 5,
    }


def test_a_try_that_was_begun_takes_what_is_missing_and_a_whole_one_all() -> None:
    trying = (
        Trying(0, "practical", people=3, lessons=1),
        Trying(2, "practical"),
        Trying(FAR, "practical"),
    )
    one = course(trying=trying, lessons={"practical": 2, "refresher": 1})
    (drawn,) = simulate([one], SURE, months(), draws=9)

    assert [int(n) for n in drawn.lessons["practical"].min(axis=0)][:4] == [3, 0, 2, 0]


def test_lessons_beyond_the_least_number_are_poisson() -> None:
    habits = replace(SURE, extra=dict.fromkeys(KINDS, Rate(0.25, 10, 12, 40.0)))
    one = course(due(1, 50), lessons={"practical": 2, "refresher": 2})
    (drawn,) = simulate([one], habits, months(), draws=DRAWS)
    weight = (10 + 40.0) / 50
    exact = stats.nbinom(0.25 * 10 + 12, weight / (weight + 1))
    found = drawn.spread("refresher", slice(1, 2))

    assert is_point(found.low - 100, 0.1, exact)
    assert is_point(found.high - 100, 0.9, exact)


def test_courses_of_one_school_meet_the_same_shares() -> None:
    habits = replace(SURE, comes_back=Share(0.5, 2))
    both = simulate([course(due(1, 200)), course(due(1, 200))], habits, months(), draws=DRAWS)
    one, other = (lessons(drawn, "refresher", 1) for drawn in both)
    exact = stats.betabinom(400, 1, 1)

    assert np.corrcoef(one, other)[0, 1] > 0.98
    assert is_point(together(both).spread("refresher").low, 0.1, exact)


def test_the_same_seed_gives_the_same_numbers_and_another_nearly_the_same() -> None:
    one = course(due(1, 20), due(6, 30), newcomers=Rate(0.5, 3, 30, 35.5))
    habits = replace(SURE, comes_back=Share(0.8, 10))
    first, again, other = (simulate([one], habits, months(), seed=seed)[0] for seed in (5, 5, 6))

    for kind in KINDS:
        assert (first.lessons[kind] == again.lessons[kind]).all()
        assert (first.lessons[kind] != other.lessons[kind]).any()
        assert first.spread(kind).mean == pytest.approx(other.spread(kind).mean, rel=0.02)


def test_points_are_numbers_that_were_drawn() -> None:
    found = spread(np.array([0, 0, 0, 1, 1, 1, 1, 7, 8, 9]))

    assert (found.low, found.middle, found.high) == (0, 1, 8)
    assert found.mean == 2.8


# --- how much the spread is worth ---------------------------------------------------------------


def lived(
    rng: Random, shares: dict[str, float], held: tuple[int, ...]
) -> Iterator[tuple[str, int]]:
    """One future of a school, person by person: kind and month of each lesson."""
    for month, people in enumerate(held):
        for _ in range(people):
            yield from _held(rng, shares, month)
    for month in range(12):
        for _ in range(_poisson(rng, shares["newcomers"])):
            yield from _tries(rng, shares, "practical", month)


def _held(rng: Random, shares: dict[str, float], month: int) -> Iterator[tuple[str, int]]:
    if rng.random() < shares["comes back"]:
        yield from _tries(rng, shares, "refresher", month)
        return
    for later in range(month + 2, 12):
        if rng.random() < shares["comes late"]:
            kind = "refresher" if later <= month + 6 else "practical"
            yield from _tries(rng, shares, kind, later)
            return


def _tries(
    rng: Random, shares: dict[str, float], kind: str, month: int
) -> Iterator[tuple[str, int]]:
    again, gives_up = shares[f"{kind} again"], shares["gives up"]
    while month < 12:
        yield kind, month
        if rng.random() >= again or rng.random() < gives_up:
            return
        month += 2


def _poisson(rng: Random, rate: float) -> int:
    """Arrivals in one unit of time, by their waits."""
    count, clock = 0, rng.expovariate(rate)
    while clock < 1:
        count += 1
        clock += rng.expovariate(rate)
    return count


HELD = (4, 0, 6, 3, 0, 5, 0, 2, 7, 0, 0, 9)


def school(rng: Random) -> tuple[dict[str, float], Habits, Rate]:
    """A school whose true shares come from the prior, and what its past taught of them."""
    prior = {"comes back": 0.8, "comes late": 0.1, "practical again": 0.3, "refresher again": 0.2}
    prior["gives up"] = 0.15
    shares = {name: rng.betavariate(10 * p, 10 * (1 - p)) for name, p in prior.items()}
    known = {}
    for name, p in prior.items():
        of = rng.randrange(40)
        known[name] = Share(p, 10, sum(rng.random() < shares[name] for _ in range(of)), of)
    shares["newcomers"] = rng.gammavariate(3, 1 / 2)
    over = rng.randrange(30)
    count = sum(_poisson(rng, shares["newcomers"]) for _ in range(over))
    again: dict[Kind, Share] = {kind: known[f"{kind} again"] for kind in KINDS}
    habits = replace(
        SURE,
        comes_back=known["comes back"],
        comes_late=known["comes late"],
        again=again,
        gives_up=known["gives up"],
    )
    return shares, habits, Rate(1.5, 2, count, float(over))


@dataclass(frozen=True)
class Foretold:
    """What was said of some lessons, how sure the bounds are by the draws, and what happened."""

    low: int
    high: int
    sure: float
    happened: int


A_MONTH, A_YEAR = slice(8, 9), slice(0, 12)


@pytest.fixture(scope="module")
def foretold() -> dict[tuple[Kind, int], list[Foretold]]:
    """400 schools whose true shares differ, each with a past of its own, each lived once.

    By kind of lesson, and by how many months.
    """
    rng = Random(20261125)
    found: dict[tuple[Kind, int], list[Foretold]] = defaultdict(list)
    for number in range(400):
        shares, habits, newcomers = school(rng)
        one = course(*(due(month, held) for month, held in enumerate(HELD)), newcomers=newcomers)
        (drawn,) = simulate([one], habits, months(), seed=number, draws=2000)
        future = list(lived(rng, shares, HELD))
        for kind in KINDS:
            for span in (A_MONTH, A_YEAR):
                said, sums = drawn.spread(kind, span), lessons(drawn, kind, span)
                sure = float(((sums >= said.low) & (sums <= said.high)).mean())
                happened = sum(w == kind and span.start <= m < span.stop for w, m in future)
                found[kind, span.stop - span.start].append(
                    Foretold(said.low, said.high, sure, happened)
                )
    return found


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("count", [1, 12])
def test_the_bounds_hold_as_often_as_they_say(
    foretold: dict[tuple[Kind, int], list[Foretold]], kind: Kind, count: int
) -> None:
    """Bounds are whole numbers, so that each pair holds a little more than four in five draws.

    That share is what must be reached, within four standard errors.
    """
    every = foretold[kind, count]
    hits = sum(one.low <= one.happened <= one.high for one in every)
    error = sqrt(sum(one.sure * (1 - one.sure) for one in every))

    assert len(every) == 400
    assert min(one.sure for one in every) >= 0.8
    assert abs(hits - sum(one.sure for one in every)) < 4 * error
