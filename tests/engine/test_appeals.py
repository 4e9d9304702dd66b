"""An appeal is answered by somebody who took no part; the answer itself changes nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from tests.engine import made

from standfast.engine.appeals import (
    Matter,
    answer_objections,
    days_left,
    filing_objections,
    is_against,
    next_steps,
)
from standfast.engine.awarding import ruling_objections
from standfast.engine.dates import award_dates, standing
from standfast.model.appeal import Answer, Appeal, AppealOutcome
from standfast.model.award import Ruling
from standfast.model.people import Conflict, Person, Term, Tie
from standfast.model.rubric import Validity

DAY = timedelta(days=1)
RECEIVED, DUE = date(2026, 6, 1), date(2026, 7, 1)
ON = date(2026, 6, 10)
AWARD = made.award(award_dates(Validity(period="P2Y"), date(2026, 3, 1)))


def appeal(**other: object) -> Appeal:
    return made.appeal(**{"award": AWARD.id, **other})


def complaint(**other: object) -> Appeal:
    return appeal(**{"kind": "complaint", "number": "complaint-2026-1", "by": None, **other})


def answer(outcome: AppealOutcome = "upheld", on: date = ON) -> Answer:
    return Answer(appeal=made.key(950), by="uma", on=on, outcome=outcome, because="looked at anew")


def hearer(name: str = "uma", until: date = date(2027, 1, 1), tied_to: str = "") -> Person:
    term = Term(since=date(2026, 1, 1), until=until)
    ties = (Conflict(person=tied_to, kind="business", since=RECEIVED),) if tied_to else ()
    return made.person(name).model_copy(update={"hears_appeals": (term,), "conflicts": ties})


def ruled(by: str) -> Ruling:
    return Ruling(award=AWARD.id, kind="suspended", on=RECEIVED, by=by, because="a complaint")


CATO = made.person(trained_by={"tess": date(2025, 1, 1)})
MATTER = Matter(
    appeal(),
    CATO,
    CATO,
    sheets=(made.sheet(1, assessor="ann"), made.sheet(2, assessor="bo")),
    award=AWARD,
    rulings=(ruled("rea"),),
)


@pytest.mark.parametrize(
    ("who", "said"),
    [
        pytest.param("uma", None, id="nobody of them"),
        pytest.param("ann", "scored the evidence", id="an assessor"),
        pytest.param("bo", "scored the evidence", id="the other assessor"),
        pytest.param("tess", "trained whom the appeal is about", id="the trainer"),
        pytest.param("zoe", "confirmed A-1", id="the certifier"),
        pytest.param("rea", "ruled on A-1", id="who ruled"),
    ],
)
def test_who_took_part_may_not_answer(who: str, said: str | None) -> None:
    found = answer_objections(MATTER, hearer(who), ON)

    assert len(found) == (said is not None)
    assert said is None or f"{who} {said}; somebody who took no part" in found[0]


def test_the_appellant_may_not_answer_and_both_reasons_are_said() -> None:
    found = answer_objections(MATTER, hearer("cato"), ON)

    assert ["filed the appeal" in said for said in found] == [True, False]
    assert "is whom it is about" in found[1]


def test_a_trainer_who_begins_later_took_no_part() -> None:
    later = CATO.model_copy(update={"trained_by": (Tie(trainer="uma", since=ON),)})
    matter = replace(MATTER, about=later)

    assert answer_objections(matter, hearer(), ON - DAY) == ()
    assert len(answer_objections(matter, hearer(), ON)) == 1


def test_who_is_tied_to_either_side_may_not_answer_a_complaint() -> None:
    dot = made.person("dot")
    matter = Matter(complaint(by="dot", award=None), CATO, dot)

    [one] = answer_objections(matter, hearer(tied_to="cato"), ON)
    [two] = answer_objections(matter, hearer(tied_to="dot"), ON)

    assert "conflict of interest with whom the complaint is about" in one
    assert "conflict of interest with who filed the complaint" in two
    assert answer_objections(matter, hearer(tied_to="ann"), ON) == ()


def test_a_tie_is_always_refused_also_when_the_other_had_it_recorded() -> None:
    tie = Conflict(person="uma", kind="family", since=date(2020, 1, 1), until=ON)
    matter = replace(MATTER, about=CATO.model_copy(update={"conflicts": (tie,)}))

    assert len(answer_objections(matter, hearer(), ON)) == 1
    assert len(answer_objections(matter, hearer(), ON + DAY)) == 1  # it was there meanwhile


@pytest.mark.parametrize(
    ("until", "took_part"),
    [
        pytest.param(RECEIVED - 3 * DAY, True, id="on the day of the matter"),
        pytest.param(RECEIVED - 4 * DAY, False, id="over the day before it"),
    ],
)
@pytest.mark.parametrize("about", ["cato", "dot"], ids=["whom it is about", "who filed it"])
def test_a_tie_counts_from_the_day_of_the_matter(until: date, took_part: bool, about: str) -> None:
    tie = Conflict(person=about, kind="family", since=date(2020, 1, 1), until=until)
    decider = hearer().model_copy(update={"conflicts": (tie,)})
    matter = Matter(complaint(by="dot"), CATO, made.person("dot"), since=RECEIVED - 3 * DAY)

    assert len(answer_objections(matter, decider, ON)) == took_part


def test_who_confirmed_or_ruled_on_what_rests_on_the_practical_took_part() -> None:
    about = complaint(award=None, practical="lesson-1")
    matter = replace(MATTER, appeal=about, award=None, resting=(AWARD,))

    assert "zoe confirmed A-1" in answer_objections(matter, hearer("zoe"), ON)[0]
    assert "rea ruled on A-1" in answer_objections(matter, hearer("rea"), ON)[0]
    assert answer_objections(matter, hearer(), ON) == ()


def test_who_taught_a_practical_that_somebody_complains_about_may_not_answer() -> None:
    matter = Matter(complaint(award=None, practical="lesson-1"), CATO, None, MATTER.sheets)

    assert len(answer_objections(matter, hearer("cato"), ON)) == 1
    assert len(answer_objections(matter, hearer("bo"), ON)) == 1


@pytest.mark.parametrize(
    ("until", "allowed"),
    [pytest.param(ON, True, id="last day"), pytest.param(ON - DAY, False, id="the day after")],
)
def test_who_answers_is_somebody_who_may_hear_on_the_day(until: date, allowed: bool) -> None:
    found = answer_objections(MATTER, hearer(until=until), ON)

    assert (found == ()) is allowed
    assert allowed or "may not answer appeals or complaints on 2026-06-10" in found[0]


def test_it_is_answered_once_and_not_before_it_was_received() -> None:
    assert answer_objections(MATTER, hearer(), RECEIVED) == ()
    [early] = answer_objections(MATTER, hearer(), RECEIVED - DAY)
    [again] = answer_objections(MATTER, hearer(), ON, answer())

    assert "was received on 2026-06-01" in early
    assert "was answered already, on 2026-06-10" in again


def test_every_objection_is_said_at_once() -> None:
    worst = made.person("rea").model_copy(update={"conflicts": hearer(tied_to="cato").conflicts})
    matter = replace(MATTER, sheets=(made.sheet(1, assessor="rea"),))

    assert len(answer_objections(matter, worst, ON)) == 4


@pytest.mark.parametrize(
    ("filed", "of", "said"),
    [
        pytest.param(appeal(), RECEIVED, None, id="on the day of the decision"),
        pytest.param(appeal(), RECEIVED + DAY, "after the day", id="the day before it"),
        pytest.param(appeal(by="dot"), None, "only they appeal", id="by another"),
        pytest.param(complaint(), None, None, id="a complaint from outside"),
        pytest.param(complaint(by="dot"), None, None, id="a complaint by another"),
        pytest.param(complaint(by="cato"), None, "one appeals", id="about oneself"),
        pytest.param(
            complaint(by="cato", award=None, practical="lesson-1"), None, None, id="own practical"
        ),
    ],
)
def test_what_may_be_filed(filed: Appeal, of: date | None, said: str | None) -> None:
    found = filing_objections(filed, of, ())

    assert len(found) == (said is not None)
    assert said is None or said in found[0]


def test_the_same_again_waits_for_the_answer() -> None:
    again = appeal(id=made.key(51), number="appeal-2026-2")
    other = appeal(id=made.key(52), number="appeal-2026-3", award=None, decision=made.key(9))

    [said] = filing_objections(again, None, [(appeal(), None)])

    assert "appeal-2026-1 says the same, and is open until 2026-07-01" in said
    assert filing_objections(again, None, [(appeal(), answer("not upheld"))]) == ()
    assert filing_objections(other, None, [(appeal(), None)]) == ()


@pytest.mark.parametrize(
    ("stopped", "reduced", "outcome", "said"),
    [
        pytest.param(True, False, "upheld", ["reinstate A-1"], id="stopped"),
        pytest.param(False, True, "upheld", ["restore A-1"], id="reduced"),
        pytest.param(True, True, "upheld", ["reinstate A-1", "restore A-1"], id="both"),
        pytest.param(True, True, "not upheld", [], id="not upheld"),
        pytest.param(False, False, "upheld", ["decide anew"], id="nothing was ruled"),
    ],
)
def test_the_answer_says_what_to_do_next(
    stopped: bool, reduced: bool, outcome: AppealOutcome, said: list[str]
) -> None:
    steps = next_steps(MATTER, answer(outcome), stopped=stopped, reduced=reduced)

    assert len(steps) == 1 + len(said)
    assert all(words in step for words, step in zip(said, steps[1:], strict=True))


@pytest.mark.parametrize(
    ("filed", "found"),
    [
        pytest.param(appeal(), True, id="against the award"),
        pytest.param(appeal(ruling=made.key(7)), True, id="against the ruling's own entry"),
        pytest.param(appeal(ruling=made.key(8)), False, id="against another ruling"),
        pytest.param(appeal(received=RECEIVED - DAY), False, id="before it was ruled"),
        pytest.param(appeal(award=None, decision=made.key(9)), False, id="against the decision"),
        pytest.param(complaint(), False, id="a complaint"),
    ],
)
def test_an_appeal_is_against_what_it_names(filed: Appeal, found: bool) -> None:
    assert is_against(filed, ruled("rea"), made.key(7)) is found


def test_only_an_upheld_appeal_undoes_a_withdrawal() -> None:
    now = standing(AWARD, {}, ON, [ruled("rea").model_copy(update={"kind": "withdrawn"})])
    ruler = made.person("rea").model_copy(
        update={
            "certifies": made.person("x", scores=["bar-1"]).scores,
        }
    )

    [said] = ruling_objections("reinstated", AWARD, now, ruler, ON)
    assert "for good unless an appeal against it is upheld" in said
    assert ruling_objections("reinstated", AWARD, now, ruler, ON, upheld=True) == ()
    assert len(ruling_objections("suspended", AWARD, now, ruler, ON, upheld=True)) == 1


@pytest.mark.parametrize(
    ("on", "left"),
    [
        pytest.param(RECEIVED, 30, id="received"),
        pytest.param(DUE, 0, id="the last day"),
        pytest.param(DUE + DAY, -1, id="overdue"),
    ],
)
def test_the_clock_runs_in_days_and_the_last_one_counts(on: date, left: int) -> None:
    assert days_left(appeal(), on) == left
