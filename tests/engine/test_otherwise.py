"""What a decision would have been with other levels: the rule for a level, and what tips."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from tests.engine import made

from standfast.engine.otherwise import MadeFrom, Shifts, fair_level, rescored, tipped
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet

LOOKS, WORDS = made.rating("looks"), made.rating("words", least=3, floor=1)
RUBRIC = made.rubric(made.attempts(critical=True), LOOKS, WORDS)
HERS = ("lesson-1", "ann", "looks")


def sheet(number: int = 1, looks: int | None = 3, words: int | None = 4, **other: Any) -> Sheet:  # noqa: ANN401 - any field of a sheet
    """Everything went well, with these levels."""
    return made.sheet(
        number, clearances=(), samples=(), ratings=made.marks(looks=looks, words=words), **other
    )


def made_from(*sheets: Sheet, rubric: Rubric = RUBRIC) -> MadeFrom:
    return MadeFrom(
        *(rubric, made.syllabus(), sheets, made.person(), made.ON, None, "refused", None)
    )


@pytest.mark.parametrize(
    ("given", "shift", "level"),
    [
        pytest.param(2, 0.49, 2, id="under half a level"),
        pytest.param(2, 0.5, 2, id="half a level stays nearer to what was given"),
        pytest.param(2, 0.51, 3, id="past half a level"),
        pytest.param(3, -0.5, 3, id="half a level down"),
        pytest.param(3, -0.51, 2, id="past half a level down"),
        pytest.param(2, 1.6, 4, id="two levels"),
        pytest.param(4, 2.0, 4, id="no higher than the scale"),
        pytest.param(1, -2.0, 1, id="no lower than the scale"),
    ],
)
def test_the_nearest_level_counts(given: int, shift: float, level: int) -> None:
    assert fair_level(LOOKS, given, shift) == level


def test_only_levels_that_are_named_change_and_the_rest_of_the_sheet_stays() -> None:
    before = sheet(looks=2, words=2)
    after, changed = rescored(before, RUBRIC, {HERS: 0.8})

    assert [rating.level for rating in after.ratings] == [3, 2]
    assert after.model_copy(update={"ratings": before.ratings}) == before
    assert [(one.criterion, one.given, one.fair) for one in changed] == [("looks", 2, 3)]


def test_a_level_that_was_not_seen_stays_unseen() -> None:
    after, changed = rescored(sheet(looks=None), RUBRIC, {HERS: 3.0})

    assert after.ratings[0].level is None
    assert changed == ()


def test_a_fail_by_one_severe_level_tips_and_names_it() -> None:
    found = tipped(made_from(sheet(looks=2)), {HERS: 0.7})

    assert found is not None
    assert (found.outcome, found.would_be) == ("fail", "pass")
    assert found.criteria == ("looks",)
    (one,) = found.changed
    assert (one.practical, one.assessor, one.given, one.fair) == ("lesson-1", "ann", 2, 3)


def test_a_pass_by_one_lenient_level_tips_too() -> None:
    found = tipped(made_from(sheet(looks=3)), {HERS: -0.7})

    assert found is not None
    assert (found.outcome, found.would_be) == ("pass", "fail")


@pytest.mark.parametrize(
    ("looks", "shifts"),
    [
        pytest.param(2, {HERS: 0.4}, id="under half a level"),
        pytest.param(3, {HERS: 0.9}, id="higher, and met already"),
        pytest.param(2, {("lesson-1", "bo", "looks"): 0.9}, id="another assessor"),
        pytest.param(2, {("lesson-2", "ann", "looks"): 0.9}, id="another lesson"),
        pytest.param(2, {("lesson-1", "ann", "place"): 0.9}, id="no rating"),
        pytest.param(1, {HERS: 0.9}, id="still under the standard"),
        pytest.param(2, {}, id="no severity known"),
    ],
)
def test_nothing_tips(looks: int, shifts: Shifts) -> None:
    assert tipped(made_from(sheet(looks=looks)), shifts) is None


def test_a_fail_for_another_reason_stays_one() -> None:
    lapses = sheet(looks=2, attempts=made.tries(["yes"] * 8 + ["no"] * 6))

    assert tipped(made_from(lapses), {HERS: 0.9}) is None


def test_what_tips_is_what_deciding_anew_in_full_says() -> None:
    """The quick look at levels alone never hides a tip, nor makes one up."""
    random = Random(11)
    tips = 0
    for _ in range(60):
        sheets = [
            sheet(n, random.randint(1, 4), random.randint(1, 4), assessor=who)
            for n, who in enumerate(("ann", "bo"), 1)
        ]
        shifts = {
            ("lesson-1", who, name): random.uniform(-1.5, 1.5)
            for who in ("ann", "bo")
            for name in ("looks", "words")
        }
        case = made_from(*sheets)
        before = case.decided(sheets).outcome
        after = case.decided([rescored(one, RUBRIC, shifts)[0] for one in sheets]).outcome
        found = tipped(case, shifts)
        tips += before != after

        assert (found is not None) is (before != after)
        if found:
            assert (found.outcome, found.would_be) == (before, after)
            assert set(found.criteria) <= {"looks", "words"}
            assert found.changed
    assert 5 < tips < 55
