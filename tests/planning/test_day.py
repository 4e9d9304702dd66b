"""The best plan of a day, held against every plan that there is and against its own rules."""

from __future__ import annotations

import random
from itertools import combinations

import pytest
from hypothesis import given, settings
from tests.planning.made import (
    Made,
    asked,
    broken,
    days,
    every_plan,
    in_one_piece,
    unhurried,
    worth_of,
)

from standfast.engine.planning.day import AIMS, SAME, Plan, best_plan
from standfast.engine.planning.lessons import Lesson, all_linked, links, loads, measures
from standfast.engine.planning.programme import Programme, Unsettled, Watch, first_in_order
from standfast.engine.planning.wishes import day_of, unmet

UNHURRIED = settings(deadline=None, max_examples=60)


def planned(made: Made, watch: Watch | None = None) -> Plan | None:
    return best_plan(day_of(made.asked, made.trainers, {}), watch or unhurried())


def rank(lessons: tuple[Lesson, ...]) -> tuple[object, ...]:
    """What decides between equally good plans: which lessons take place, then who teaches which."""
    spots = sorted((lesson.slot, lesson.assessors) for lesson in lessons)
    taught = {lesson.candidate: (lesson.slot, lesson.assessors) for lesson in lessons}
    return spots, [taught[who] for who in sorted(taught)]


@UNHURRIED
@given(days())
def test_no_other_plan_is_better_and_of_equal_ones_it_is_the_first(made: Made) -> None:
    fitting = [plan for plan in every_plan(made, all_teach=True) if not broken(made, plan)]
    best = min(fitting, key=lambda plan: (worth_of(made, plan), rank(plan)), default=None)

    found = planned(made)

    assert (found.lessons if found else None) == best
    assert found is None or found.unproved == ()


def larger(seed: int) -> Made:
    """A day that is too large to try every plan."""
    chance = random.Random(seed)
    count, scoring, teaching = chance.randint(4, 6), chance.randint(3, 6), chance.randint(5, 9)
    names = [f"s{n}" for n in range(count)]

    def free() -> dict[str, list[str]]:
        return {"free": chance.sample(names, chance.randint(count - 2, count))}

    people = [f"a{n}" for n in range(scoring)]
    day = asked(
        [{"assessor": who, **free()} for who in people],
        [{"candidate": f"c{n}", **free()} for n in range(teaching)],
        count,
        rooms=chance.randint(2, 3),
        double=chance.choice([0.25, 0.5, 0.7]),
        apart=[{"assessor": "a0", "candidate": f"c{chance.randrange(teaching)}"}],
    )
    return Made(day, {f"c{n}": frozenset({chance.choice(people)}) for n in range(teaching)})


WITH_A_PLAN = (0, 2, 3, 4, 5, 6, 7, 9, 10, 12)


@pytest.mark.parametrize("seed", WITH_A_PLAN)
def test_a_plan_breaks_no_rule_when_all_are_counted_again(seed: int) -> None:
    made = larger(seed)

    found = planned(made)

    assert found is not None
    assert broken(made, found.lessons) == set()
    assert worth_of(made, found.lessons) == (
        found.worth.sheets,
        found.worth.difference,
        found.worth.gaps,
        found.worth.finish,
    )


@pytest.mark.parametrize("seed", WITH_A_PLAN[:4])
def test_the_order_of_the_file_does_not_matter(seed: int) -> None:
    made, chance = larger(seed), random.Random(seed)
    day = made.asked
    turned = day.model_copy(
        update={
            key: tuple(chance.sample(getattr(day, key), len(getattr(day, key))))
            for key in ("slots", "assessors", "candidates")
        }
    )

    assert planned(Made(turned, made.trainers)) == planned(made)


@UNHURRIED
@given(days())
def test_wishes_are_met_exactly_when_no_rule_of_the_file_is_broken(made: Made) -> None:
    day = day_of(made.asked, made.trainers, {})
    for lessons in list(every_plan(made, all_teach=False))[::7]:
        assert (unmet(day.wishes, lessons, day) == ()) == (broken(made, lessons) == set())


def test_a_trainer_scores_beside_somebody_else_but_never_alone() -> None:
    alone = Made(asked(1, 1, 1), {"c0": frozenset({"a0"})})
    beside = Made(asked(2, 1, 1, double=1), {"c0": frozenset({"a0"})})
    never = Made(asked(2, 1, 1, double=1, trainers="never"), {"c0": frozenset({"a0"})})
    both = Made(asked(2, 1, 1, double=1), {"c0": frozenset({"a0", "a1"})})

    assert planned(alone) is None
    assert planned(beside) is not None
    assert planned(never) is None
    assert planned(both) is None


@pytest.mark.parametrize(
    ("trainers", "tied", "possible"),
    [
        pytest.param((), ("a0",), True, id="beside somebody without a tie"),
        pytest.param((), ("a0", "a1"), False, id="both tied"),
        pytest.param(("a1",), ("a0",), False, id="beside a trainer"),
        pytest.param(("a0",), ("a0",), True, id="trainer and tied, beside somebody free of both"),
    ],
)
def test_a_tie_that_is_allowed_needs_somebody_independent_beside(
    trainers: tuple[str, ...], tied: tuple[str, ...], possible: bool
) -> None:
    made = {"c0": frozenset(trainers)}
    day = day_of(asked(2, 1, 1, double=1), made, {}, {"c0": frozenset(tied)})

    assert (best_plan(day, unhurried()) is not None) is possible
    alone = day_of(asked(1, 1, 1), {}, {}, {"c0": frozenset({"a0"})})
    assert best_plan(alone, unhurried()) is None


def test_a_conflict_of_interest_keeps_apart_beside_others_too() -> None:
    day = asked(2, 1, 1, double=1)

    found = best_plan(day_of(day, {}, {("a0", "c0"): "conflict of interest"}), unhurried())

    assert found is None


@pytest.mark.parametrize(
    ("double", "least"),
    [
        pytest.param(0.5, 2, id="half of three is rounded up"),
        pytest.param(0.33, 1, id="just under a third"),
        pytest.param(0.34, 2, id="just over a third"),
        pytest.param(1, 3, id="all"),
    ],
)
def test_enough_are_scored_by_two_and_no_more_than_enough(double: float, least: int) -> None:
    found = planned(Made(asked(2, 3, 3, double=double, linked=False), {}))

    assert found is not None
    assert sum(len(lesson.assessors) == 2 for lesson in found.lessons) == least


def test_assessors_who_have_nothing_to_do_are_not_linked() -> None:
    lessons = (Lesson(0, ("a0", "a1"), "c0"),)

    assert all_linked(lessons, ("a0", "a1"))
    assert not all_linked(lessons, ("a0", "a1", "a2"))


@given(days())
def test_linking_is_what_another_walk_over_the_graph_finds(made: Made) -> None:
    assessors = sorted(one.assessor for one in made.asked.assessors)
    for lessons in list(every_plan(made, all_teach=False))[::11]:
        assert all_linked(lessons, assessors) == in_one_piece(assessors, lessons)


def test_links_name_the_candidates_whom_both_score() -> None:
    lessons = (
        Lesson(0, ("a0", "a1"), "c1"),
        Lesson(1, ("a0", "a1"), "c0"),
        Lesson(2, ("a1", "a2"), "c2"),
    )

    assert links(lessons) == {("a0", "a1"): ("c0", "c1"), ("a1", "a2"): ("c2",)}


def test_gaps_are_slots_between_the_first_lesson_and_the_last() -> None:
    lessons = (Lesson(0, ("a0",), "c0"), Lesson(3, ("a0", "a1"), "c1"))

    assert [load.gaps for load in loads(lessons, ("a0", "a1", "a2"))] == [2, 0, 0]
    assert measures(lessons, ("a0", "a1", "a2")).finish == 4


@pytest.mark.slow
def test_a_day_of_eight_assessors_and_twelve_candidates_is_settled() -> None:
    """Six slots, two rooms, all free: nothing makes it easy."""
    made = Made(
        asked(8, 12, 6, rooms=2, double=0.5), {f"c{n}": frozenset({f"a{n % 8}"}) for n in range(12)}
    )

    found = planned(made)

    assert found is not None
    assert found.unproved == ()
    assert broken(made, found.lessons) == set()
    assert found.worth.sheets == 12 + 7  # a tree over eight assessors has seven links
    assert found.worth.difference == 1  # nineteen scorings over eight assessors


def test_when_time_is_over_before_any_plan_it_is_said() -> None:
    made = Made(asked(2, 2, 2), {})

    with pytest.raises(Unsettled, match="--seconds"):
        planned(made, Watch(lambda: 0.0, lambda _: None))


def test_when_time_is_over_for_the_finish_the_rooms_are_not_left_empty_all_morning() -> None:
    made = Made(asked(5, 8, 16, rooms=2, double=0.5), {})
    left = iter([60.0] * 2)  # for the scorings and the load

    found = planned(made, Watch(lambda: next(left, 0.0), lambda _: None))

    assert found is not None
    assert found.unproved == (*AIMS, SAME)[2:]
    assert found.worth.gaps == 0
    assert found.worth.finish <= 6


@pytest.mark.parametrize("asks", range(1, 7))
def test_when_time_is_over_later_the_plan_says_what_is_not_proved(asks: int) -> None:
    made = larger(3)
    left = iter([60.0] * asks)

    found = planned(made, Watch(lambda: next(left, 0.0), lambda _: None))

    assert found is not None
    assert broken(made, found.lessons) == set()
    assert found.unproved == (*AIMS, SAME)[min(asks, 4) :]


def test_the_first_of_several_answers_has_its_ones_as_early_as_can_be() -> None:
    programme = Programme()
    variables = [programme.variable() for _ in range(30)]
    for one, other in combinations(variables[:3], 2):
        programme.row({one: 1, other: 1}, 0, 1)
    programme.row(dict.fromkeys(variables, 1), 4, 4)

    values = first_in_order(programme, variables, unhurried())

    assert values is not None
    assert [n for n, value in enumerate(values) if value] == [0, 3, 4, 5]


def test_a_programme_without_an_answer_has_none() -> None:
    programme = Programme()
    one = programme.variable()
    programme.row({one: 2}, 1, 1)

    assert programme.solve({}, unhurried()) is None
    assert first_in_order(programme, [one], unhurried()) is None
