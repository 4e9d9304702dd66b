"""An assessor's sheet beside what a panel agreed on."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine import made

from standfast.engine.calibrating import RULE, Carried, Found, OfCriterion, calibrate, carried
from standfast.model.approval import Calibration, ReferenceScore
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet

SYLLABUS = made.syllabus()
MANY = made.rubric(*(made.rating(f"level-{n}") for n in range(20)))


def found(
    sheet: Sheet,
    *panel: Sheet,
    rubric: Rubric | None = None,
    before: Carried = Carried(),  # noqa: B008 - frozen
) -> Found:
    return calibrate(rubric or made.rubric(), SYLLABUS, panel, sheet, before)


def of(answer: Found, criterion: str) -> OfCriterion:
    return next(one for one in answer.criteria if one.criterion == criterion)


def levels(wrong: int = 0, *, seen: int = 20) -> tuple[object, ...]:
    """Level 3 of each criterion, 1 of the first few, and the last ones not seen."""
    return made.marks(
        **{f"level-{n}": 1 if n < wrong else 3 if n < seen else None for n in range(20)}
    )


def many(number: int, wrong: int = 0, *, seen: int = 20) -> Sheet:
    return made.sheet(
        number, ratings=levels(wrong, seen=seen), attempts=(), clearances=(), samples=()
    )


def test_the_same_marks_as_the_panel_on_every_criterion_are_in_step() -> None:
    answer = found(many(3), many(1), many(2), rubric=MANY)

    assert (answer.result, answer.trials, answer.misses) == ("in step", 20, 0)
    assert answer.marks == (20, 20)
    assert answer.more_to_settle == 0


@pytest.mark.parametrize(
    ("wrong", "result"),
    [(1, "in step"), (3, "not settled"), (5, "not settled"), (6, "not in step")],
)
def test_the_rule_is_the_sequential_test_over_criteria(wrong: int, result: str) -> None:
    answer = found(many(3, wrong), many(1), many(2), rubric=MANY)

    assert answer.misses == wrong
    assert answer.result == result
    assert {"accept": "in step", "reject": "not in step", "go on": "not settled"}[
        RULE.verdict(wrong, 20)
    ] == result


def test_what_is_not_settled_counts_on_and_says_what_would_settle_it() -> None:
    few = found(many(3, seen=8), many(1), many(2), rubric=MANY)
    assert (few.result, few.trials, few.more_to_settle) == ("not settled", 8, 4)

    again = found(many(3, seen=4), many(1), many(2), rubric=MANY, before=Carried(8, 0))
    assert (again.result, again.trials) == ("in step", 4)


def test_what_the_panel_does_not_agree_on_is_nobodys_miss() -> None:
    answer = found(many(3, 1), many(1), many(2, 1), rubric=MANY)

    assert (answer.split, answer.trials, answer.misses) == (1, 19, 0)


def test_of_three_the_majority_is_agreed() -> None:
    answer = found(many(4, 1), many(1), many(2), many(3, 1), rubric=MANY)

    assert (answer.split, answer.misses) == (0, 1)
    assert of(answer, "level-0").misses[0].agreed == "level 3"
    assert answer.lower_and_higher == (1, 0)


def test_who_marks_everything_yes_sees_no_lapse_however_alike_it_is() -> None:
    lapses = made.tries(["yes"] * 38 + ["no"] * 2)
    panel = [made.sheet(n, attempts=lapses) for n in (1, 2)]
    blind = found(made.sheet(3, attempts=made.tries(["yes"] * 40)), *panel)
    half = found(made.sheet(3, attempts=made.tries(["yes"] * 38 + ["no", "yes"])), *panel)

    assert (of(blind, "place").alike, of(blind, "place").as_agreed) == (38, False)
    assert (of(half, "place").telling_seen, of(half, "place").as_agreed) == (1, True)


def test_what_could_not_be_seen_from_where_she_stood_does_not_count() -> None:
    panel = [made.sheet(n) for n in (1, 2)]
    answer = found(made.sheet(3, attempts=made.tries(["unseen"] * 5 + ["yes"] * 7)), *panel)

    assert (of(answer, "place").agreed, of(answer, "place").unseen) == (7, 5)
    assert of(answer, "place").as_agreed


def test_a_try_that_she_did_not_mark_is_a_miss() -> None:
    panel = [made.sheet(n) for n in (1, 2)]
    answer = found(made.sheet(3, attempts=made.tries(["yes"] * 8)), *panel)

    assert [miss.marked for miss in of(answer, "place").misses] == ["not marked"] * 4
    assert not of(answer, "place").as_agreed


def test_looks_within_a_tenth_are_alike() -> None:
    panel = [made.sheet(n, samples=made.looks([(2, 10)] * 6)) for n in (1, 2)]
    near = found(made.sheet(3, samples=made.looks([(3, 10)] * 6)), *panel)
    far = found(made.sheet(3, samples=made.looks([(4, 10)] * 6)), *panel)

    assert of(near, "busy").as_agreed
    assert not of(far, "busy").as_agreed


def test_a_student_let_go_too_early_that_she_did_not_record_is_grave() -> None:
    early = made.choices(["let-go"], student="S3", skill="sit")
    panel = [made.sheet(n, clearances=early) for n in (1, 2)]
    answer = found(made.sheet(3, clearances=()), *panel)

    assert answer.result == "not in step"
    assert answer.grave == ("ready, choice 1 for S3 at sit: not marked, agreed: let-go",)


def test_a_stopping_incident_that_she_did_not_record_is_grave() -> None:
    panel = [made.sheet(n, incidents=made.incidents("drop")) for n in (1, 2)]

    assert found(made.sheet(3), *panel).result == "not in step"
    assert not found(made.sheet(3, incidents=made.incidents("drop")), *panel).grave


def test_an_incident_that_nobody_recorded_is_no_trial() -> None:
    answer = found(made.sheet(3), made.sheet(1), made.sheet(2))

    assert {"left", "drop"} & {one.criterion for one in answer.criteria} == set()


def test_an_incident_that_only_she_recorded_is_otherwise_but_not_grave() -> None:
    answer = found(made.sheet(3, incidents=made.incidents("left")), made.sheet(1), made.sheet(2))

    assert not of(answer, "left").as_agreed
    assert answer.grave == ()


marked = st.lists(st.integers(1, 4), min_size=20, max_size=20)


@given(st.lists(marked, min_size=2, max_size=5), marked, st.randoms())
def test_the_order_of_the_panel_does_not_matter(
    panel: Sequence[Sequence[int]], own: Sequence[int], chance: object
) -> None:
    def sheet(number: int, given_levels: Sequence[int]) -> Sheet:
        ratings = made.marks(**{f"level-{n}": level for n, level in enumerate(given_levels)})
        return made.sheet(number, ratings=ratings, attempts=(), clearances=(), samples=())

    sheets = [sheet(n, one) for n, one in enumerate(panel, 1)]
    mixed = list(sheets)
    chance.shuffle(mixed)  # type: ignore[attr-defined] # hypothesis hands in a Random

    assert found(sheet(99, own), *sheets, rubric=MANY) == found(sheet(99, own), *mixed, rubric=MANY)


@given(marked)
def test_a_panel_of_one_mind_finds_itself_in_step(given_levels: Sequence[int]) -> None:
    ratings = made.marks(**{f"level-{n}": level for n, level in enumerate(given_levels)})
    sheets = [
        made.sheet(n, ratings=ratings, attempts=(), clearances=(), samples=()) for n in (1, 2, 3)
    ]

    assert found(sheets[2], *sheets[:2], rubric=MANY).result == "in step"


def scored(result: str, trials: int = 10, misses: int = 1, **other: object) -> ReferenceScore:
    calibration = Calibration(
        rubric=made.HASH,
        syllabus=made.HASH,
        panel=(made.key(1), made.key(2)),
        sheet=made.sheet(3),
        trials=trials,
        misses=misses,
    )
    return ReferenceScore.model_validate(
        {
            "assessor": "ann",
            "rubric": "bar-1",
            "practical": "hall",
            "on": made.ON,
            "result": result,
            "by": "zoe",
            "because": "so",
            "calibration": calibration,
            **other,
        }
    )


def test_only_what_came_after_the_last_settled_result_counts_on() -> None:
    earlier = [
        scored("not settled"),
        scored("in step"),
        scored("not settled", 8, 2),
        scored("not settled", 5, 1),
        scored("not settled", 99, 9, assessor="bo"),
        scored("not settled", 99, 9, rubric="bar-2"),
    ]

    assert carried(earlier, "ann", "bar-1") == Carried(13, 3)
    assert carried([*earlier, scored("in step", calibration=None)], "ann", "bar-1") == Carried()
