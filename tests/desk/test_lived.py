"""Tries are told from decisions and lessons, however often a decision was entered."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import pytest
from tests.engine import made

from standfast.desk.lived import Try, tries_of
from standfast.store.taught import Decided

RUBRIC = made.rubric(decision={"practicals": 2, "window": "P6M"})
MARCH, APRIL = date(2026, 3, 10), date(2026, 4, 10)


def tries(decided: Sequence[tuple[str, date]], lessons: Sequence[date]) -> list[Try]:
    rows = [Decided("cato", "bar-1", made.HASH, day, outcome, "e") for outcome, day in decided]
    return list(tries_of(rows, lessons, {made.HASH: RUBRIC}.get))


def test_a_try_has_the_lessons_since_the_one_before_it_and_knows_the_next() -> None:
    lessons = [date(2026, 2, 1), date(2026, 3, 1), MARCH, date(2026, 4, 1), date(2026, 4, 9)]
    found = tries([("fail", MARCH), ("pass", APRIL)], lessons)

    assert found == [
        Try("bar-1", MARCH, passed=False, stopped=False, more=1, next_lesson=date(2026, 4, 1)),
        Try("bar-1", APRIL, passed=True, stopped=False, more=0, next_lesson=None),
    ]


@pytest.mark.parametrize(
    "decided",
    [
        pytest.param([("pass", MARCH), ("pass", APRIL)], id="entered twice"),
        pytest.param([("more", date(2026, 2, 2)), ("pass", MARCH)], id="more evidence before"),
        pytest.param([("pass", MARCH), ("fail", MARCH)], id="twice on one day"),
    ],
)
def test_what_has_no_lesson_of_its_own_or_ends_nothing_is_no_try(
    decided: list[tuple[str, date]],
) -> None:
    found = tries(decided, [date(2026, 2, 1), date(2026, 3, 1)])

    assert [(one.on, one.passed, one.more) for one in found] == [(MARCH, True, 0)]


def test_a_stop_is_a_try_and_lessons_out_of_the_window_are_none_of_it() -> None:
    old, new = date(2025, 9, 10), date(2025, 9, 11)
    (found,) = tries([("stopped", MARCH)], [date(2025, 9, 9), old, new, date(2026, 1, 1), MARCH])

    assert (found.stopped, found.passed, found.more) == (True, False, 2)


def test_a_rubric_that_the_book_does_not_keep_tells_nothing() -> None:
    rows = [Decided("cato", "bar-1", "f" * 64, MARCH, "pass", "e")]

    assert list(tries_of(rows, [date(2026, 3, 1)], {made.HASH: RUBRIC}.get)) == []
