"""A plan for which time was over is moved together and earlier, and breaks no wish by that."""

from __future__ import annotations

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from tests.planning.made import Made, asked, broken, days, every_plan, worth_of

from standfast.engine.planning.lessons import Lesson
from standfast.engine.planning.moving import moved
from standfast.engine.planning.wishes import day_of


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.filter_too_much])
@given(days(), st.integers(0, 10**6))
def test_a_moved_plan_is_no_worse_and_breaks_no_rule(made: Made, chosen: int) -> None:
    plans = [one for one in every_plan(made, all_teach=True) if not broken(made, one)]
    assume(plans)
    lessons = plans[chosen % len(plans)]

    found = moved(lessons, day_of(made.asked, made.trainers, {}))

    assert broken(made, found) == set()
    assert worth_of(made, found) <= worth_of(made, lessons)
    who = sorted((lesson.assessors, lesson.candidate) for lesson in lessons)
    assert sorted((lesson.assessors, lesson.candidate) for lesson in found) == who


def finishes(made: Made, lessons: list[Lesson]) -> tuple[int, int]:
    """Gaps and finish once moved."""
    found = moved(lessons, day_of(made.asked, made.trainers, {}))
    *_, gaps, finish = worth_of(made, found)
    return gaps, finish


def test_a_plan_that_begins_at_noon_begins_in_the_morning() -> None:
    made = Made(asked(1, 3, 12, linked=False), {})
    late = [Lesson(6, ("a0",), "c0"), Lesson(8, ("a0",), "c1"), Lesson(11, ("a0",), "c2")]

    assert finishes(made, late) == (0, 3)


def test_two_rooms_are_filled_at_once() -> None:
    made = Made(asked(2, 4, 12, rooms=2, linked=False), {})
    late = [Lesson(n + 4, (f"a{n % 2}",), f"c{n}") for n in range(4)]

    assert finishes(made, late) == (0, 2)


def test_nobody_is_moved_to_where_they_are_not_free() -> None:
    candidates = [{"candidate": "c0", "free": ["s5"]}, {"candidate": "c1"}]
    made = Made(asked(1, candidates, 8, linked=False), {})
    late = [Lesson(5, ("a0",), "c0"), Lesson(7, ("a0",), "c1")]

    assert finishes(made, late) == (0, 6)
