"""Three-valued findings at their edges, and the words that go with them."""

from __future__ import annotations

import re

import pytest
from tests.engine.made import attempts, clearances, competency, incident, rating, samples

from standfast.engine.findings import finding
from standfast.engine.states import state_of
from standfast.engine.tallies import Answers, Choices, Incidents, Looks, Marks, Tally
from standfast.model.decision import Finding
from standfast.model.rubric import Criterion


def found(criterion: Criterion, tally: Tally) -> Finding:
    return finding(criterion, competency("spotting", criterion), tally)


# 85 % with 80 % assurance, from 10, at most 3 lapses.  By exact binomial tails (scipy): with
# 0, 1, 2, 3 lapses it takes 10, 19, 28, 36 answers.
@pytest.mark.parametrize(
    ("yes", "no", "state"),
    [
        pytest.param(0, 0, "open", id="nothing seen"),
        pytest.param(9, 0, "open", id="one short of the least number"),
        pytest.param(10, 0, "met", id="least number, no lapse"),
        pytest.param(17, 1, "open", id="one short with a lapse"),
        pytest.param(18, 1, "met", id="enough with a lapse"),
        pytest.param(33, 3, "met", id="three lapses"),
        pytest.param(32, 3, "open", id="three lapses, one short"),
        pytest.param(96, 4, "not met", id="a good share past the lapses"),
        pytest.param(1, 2, "not met", id="upper bound cannot reach it"),
        pytest.param(1, 1, "open", id="upper bound still can"),
    ],
)
def test_attempts_are_three_valued(yes: int, no: int, state: str) -> None:
    assert state_of(attempts(), Answers(yes, no)) == state


def test_the_least_number_holds_however_good_the_share() -> None:
    assert state_of(attempts(share=0.5, least=20), Answers(19, 0)) == "open"
    assert state_of(attempts(share=0.5, least=20), Answers(20, 0)) == "met"


def test_what_could_not_be_seen_is_no_lapse_and_no_answer() -> None:
    assert state_of(attempts(), Answers(9, 0, unseen=50)) == "open"
    assert state_of(attempts(), Answers(10, 0, unseen=50)) == "met"


@pytest.mark.parametrize(
    ("yes", "no", "settles"),
    [
        pytest.param(0, 0, "10 more attempts without a lapse", id="nothing seen"),
        pytest.param(9, 0, "1 more attempt without a lapse", id="one short"),
        pytest.param(12, 1, "6 more attempts without a lapse", id="one lapse"),
    ],
)
def test_an_open_finding_says_what_settles_it(yes: int, no: int, settles: str) -> None:
    assert found(attempts(), Answers(yes, no)).settles == settles


def test_what_settles_a_finding_does_settle_it_and_one_fewer_does_not() -> None:
    for no in range(4):
        for yes in range(36):
            open_finding = found(attempts(), Answers(yes, no))
            if open_finding.state != "open":
                continue
            more = int(re.match(r"\d+", open_finding.settles)[0])  # type: ignore[index]

            assert state_of(attempts(), Answers(yes + more, no)) == "met"
            assert state_of(attempts(), Answers(yes + more - 1, no)) == "open"


def test_a_settled_finding_asks_for_nothing() -> None:
    assert found(attempts(), Answers(10, 0)).settles == ""
    assert found(attempts(), Answers(1, 9)).settles == ""


def test_a_finding_says_figure_and_standard_in_words() -> None:
    said = found(attempts(), Answers(37, 1, unseen=2))

    # 37 of 38 at 80 %: beta.ppf(0.2, 37, 2) = 0.92301 (scipy 1.17), rounded down.
    assert said.says == (
        "37 of 38 seen, 1 lapse, 2 could not be seen, at least 92.3 % with 80 % assurance"
    )
    assert said.standard == "at least 85 % with 80 % assurance, from 10 or more, at most 3 lapses"


def test_no_figure_is_rounded_so_that_it_seems_to_reach_its_standard() -> None:
    # 26 of 29: beta.ppf(0.2, 26, 4) = 0.817997 (scipy 1.17) misses 81.8 %; nearest would show it.
    said = found(attempts(share=0.818), Answers(26, 3))

    assert said.state == "open"
    assert said.says.startswith("26 of 29 seen, 3 lapses, from 81.7 % to ")


@pytest.mark.parametrize(
    ("tally", "state"),
    [
        pytest.param(Choices(), "open", id="none seen"),
        pytest.param(Choices(right=5), "met", id="five right"),
        pytest.param(Choices(right=4), "open", id="four right"),
        pytest.param(Choices(right=99, false_clear=1), "not met", id="one false clear of 100"),
        pytest.param(Choices(right=99, false_hold=1), "met", id="one false hold of 100"),
        pytest.param(Choices(right=1, false_hold=3), "not met", id="accuracy cannot be reached"),
        pytest.param(Choices(right=4, false_hold=1), "open", id="a false hold of five"),
    ],
)
def test_a_false_clearance_fails_at_once(tally: Choices, state: str) -> None:
    assert state_of(clearances(), tally) == state


def test_false_clearances_up_to_the_limit_count_as_wrong_choices_only() -> None:
    assert state_of(clearances(false_clearances=1), Choices(right=99, false_clear=1)) == "met"
    assert state_of(clearances(false_clearances=1), Choices(right=98, false_clear=2)) == "not met"


def test_clearances_in_words() -> None:
    said = found(clearances(), Choices(right=4, false_hold=1))

    assert said.says.startswith("4 of 5 right, no false clearance, 1 false hold, from ")
    assert said.settles == "4 more choices, all of them right"
    assert said.standard == (
        "at least 70 % right with 80 % assurance, from 5 or more, no false clearance"
    )


@pytest.mark.parametrize(
    ("idle", "number", "state"),
    [
        pytest.param(0, 0, "open", id="no look"),
        pytest.param(0, 24, "met", id="nobody idle"),
        pytest.param(0, 5, "open", id="one short of the least number"),
        pytest.param(3, 24, "not met", id="everybody idle"),
    ],
)
def test_looks_are_three_valued(idle: int, number: int, state: str) -> None:
    tally = Looks((((idle, 3),) * number,) if number else ())

    assert state_of(samples(), tally) == state


def test_looks_in_words() -> None:
    said = found(samples(), Looks((((0, 3),) * 24,), missed=2))

    # r = 1/20, so 24 * 19 / 21 = 21.7; 1 - 0.2 ** (1 / 21.714) = 0.07144, rounded up.
    assert said.says == (
        "0 idle of 72 waiting at 24 looks, 2 missed, worth 21.7 independent ones,"
        " at most 7.2 % with 80 % assurance"
    )
    assert said.figure.effective == pytest.approx(24 * 19 / 21, abs=1e-6)


@pytest.mark.parametrize(
    ("practicals", "state"),
    [
        pytest.param((), "open", id="no mark"),
        pytest.param(((3,),), "met", id="on the least"),
        pytest.param(((2,),), "not met", id="under the least"),
        pytest.param(((2,), (3,)), "not met", id="the lower of two middles"),
        pytest.param(((2,), (3,), (3,)), "met", id="the middle of three"),
        pytest.param(((4,), (4,), (1,)), "not met", id="under the floor once"),
        pytest.param(((4,), (4,), (2,)), "met", id="on the floor once"),
    ],
)
def test_a_rating_takes_the_middle_mark_and_keeps_the_floor(
    practicals: tuple[tuple[int, ...], ...], state: str
) -> None:
    assert state_of(rating(), Marks(practicals)) == state


def test_joining_upward_does_not_lift_a_single_mark_from_under_the_floor() -> None:
    assert state_of(rating(), Marks(((1, 4),), "higher")) == "not met"
    assert state_of(rating(), Marks(((2, 4),), "higher")) == "met"


def test_a_rating_without_marks_asks_for_one() -> None:
    said = found(rating(), Marks(unseen=2))

    assert (said.says, said.settles) == ("not seen on 2 sheets", "one mark")


@pytest.mark.parametrize(
    ("effect", "limit", "happened", "state"),
    [
        pytest.param("counts", 1, 1, "met", id="on the limit"),
        pytest.param("counts", 1, 2, "not met", id="past the limit"),
        pytest.param("stops", 0, 0, "met", id="no stop"),
        pytest.param("stops", 0, 1, "not met", id="a stop"),
    ],
)
def test_incidents_are_held_to_their_limit(
    effect: str, limit: int, happened: int, state: str
) -> None:
    criterion = incident(effect=effect, limit=limit)

    assert state_of(criterion, Incidents(happened, 2)) == state


def test_no_incident_is_no_evidence_without_a_practical() -> None:
    assert state_of(incident(), Incidents()) == "open"
