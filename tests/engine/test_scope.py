"""What an award covers on a day: its scope, less what was taken away."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine import made

from standfast.engine.dates import award_dates, standing
from standfast.engine.scope import permitted, reduction, scope_objections
from standfast.model.award import Reduction, Ruling, RulingKind
from standfast.model.rubric import Validity

DAY = timedelta(days=1)
ON = date(2026, 6, 1)
PLAIN = made.award(award_dates(Validity(period="P2Y"), date(2026, 3, 1)))
AWARD = PLAIN.model_copy(
    update={"scope": PLAIN.scope.model_copy(update={"skills": ("hang", "sit", "turn")})}
)


def ruling(kind: RulingKind, *without: str, on: date = ON) -> Ruling:
    return Ruling(
        award=AWARD.id, kind=kind, on=on, by="zoe", because="a wrist is hurt", without=without
    )


@pytest.mark.parametrize(
    ("on", "skills"),
    [
        pytest.param(ON - DAY, ("hang", "sit", "turn"), id="the day before"),
        pytest.param(ON, ("hang", "turn"), id="on the day"),
        pytest.param(ON + 30 * DAY - DAY, ("hang", "turn"), id="the day before it is restored"),
        pytest.param(ON + 30 * DAY, ("hang", "sit", "turn"), id="restored"),
    ],
)
def test_a_reduction_holds_from_its_day_until_restored(on: date, skills: tuple[str, ...]) -> None:
    rulings = [ruling("reduced", "sit"), ruling("restored", on=ON + 30 * DAY)]

    assert permitted(AWARD, rulings, on) == skills


def test_reductions_add_up_and_the_last_one_gives_the_day() -> None:
    both = [ruling("reduced", "turn", on=ON + DAY), ruling("reduced", "hang")]

    assert reduction(AWARD, both, ON + DAY) == Reduction(without=("hang", "turn"), since=ON + DAY)
    assert permitted(AWARD, both, ON + DAY) == ("sit",)


def test_of_two_rulings_on_one_day_the_later_one_holds() -> None:
    both = [ruling("reduced", "sit"), ruling("restored")]

    assert permitted(AWARD, both, ON) == ("hang", "sit", "turn")
    assert permitted(AWARD, both[::-1], ON) == ("hang", "turn")


def test_reinstating_lifts_a_suspension_and_leaves_the_reduction() -> None:
    rulings = [ruling("suspended"), ruling("reduced", "sit"), ruling("reinstated", on=ON + DAY)]

    assert standing(AWARD, {}, ON, rulings).state == "suspended"
    assert standing(AWARD, {}, ON + DAY, rulings).state == "current"
    assert permitted(AWARD, rulings, ON + DAY) == ("hang", "turn")


def test_restoring_the_scope_leaves_a_suspension() -> None:
    rulings = [ruling("reduced", "sit"), ruling("suspended"), ruling("restored", on=ON + DAY)]

    assert standing(AWARD, {}, ON + DAY, rulings).state == "suspended"


def test_a_reduction_that_came_with_the_award_ends_when_restored() -> None:
    renewed = AWARD.model_copy(update={"reduced": Reduction(without=("sit",), since=ON - 90 * DAY)})

    assert permitted(renewed, (), ON) == ("hang", "turn")
    assert permitted(renewed, [ruling("reduced", "turn")], ON) == ("hang",)
    assert permitted(renewed, [ruling("restored")], ON) == ("hang", "sit", "turn")


def test_rulings_on_other_awards_do_not_matter() -> None:
    other = ruling("reduced", "sit").model_copy(update={"award": made.key(7)})

    assert permitted(AWARD, [other], ON) == AWARD.scope.skills


@given(st.lists(st.sampled_from([("reduced", "sit"), ("reduced", "hang"), ("restored",)])))
def test_what_is_permitted_never_goes_past_the_scope(said: list[tuple[RulingKind, str]]) -> None:
    skills = permitted(AWARD, [ruling(*one) for one in said], ON)

    assert set(skills) <= set(AWARD.scope.skills)
    assert list(skills) == [skill for skill in AWARD.scope.skills if skill in skills]


@pytest.mark.parametrize(
    ("asked", "before", "said"),
    [
        pytest.param(ruling("reduced", "sit"), [], [], id="one of three"),
        pytest.param(ruling("reduced", "sit", "hang"), [], [], id="all but one"),
        pytest.param(ruling("reduced", "sit", "hang", "turn"), [], ["withdraw"], id="all of them"),
        pytest.param(
            ruling("reduced", "sit", "turn"),
            [ruling("reduced", "hang")],
            ["withdraw"],
            id="the rest",
        ),
        pytest.param(ruling("reduced", "sitt"), [], ["did you mean 'sit'?"], id="a slip"),
        pytest.param(
            ruling("reduced", "sit"), [ruling("reduced", "sit")], ["taken away already"], id="twice"
        ),
        pytest.param(
            ruling("reduced", "x", "y"), [], ["'x' is no", "'y' is no"], id="each unknown"
        ),
        pytest.param(ruling("reduced"), [], ["no skill is named"], id="none named"),
        pytest.param(ruling("restored"), [], ["is not reduced"], id="nothing to restore"),
        pytest.param(ruling("restored"), [ruling("reduced", "sit")], [], id="restore"),
        pytest.param(ruling("suspended"), [], [], id="no matter of scope"),
    ],
)
def test_what_may_be_taken_away_follows_from_what_is_left(
    asked: Ruling, before: list[Ruling], said: list[str]
) -> None:
    found = scope_objections(asked, AWARD, before)

    assert len(found) == len(said)
    assert all(words in told for words, told in zip(said, found, strict=True))
