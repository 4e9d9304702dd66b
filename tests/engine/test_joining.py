"""Two assessors, one practical: what their marks become, and what they did not agree on."""

from __future__ import annotations

from typing import Any

import pytest
from tests.engine.made import (
    attempts,
    choices,
    clearances,
    incident,
    incidents,
    key,
    looks,
    marks,
    rating,
    rubric,
    samples,
    sheet,
    student,
    syllabus,
    tries,
)

from standfast.engine.joining import joined
from standfast.engine.policies import joined_answer, joined_look, joined_mark, joined_verdict
from standfast.engine.tallies import Answers, Choices, Incidents, Looks, Marks, Tally
from standfast.model.decision import Disagreement
from standfast.model.rubric import Criterion, JoiningPolicy
from standfast.model.sheet import Sheet


def join(
    criterion: Criterion, *groups: tuple[Sheet, ...], **policy: str
) -> tuple[Tally, tuple[Disagreement, ...]]:
    made = rubric(criterion, joining=JoiningPolicy.model_validate(policy))
    found = joined(made, syllabus(), groups)[criterion.id]
    return found.tally, found.disagreements


@pytest.mark.parametrize(
    ("answers", "lower", "majority", "higher"),
    [
        (["yes", "no"], "no", "no", "yes"),
        (["yes", "yes", "no"], "no", "yes", "yes"),
        (["yes", "unseen"], "yes", "yes", "yes"),
        (["no", "unseen"], "no", "no", "no"),
        (["unseen", "unseen"], "unseen", "unseen", "unseen"),
        (["yes", "yes"], "yes", "yes", "yes"),
        (["no", "no", "yes"], "no", "no", "yes"),
    ],
)
def test_answers_join_by_the_policy(
    answers: list[Any], lower: str, majority: str, higher: str
) -> None:
    found = [joined_answer(answers, p) for p in ("lower", "majority", "higher")]

    assert found == [lower, majority, higher]


@pytest.mark.parametrize(
    ("verdicts", "lower", "majority", "higher"),
    [
        (["true clear", "false clear"], "false clear", "false clear", "true clear"),
        (["true hold", "false hold"], "false hold", "false hold", "true hold"),
        (["false hold", "false clear"], "false clear", "false clear", "false hold"),
        (["true clear", "true clear", "false clear"], "false clear", "true clear", "true clear"),
    ],
)
def test_a_false_clear_is_worse_than_a_false_hold(
    verdicts: list[Any], lower: str, majority: str, higher: str
) -> None:
    found = [joined_verdict(verdicts, p) for p in ("lower", "majority", "higher")]

    assert found == [lower, majority, higher]


def test_levels_and_looks_join_by_the_policy() -> None:
    assert [joined_mark((2, 3, 4), p) for p in ("lower", "majority", "higher")] == [2, 3, 4]
    assert [joined_mark((2, 4), p) for p in ("lower", "majority", "higher")] == [2, 2, 4]
    thirds = [(1, 3), (0, 3), (2, 3)]
    assert [joined_look(thirds, p) for p in ("lower", "majority", "higher")] == [
        (2, 3),
        (1, 3),
        (0, 3),
    ]


def test_attempts_pair_by_student_skill_and_turn_and_not_by_the_clock() -> None:
    one = sheet(1, attempts=(*tries(["yes"]), *tries(["yes", "no"], student="S2")))
    late = tuple(a.model_copy(update={"at": a.at + 11}) for a in one.attempts)
    tally, differ = join(attempts(), (one, sheet(2, attempts=late)))

    assert tally == Answers(yes=2, no=1, sheets=(key(1), key(2)))
    assert differ == ()


def test_yes_against_no_is_counted_lower_and_listed() -> None:
    one, two = sheet(1, attempts=tries(["yes", "yes"])), sheet(2, attempts=tries(["yes", "no"]))
    tally, (differ,) = join(attempts(), (one, two))

    assert isinstance(tally, Answers)
    assert (tally.yes, tally.no) == (1, 1)
    assert differ.about == "try 2 of S1 at hang"
    assert [(mark.sheet, mark.mark) for mark in differ.marks] == [(key(1), "yes"), (key(2), "no")]
    assert differ.joined == "no"


def test_could_not_be_seen_against_yes_is_no_disagreement() -> None:
    one, two = sheet(1, attempts=tries(["yes"])), sheet(2, attempts=tries(["unseen"]))
    tally, differ = join(attempts(), (one, two))

    assert tally == Answers(yes=1, sheets=(key(1),))
    assert differ == ()


def test_an_attempt_on_one_sheet_only_counts_and_is_listed() -> None:
    one, two = sheet(1, attempts=tries(["yes", "no"])), sheet(2, attempts=tries(["yes"]))
    tally, (differ,) = join(attempts(), (one, two))

    assert isinstance(tally, Answers)
    assert (tally.yes, tally.no) == (1, 1)
    assert differ.about == "try 2 of S1 at hang (only on one sheet)"
    assert differ.marks[1].mark == "not recorded"


def test_a_failed_attempt_that_one_assessor_saw_completed_is_listed() -> None:
    failed = tries(["no"])[0].model_copy(update={"failed": True})
    completed = failed.model_copy(update={"failed": False, "answers": {}})
    one, two = sheet(1, attempts=(failed,)), sheet(2, attempts=(completed,))
    tally, (differ,) = join(attempts(asked="failed"), (one, two))

    assert tally == Answers(no=1, sheets=(key(1),))
    assert differ.marks[1].mark == "not asked: marked as completed"


def test_critical_criteria_follow_their_own_policy() -> None:
    pair = (sheet(1, attempts=tries(["yes"])), sheet(2, attempts=tries(["no"])))
    policy = {"critical": "higher", "other": "lower"}
    critical, _ = join(attempts(critical=True), pair, **policy)
    other, _ = join(attempts(), pair, **policy)

    assert isinstance(critical, Answers)
    assert isinstance(other, Answers)
    assert (critical.yes, other.yes) == (1, 0)


def test_each_sheets_own_log_judges_its_choice() -> None:
    let_go = choices(["let-go"], skill="sit")
    one = sheet(1, clearances=let_go, students=(student("S1", hang=3),))
    two = sheet(2, clearances=let_go, students=(student("S1", hang=2),))
    tally, (differ,) = join(clearances(), (one, two))

    assert tally == Choices(false_clear=1, sheets=(key(1), key(2)))
    assert [mark.mark for mark in differ.marks] == ["true clear", "false clear"]


def test_looks_pair_by_number_and_the_higher_idle_share_is_the_lower_mark() -> None:
    one = sheet(1, samples=looks([(0, 3), None, (1, 4)]))
    two = sheet(2, samples=looks([(1, 3), (0, 2), None, None]))
    tally, (differ,) = join(samples(), (one, two))

    assert isinstance(tally, Looks)
    assert tally.practicals == (((1, 3), (0, 2), (1, 4)),)
    assert tally.missed == 1
    assert (differ.about, differ.joined) == ("look 1", "1 of 3 idle")


def test_a_look_with_nobody_waiting_says_nothing() -> None:
    tally, _ = join(samples(), (sheet(samples=looks([(0, 0), (0, 2)])),))

    assert isinstance(tally, Looks)
    assert (tally.seen, tally.missed) == (1, 0)


def test_single_marks_are_kept_beside_the_joined_one() -> None:
    one, two = sheet(1, ratings=marks(looks=4)), sheet(2, ratings=marks(looks=2))
    alone = sheet(3, ratings=marks(looks=None))
    tally, (differ,) = join(rating(), (one, two), (alone,), other="higher")

    assert tally == Marks(((2, 4),), "higher", unseen=1, sheets=(key(1), key(2)))
    assert isinstance(tally, Marks)
    assert (tally.joined, tally.lowest) == ((4,), 2)
    assert differ.joined == "level 4"


@pytest.mark.parametrize("policy", ["lower", "majority", "higher"])
def test_incidents_join_to_the_larger_count_whatever_the_policy(policy: str) -> None:
    one = sheet(1, incidents=incidents("left", "left"))
    two = sheet(2, incidents=incidents("left"))
    other = sheet(3, incidents=incidents("left"))
    tally, (differ,) = join(incident(), (one, two), (other,), critical=policy, other=policy)

    assert tally == Incidents(3, 2, (key(1), key(2), key(3)))
    assert differ.joined == "2, the larger count"


def test_one_sheet_alone_never_disagrees() -> None:
    made = rubric()
    found = joined(made, syllabus(), [(sheet(),)])

    assert all(not criterion.disagreements for criterion in found.values())
