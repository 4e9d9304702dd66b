"""The smallest set of wishes that clash, held against every set of wishes that there is."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import HealthCheck, assume, given, settings
from tests.planning.made import Made, asked, days, every_plan, unhurried

from standfast.engine.planning.clash import smallest_clash, smallest_hitting
from standfast.engine.planning.programme import Unsettled, Watch
from standfast.engine.planning.wishes import Day, Wish, day_of, unmet


def met_together(made: Made, day: Day) -> set[frozenset[Wish]]:
    """For every set of lessons, the wishes that it meets."""
    return {
        frozenset(day.wishes) - set(unmet(day.wishes, lessons, day))
        for lessons in every_plan(made, all_teach=False)
    }


@settings(deadline=None, max_examples=80, suppress_health_check=[HealthCheck.filter_too_much])
@given(days())
def test_no_smaller_set_clashes_and_of_equal_ones_it_is_the_first(made: Made) -> None:
    day = day_of(made.asked, made.trainers, {})
    met = met_together(made, day)
    assume(frozenset(day.wishes) not in met)
    smallest = next(
        chosen
        for size in range(len(day.wishes) + 1)
        for chosen in combinations(day.wishes, size)
        if not any(set(chosen) <= possible for possible in met)
    )

    clash = smallest_clash(day, unhurried())

    assert clash.wishes == smallest
    assert clash.enough == tuple(
        any(set(day.wishes) - {wish} <= possible for possible in met) for wish in smallest
    )


def clash_of(day_asked: Made) -> list[str]:
    day = day_of(day_asked.asked, day_asked.trainers, {})
    return [wish.says for wish in smallest_clash(day, unhurried()).wishes]


def test_too_many_for_the_rooms_is_said_as_such() -> None:
    assert clash_of(Made(asked(3, 5, 2, rooms=2, linked=False), {})) == [
        "at most 2 lessons at the same time",
        "each of the 5 candidates teaches a lesson",
    ]


def test_too_many_for_all_assessors_is_one_wish_alone() -> None:
    assert clash_of(Made(asked(1, 3, 2, rooms=3), {})) == [
        "each of the 3 candidates teaches a lesson"
    ]


def test_two_who_are_free_at_the_same_time_only_are_both_named() -> None:
    candidates = [
        {"candidate": "ada", "free": ["s0"]},
        {"candidate": "ben", "free": ["s0"]},
        {"candidate": "eve", "free": ["s1"]},
    ]

    assert clash_of(Made(asked(2, candidates, 3, linked=False), {})) == [
        "at most one lesson at the same time",
        "ada is free only in s0",
        "ben is free only in s0",
        "each of the 3 candidates teaches a lesson",
    ]


def test_assessors_who_never_meet_cannot_be_linked() -> None:
    assessors = [{"assessor": "a0", "free": ["s0"]}, {"assessor": "a1", "free": ["s1"]}]

    assert clash_of(Made(asked(assessors, 2, 2), {})) == [
        "each of the 2 assessors scores, and all are linked by shared candidates",
        "a0 is free only in s0",
        "a1 is free only in s1",
    ]


def test_a_clash_with_what_is_in_the_record_book_says_so() -> None:
    day = day_of(asked(1, 1, 1), {"c0": frozenset({"a0"})}, {})

    clash = smallest_clash(day, unhurried())

    assert [(wish.kind, wish.stands) for wish in clash.wishes] == [
        ("seen", False),
        ("beside", True),
    ]


@settings(deadline=None, max_examples=20)
@given(days(most=2))
def test_the_smallest_hitting_set_is_the_first_of_all_sets_by_size(made: Made) -> None:
    day = day_of(made.asked, made.trainers, {})
    sets = [frozenset(day.wishes[start::3]) for start in range(3) if day.wishes[start::3]]
    sets.append(frozenset(day.wishes[:2]))
    smallest = next(
        chosen
        for size in range(len(day.wishes) + 1)
        for chosen in combinations(day.wishes, size)
        if all(set(chosen) & one for one in sets)
    )

    assert smallest_hitting(day.wishes, sets, unhurried()) == smallest


def test_nothing_is_said_to_be_smallest_when_time_was_over() -> None:
    day = day_of(asked(3, 5, 2, rooms=2), {}, {})
    left = iter([60.0] * 6)

    with pytest.raises(Unsettled):
        smallest_clash(day, Watch(lambda: next(left, 0.0), lambda _: None))
