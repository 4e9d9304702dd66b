"""What a forecast takes for certain is what the engine's dates say; its history is counted once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine import made

from standfast.desk.coming import Ahead
from standfast.desk.courses import Certain, Wanted
from standfast.desk.habits import (
    by_calendar_month,
    came_back,
    came_early,
    came_late,
    deadline,
    habits,
    months_vary,
    newcomers,
)
from standfast.desk.lived import Lived, Try
from standfast.engine.dates import award_dates, renewed_dates, topped_up_dates
from standfast.engine.planning.chances import Rate, Share
from standfast.engine.planning.forecast import Course, Drawn, simulate
from standfast.model.award import Award
from standfast.model.rubric import Refresher, Rubric, Validity
from standfast.model.school import Forecast

TODAY = date(2026, 11, 20)
USUAL = Validity(
    period="P2Y", refresher=Refresher(every="P1Y", window="P2M"), grace="P1M", lapse_limit="P1Y"
)
VALIDITIES = (
    USUAL,
    USUAL.model_copy(update={"last_day": "day-before"}),
    Validity(period="P2Y", refresher=Refresher(every="P1Y", window="P2M")),
    Validity(
        period="P1Y", refresher=Refresher(every="P1Y", window="P3M"), grace="P6W", lapse_limit="P6M"
    ),
    Validity(period="P1Y", last_day="day-before", refresher=Refresher(every="P90D", window="P3W")),
    Validity(period="P9M"),
)
PRIOR = Share(0.8, 10)
SURE = Forecast(comes_back=1, comes_late=0, second_try=0, gives_up=0, one_more=0, newcomers=0)
"""Everybody comes in time and passes at once, and nobody is new."""


def award(number: int, dates: object, **other: Any) -> Award:  # noqa: ANN401 - any field of an award
    changes = {"id": made.key(number), "candidate": f"holder-{number}", "number": f"A-{number}"}
    first = other.pop("granted", dates.first_day)  # type: ignore[attr-defined]
    return made.award(dates).model_copy(update={**changes, "granted": first, **other})  # type: ignore[arg-type]


def past(
    awards: Sequence[Award] = (),
    *,
    validity: Validity = USUAL,
    today: date = TODAY,
    **other: Any,  # noqa: ANN401 - any field
) -> Lived:
    """A school that lived through this, under one rubric and its refresher."""
    full = made.rubric(validity=validity, decision={"practicals": 2})
    short = made.rubric(
        id="bar-again", refreshes="bar-1", grants=None, validity=None, decision={"window": "P3M"}
    )
    empty = Lived(
        today=today,
        awards=tuple(awards),
        withdrawn=frozenset(),
        rubrics={"bar-1": full, "bar-again": short},
        validities={made.HASH: validity},
        lessons={},
        tries={},
    )
    return replace(empty, **other)


def courses(history: Lived, last: date, prior: Forecast = SURE) -> tuple[Course, Ahead]:
    full: Rubric = history.rubrics["bar-1"]
    assert full.validity is not None
    people = frozenset(
        [one.candidate for one in history.awards] + [who for who, _ in history.lessons]
    )
    ahead = Ahead(history.today, last)
    rate = Rate(prior.newcomers, prior.newcomers_weight)
    wanted = Wanted(full, full.validity, people, rate)
    return Certain(history, habits(history, prior), ahead).course(wanted), ahead


def drawn(history: Lived, last: date, prior: Forecast = SURE, draws: int = 3) -> Drawn:
    course, ahead = courses(history, last, prior)
    return simulate([course], habits(history, prior), ahead.months, draws=draws)[0]


# --- the certain skeleton -----------------------------------------------------------------------


def walk(validity: Validity, one: Award, last: date) -> Iterator[tuple[str, date]]:
    """Every day on which the award falls due, and is kept that day, by the engine's dates."""
    dates = one.dates
    while (due := dates.refresher_due or dates.last_day) <= last:
        on = max(due, TODAY)
        if dates.refresher_due is None:
            yield "practical", on
            dates = award_dates(validity, on)
        else:
            yield "refresher", on
            dates = renewed_dates(validity, dates, on)


@given(
    st.sampled_from(VALIDITIES),
    st.lists(st.dates(TODAY - timedelta(days=800), TODAY), max_size=12),
    st.integers(1, 30),
)
def test_when_all_come_back_and_pass_each_month_has_what_a_walk_over_the_dates_gives(
    validity: Validity, days: list[date], months: int
) -> None:
    awards = [award(n, award_dates(validity, day)) for n, day in enumerate(days, 1)]
    awards = [one for one in awards if deadline(one) >= TODAY]
    last = (TODAY.replace(day=1) + timedelta(days=31 * months)).replace(day=1) - timedelta(days=1)
    found = drawn(past(awards, validity=validity), last)
    expected: Counter[tuple[str, int]] = Counter()
    for one in awards:
        for kind, day in walk(validity, one, last):
            number = (day.year - TODAY.year) * 12 + day.month - TODAY.month
            expected[kind, number] += 2 if kind == "practical" else 1

    for kind, lessons in found.lessons.items():
        assert lessons.shape == (3, Ahead(TODAY, last).number(last) + 1)
        assert (lessons == lessons[0]).all()
        assert {n: int(c) for n, c in enumerate(lessons[0]) if c} == {
            number: count for (what, number), count in expected.items() if what == kind
        }


def test_an_award_in_grace_falls_due_now_and_starts_anew() -> None:
    one = award(1, award_dates(USUAL, date(2025, 11, 1)))  # due 2026-11-01, grace until 2026-12-01
    found = drawn(past([one]), date(2027, 12, 31))

    assert {n: int(c) for n, c in enumerate(found.lessons["refresher"][0]) if c} == {0: 1, 12: 1}


@pytest.mark.parametrize(
    ("granted", "refreshers", "practicals"),
    [
        # Due 2025-12-14, grace until 2026-01-14: a refresher suffices until 2027-01-14.
        pytest.param(date(2024, 12, 14), [0, 1], [2, 3], id="before the middle of the month"),
        pytest.param(date(2024, 12, 15), [0, 1, 2], [3, 4], id="in the middle of it"),
    ],
)
def test_past_grace_a_refresher_suffices_as_long_as_the_rubric_says(
    granted: date, refreshers: list[int], practicals: list[int]
) -> None:
    one = award(1, award_dates(USUAL, granted))
    prior = SURE.model_copy(update={"comes_late": 0.5})
    found = drawn(past([one]), date(2027, 12, 31), prior, draws=2000)
    came = {kind: lessons.sum(axis=0) > 0 for kind, lessons in found.lessons.items()}

    assert all(came["refresher"][refreshers])
    assert not came["practical"][refreshers].any()
    assert all(came["practical"][practicals])
    assert not came["refresher"][practicals].any()


def test_on_the_last_day_of_grace_an_award_is_still_in_time_and_on_the_next_it_is_late() -> None:
    one = award(1, award_dates(USUAL, date(2025, 10, 20)))  # grace until 2026-11-20
    in_time, _ = courses(past([one]), date(2027, 6, 30))
    late, _ = courses(past([one], today=TODAY + timedelta(days=1)), date(2027, 6, 30))

    assert [sum(term.held for term in terms) for terms in (in_time.terms, in_time.late)] == [1, 0]
    assert [sum(term.held for term in terms) for terms in (late.terms, late.late)] == [0, 1]


def test_two_years_past_grace_nobody_waits_any_more() -> None:
    one = award(1, award_dates(USUAL, date(2024, 1, 10)))  # grace until 2025-02-10
    course, ahead = courses(past([one]), date(2027, 12, 31))
    (late,) = course.late

    assert late.late_from == -20
    assert ahead.starts[late.gone_from] == date(2027, 3, 1)


def test_however_short_a_period_is_one_month_asks_once() -> None:
    often = USUAL.model_copy(update={"refresher": Refresher(every="P2W", window="P1W")})
    one = award(1, award_dates(often, TODAY))
    found = drawn(past([one], validity=often), date(2027, 3, 31))

    assert found.lessons["refresher"][0].tolist() == [0, 1, 1, 1, 1]


def test_renewed_withdrawn_and_nameless_ones_are_not_waited_for() -> None:
    old = award(1, award_dates(USUAL, date(2026, 1, 10)))
    renewed = award(2, award_dates(USUAL, date(2026, 11, 1)), renews=old.id)
    gone = award(3, award_dates(USUAL, date(2026, 1, 10)))
    history = past([old, renewed, gone], withdrawn=frozenset([gone.id]))
    course, _ = courses(history, date(2027, 6, 30))
    erased = Certain(history, habits(history, SURE), Ahead(TODAY, date(2027, 6, 30))).course(
        Wanted(history.rubrics["bar-1"], USUAL, frozenset(), Rate(0, 3))
    )

    assert sum(term.held for term in course.terms) == 1
    assert sum(term.held for term in erased.terms) == 0


def ended(
    rubric: str, on: date, *, passed: bool = False, stopped: bool = False, more: int = 0
) -> Try:
    return Try(rubric, on, passed, stopped, more, None)


@pytest.mark.parametrize(
    ("lessons", "tries", "expected"),
    [
        pytest.param([date(2026, 11, 2)], [], [(0, "practical", 1)], id="one of two lessons"),
        pytest.param([date(2026, 5, 20)], [], [(0, "practical", 1)], id="first day of the window"),
        pytest.param([date(2026, 5, 19)], [], [], id="the day before the window"),
        pytest.param(
            [date(2026, 10, 2)],
            [ended("bar-1", date(2026, 10, 20))],
            [(1, "practical", None)],
            id="must try again",
        ),
        pytest.param(
            [date(2026, 5, 2)], [ended("bar-1", date(2026, 5, 19))], [], id="given up since"
        ),
        pytest.param(
            [date(2026, 10, 2), date(2026, 11, 2)],
            [ended("bar-1", date(2026, 10, 20))],
            [(0, "practical", 1)],
            id="tries again already",
        ),
        pytest.param(
            [date(2026, 10, 2)], [ended("bar-1", date(2026, 10, 20), passed=True)], [], id="passed"
        ),
    ],
)
def test_who_has_begun_is_counted_with_what_is_missing(
    lessons: list[date], tries: list[Try], expected: list[tuple[int, str, int | None]]
) -> None:
    whose = ("cato", "bar-1")
    history = past(lessons={whose: tuple(lessons)}, tries={whose: tuple(tries)})
    course, _ = courses(history, date(2027, 6, 30))

    assert [(one.month, one.kind, one.lessons) for one in course.trying] == expected


def test_a_holder_who_was_not_passed_tries_again_and_is_not_counted_twice() -> None:
    one = award(1, award_dates(USUAL, date(2025, 12, 1)))
    whose = ("holder-1", "bar-again")
    tries = {whose: (ended("bar-again", date(2026, 11, 10)),)}
    history = past([one], lessons={whose: (date(2026, 11, 10),)}, tries=tries)
    course, _ = courses(history, date(2027, 6, 30))

    assert [(t.month, t.kind) for t in course.trying] == [(2, "refresher")]
    assert sum(term.held for term in (*course.terms, *course.late)) == 0


def test_who_must_try_again_when_no_refresher_suffices_any_more_takes_a_practical() -> None:
    one = award(1, award_dates(USUAL, date(2024, 11, 16)))  # a refresher suffices until 2026-12-16
    whose = ("holder-1", "bar-again")
    tries = {whose: (ended("bar-again", date(2026, 11, 1)),)}
    course, _ = courses(past([one], tries=tries), date(2027, 6, 30))

    assert [(t.month, t.kind, t.lessons) for t in course.trying] == [(2, "practical", None)]


def test_a_lesson_on_the_day_of_the_award_is_none_towards_the_next() -> None:
    one = award(1, award_dates(USUAL, date(2026, 11, 19)))
    lessons = {("holder-1", "bar-again"): (date(2026, 11, 19),)}
    course, _ = courses(past([one], lessons=lessons), date(2027, 6, 30))

    assert course.trying == ()
    assert past([one], lessons=lessons).lessons_for(one) == []


# --- what history says --------------------------------------------------------------------------


def ran_out(
    number: int, due: date, came: date | None, rubric: str = "bar-again"
) -> tuple[Award, dict[tuple[str, str], tuple[date, ...]]]:
    """An award due on that day (grace a month), and the lesson to which its holder came."""
    one = award(number, award_dates(USUAL, due.replace(year=due.year - 1)))
    return one, {(f"holder-{number}", rubric): (came,)} if came else {}


def test_who_came_by_the_end_of_grace_came_back_and_only_ended_ones_are_counted() -> None:
    due = date(2026, 9, 1)
    cases = [
        ran_out(1, due, date(2026, 8, 1)),
        ran_out(2, due, date(2026, 10, 1)),  # the last day of grace
        ran_out(3, due, date(2026, 10, 2)),  # the day after
        ran_out(4, due, None),
        ran_out(5, date(2026, 10, 20), None),  # grace ends today
        ran_out(6, date(2026, 10, 19), None),  # and did so yesterday
    ]
    lessons = {whose: days for _, came in cases for whose, days in came.items()}
    history = past([one for one, _ in cases], lessons=lessons)
    found = came_back(history, PRIOR)

    assert (found.yes, found.of) == (2, 5)
    assert found.mean == (8 + 2) / 15


def test_months_in_which_a_late_holder_could_come_end_with_the_one_in_which_she_came() -> None:
    cases = [
        ran_out(1, date(2026, 5, 10), date(2026, 8, 3)),  # grace until June: July, August
        ran_out(2, date(2026, 7, 10), None),  # until August: September, October
        ran_out(3, date(2026, 9, 25), None),  # until October: November is not over
        ran_out(4, date(2026, 5, 10), date(2026, 5, 1)),  # came back in time
        ran_out(5, date(2023, 5, 10), None),  # gone after 24 months
        # By a practical: April to October.
        ran_out(6, date(2026, 2, 10), date(2026, 10, 3), "bar-1"),
        ran_out(7, date(2026, 5, 10), date(2026, 6, 20)),  # in the month in which grace ended: one
        ran_out(8, date(2023, 2, 10), date(2026, 3, 1)),  # after all had given her up
    ]
    lessons = {whose: days for _, came in cases for whose, days in came.items()}
    history = past([one for one, _ in cases], lessons=lessons)
    found = came_late(history, Share(0.03, 10))

    assert (found.yes, found.of) == (3, 2 + 2 + 0 + 24 + 7 + 1 + 24)


def test_what_took_the_place_of_an_award_shows_that_its_holder_came() -> None:
    old = award(1, award_dates(USUAL, date(2025, 9, 1)))
    new = award(2, award_dates(USUAL, date(2026, 8, 20)), renews=old.id)

    assert (came_back(past([old, new]), PRIOR).yes, came_back(past([old]), PRIOR).yes) == (1, 0)


def test_who_is_in_time_comes_as_early_as_the_middle_one_did_but_not_before_it_opens() -> None:
    due = date(2026, 9, 20)
    cases = [ran_out(n, due, date(2026, month, 25)) for n, month in enumerate((8, 6, 3), 1)]
    late = ran_out(4, due, date(2026, 10, 20))
    ahead = award(5, award_dates(USUAL, date(2026, 5, 30)))  # opens 2027-03-30, due 2027-05-30
    lessons = {whose: days for _, came in (*cases, late) for whose, days in came.items()}
    history = past([ahead, *(one for one, _ in (*cases, late))], lessons=lessons)
    course, _ = courses(history, date(2028, 6, 30))
    held = [term for term in course.terms if term.held]

    assert came_early(history) == 3
    assert came_early(past()) == 0
    assert [(term.due, term.late_from) for term in held] == [(4, 8)]
    assert [course.terms[term.kept].due for term in held if term.kept is not None] == [16]


def test_a_top_up_keeps_no_award_and_its_dates_count_once() -> None:
    """It takes the award's place with the same days; who keeps those is still to be seen."""
    old = award(1, award_dates(USUAL, date(2025, 9, 1)))
    same = topped_up_dates(old.dates, date(2026, 1, 10))
    new = award(2, same, renews=old.id, candidate=old.candidate)
    found = came_back(past([old, new]), PRIOR)

    assert (found.yes, found.of) == (0, 1)
    assert came_early(past([old, new])) == 0


def test_tries_lessons_beyond_the_least_and_waits_are_counted_by_kind() -> None:
    first = replace(ended("bar-1", date(2026, 1, 10), more=1), next_lesson=date(2026, 4, 20))
    tries = {
        ("cato", "bar-1"): (first, ended("bar-1", date(2026, 5, 1), passed=True)),
        ("ann", "bar-1"): (ended("bar-1", date(2026, 5, 1), stopped=True),),
        ("ann", "bar-again"): (ended("bar-again", date(2026, 6, 1), passed=True, more=2),),
        ("cy", "bar-1"): (
            replace(ended("bar-1", date(2026, 9, 1), stopped=True), next_lesson=date(2026, 11, 19)),
        ),
        ("bo", "bar-1"): (ended("bar-1", date(2026, 10, 1), stopped=True),),
    }
    found = habits(past(tries=tries), Forecast())
    again, extra = found.again, found.extra

    assert (again["practical"].yes, again["practical"].of) == (4, 5)
    assert (again["refresher"].yes, again["refresher"].of) == (0, 1)
    assert (extra["practical"].count, extra["practical"].over) == (1, 2)
    assert (extra["refresher"].count, extra["refresher"].over) == (2, 1)
    assert found.again_after == {"practical": 3, "refresher": 2}
    # Two came back and one did not within half a year; a stop of October may still be open.
    assert (found.gives_up.yes, found.gives_up.of) == (1, 3)


def firsts(*days: date) -> dict[tuple[str, str], tuple[date, ...]]:
    return {(f"new-{n}", "bar-1"): (day, day + timedelta(days=9)) for n, day in enumerate(days)}


def test_newcomers_are_counted_after_the_very_first() -> None:
    history = past(lessons=firsts(date(2025, 11, 20), date(2026, 1, 1), date(2026, 8, 1)))
    found = newcomers(history, "bar-1", None, Rate(0.5, 3))

    assert found.count == 2
    assert found.over == pytest.approx(12, abs=0.01)
    assert newcomers(history, "bar-1", ["new-0", "new-2"], Rate(0.5, 3)).count == 1
    assert newcomers(history, "bar-1", ["new-0"], Rate(0.5, 3)).count == 0
    assert newcomers(past(), "bar-1", None, Rate(0.5, 3)) == Rate(0.5, 3)


@pytest.mark.parametrize(
    ("begun", "counts"),
    [
        pytest.param(date(2023, 11, 30), None, id="35 whole months"),
        pytest.param(date(2023, 10, 31), (0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0), id="three years"),
        pytest.param(date(2022, 10, 31), (0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0), id="four years"),
    ],
)
def test_calendar_months_are_told_from_three_whole_years_on(
    begun: date, counts: tuple[int, ...] | None
) -> None:
    """The month in which the rubric began and the one that is not over are left out."""
    days = (begun, date(2023, 11, 30), date(2026, 6, 5), date(2026, 11, 3))
    history = past(lessons=firsts(*days))

    assert by_calendar_month(history, "bar-1", None) == counts


def test_newcomers_who_come_in_groups_are_told_from_those_who_come_alone() -> None:
    """A group each October: uneven, but for a season that says so."""
    groups = [date(year, 10, day) for year in range(2021, 2026) for day in range(1, 9)]
    alone = [date(2021 + n // 12, n % 12 + 1, 9) for n in range(60)]
    in_groups = past(lessons=firsts(date(2021, 8, 1), *groups))
    seasons = by_calendar_month(in_groups, "bar-1", None)

    assert months_vary(past(lessons=firsts(*alone)), "bar-1", None, 10) == 1
    assert months_vary(in_groups, "bar-1", None, 10) > 5
    assert seasons is not None
    assert (
        1 < months_vary(in_groups, "bar-1", seasons, 10) < months_vary(in_groups, "bar-1", None, 10)
    )
    assert months_vary(in_groups, "bar-1", seasons, 0.1) == 1
    assert months_vary(past(), "bar-1", None, 10) == 1


def test_of_the_first_month_only_what_is_left_lies_ahead() -> None:
    months = Ahead(date(2026, 11, 21), date(2027, 2, 28)).months

    assert months.calendar == (11, 12, 1, 2)
    assert months.parts == (10 / 30, 1, 1, 1)
