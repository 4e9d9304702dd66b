"""A conflict of interest is a tie with dates, counted both ways, and never told by its kind."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import permutations

import pytest
from tests.engine import made

from standfast.engine.awarding import objections, ruling_objections
from standfast.engine.dates import award_dates, standing
from standfast.engine.decide import decide
from standfast.engine.impartiality import conflict_faults, tied, with_ties_of
from standfast.model.decision import Decision
from standfast.model.people import Approval, Conflict, ConflictPolicy, Person, Term
from standfast.model.rubric import Validity
from standfast.model.school import School

DAY = timedelta(days=1)
SINCE, UNTIL = date(2026, 1, 10), date(2026, 2, 20)
SHEET_DAY = made.sheet(1).on


def with_tie(name: str, other: str, since: date = SINCE, until: date | None = UNTIL) -> Person:
    tie = Conflict(person=other, kind="household", since=since, until=until)
    return made.person(name).model_copy(update={"conflicts": (tie,)})


@pytest.mark.parametrize(
    ("day", "counts"),
    [
        pytest.param(SINCE - DAY, False, id="the day before it begins"),
        pytest.param(SINCE, True, id="its first day"),
        pytest.param(UNTIL, True, id="its last day"),
        pytest.param(UNTIL + DAY, False, id="the day after it ends"),
    ],
)
@pytest.mark.parametrize("recorded_by", ["cato", "ann"])
def test_a_tie_counts_on_its_days_whoever_had_it_recorded(
    day: date, counts: bool, recorded_by: str
) -> None:
    other = {"cato": "ann", "ann": "cato"}[recorded_by]
    one, two = with_tie(recorded_by, other), made.person(other)

    assert tied(one, two, day) is counts
    assert tied(two, one, day) is counts
    assert not tied(one, made.person("bo"), day)


def test_a_tie_without_a_last_day_goes_on() -> None:
    open_ended = with_tie("ann", "cato", until=None)

    assert tied(open_ended, made.person(), date(2040, 1, 1))


def test_what_others_recorded_comes_to_the_candidate_once() -> None:
    ann, bo = with_tie("ann", "cato"), with_tie("bo", "dot")

    cato = with_ties_of(with_ties_of(made.person(), [ann, bo]), [ann])

    assert [tie.person for tie in cato.conflicts] == ["ann"]
    assert cato.tied_to("ann", UNTIL)


@pytest.mark.parametrize(
    ("until", "policy", "faults"),
    [
        pytest.param(SHEET_DAY, "refused", 1, id="on the day of the lesson"),
        pytest.param(SHEET_DAY - DAY, "refused", 0, id="over the day before"),
        pytest.param(SHEET_DAY, "shown", 0, id="shown by the school"),
    ],
)
def test_a_sheet_by_somebody_tied_is_a_fault_at_its_assessor(
    until: date, policy: ConflictPolicy, faults: int
) -> None:
    ann = with_tie("ann", "cato", until=until)

    found = list(conflict_faults(made.sheet(1), ann, made.person(), policy))

    assert len(found) == faults
    assert all(fault.path == ("assessor",) for fault in found)
    assert not any("household" in str(fault) for fault in found)


def test_of_people_nobody_knows_nothing_is_said() -> None:
    assert list(conflict_faults(made.sheet(1), None, made.person(), "refused")) == []
    assert list(conflict_faults(made.sheet(1), made.person("ann"), None, "refused")) == []


def decided(policy: ConflictPolicy, independent: int = 1, until: date = SHEET_DAY) -> Decision:
    """From a sheet by ann, who is tied, and one by bo, who is not."""
    rule = made.rubric(decision={"independent_assessors": independent, "assessors": 1})
    cato = with_ties_of(made.person(), [with_tie("ann", "cato", until=until)])
    sheets = [made.sheet(1), made.sheet(2, assessor="bo", practical="lesson-2")]
    found = [
        decide(rule, made.syllabus(), some, cato, made.ON, None, policy)
        for some in permutations(sheets)
    ]
    assert found[0] == found[1]
    return found[0]


def test_refused_a_sheet_whose_tie_came_to_light_later_is_left_out_with_the_reason() -> None:
    decision = decided("refused")

    assert decision.sheets == (made.key(2),)
    [left] = decision.left_out
    assert left.sheet == made.key(1)
    assert "conflict of interest" in left.because
    assert decision.tied == ()


def test_shown_the_sheet_counts_and_its_assessor_is_not_independent() -> None:
    decision = decided("shown")

    assert decision.sheets == (made.key(1), made.key(2))
    assert decision.tied == (made.key(1),)
    [said] = [r for r in decision.reasons if r.says.startswith("1 sheet by an assessor who had")]
    assert said.sheets == (made.key(1),)
    assert "household" not in decision.model_dump_json()
    assert decision.outcome == "pass"


def test_shown_two_independent_assessors_are_not_there_and_the_reason_says_who_would_be() -> None:
    decision = decided("shown", independent=2)

    assert decision.outcome == "more"
    [open_reason] = [r for r in decision.reasons if r.state == "open"]
    assert "neither trained the candidate nor had a conflict of interest" in open_reason.says
    assert any("nor had a conflict of interest" in step for step in decision.next_steps)


def test_a_tie_that_was_over_by_the_lesson_changes_no_word_of_the_decision() -> None:
    before = decided("refused", until=SHEET_DAY - DAY)
    plain = decide(
        made.rubric(decision={"independent_assessors": 1}),
        made.syllabus(),
        [made.sheet(1), made.sheet(2, assessor="bo", practical="lesson-2")],
        made.person(),
        made.ON,
    )

    assert before == plain


def certifier() -> Person:
    approval = Approval(rubric="bar-1", since=date(2025, 1, 1), until=date(2030, 1, 1))
    return made.person("zoe").model_copy(update={"certifies": (approval,)})


@pytest.mark.parametrize(
    ("policy", "said"),
    [pytest.param("refused", 1, id="refused"), pytest.param("shown", 0, id="shown")],
)
def test_a_certifier_who_is_tied_is_refused_or_shown(policy: ConflictPolicy, said: int) -> None:
    decision = decide(made.rubric(), made.syllabus(), [made.sheet(1)], made.person(), made.ON)
    school = School(id="barn", name="The Barn", conflict_of_interest=policy)

    found = objections(
        decision, made.rubric(), made.person(), certifier(), part=None, school=school, tied=True
    )

    assert len(found) == said
    assert all("has a recorded conflict of interest with the candidate" in f for f in found)


def test_a_ruler_who_is_tied_is_refused_with_the_reason() -> None:
    award = made.award(award_dates(Validity(period="P2Y"), made.ON))
    now = standing(award, {}, made.ON)

    [said] = ruling_objections("suspended", award, now, certifier(), made.ON, tied=True)

    assert "has a recorded conflict of interest with the holder" in said


@pytest.mark.parametrize(
    ("day", "may"),
    [
        pytest.param(SINCE - DAY, False, id="before"),
        pytest.param(SINCE, True, id="first day"),
        pytest.param(UNTIL, True, id="last day"),
        pytest.param(UNTIL + DAY, False, id="after"),
    ],
)
def test_appeals_are_heard_in_a_term_or_by_who_certifies(day: date, may: bool) -> None:
    term = Term(since=SINCE, until=UNTIL)
    approval = Approval(rubric="bar-1", since=SINCE, until=UNTIL)
    hears = made.person("uma").model_copy(update={"hears_appeals": (term,)})
    certifies = made.person("vic").model_copy(update={"certifies": (approval,)})

    assert hears.may_hear(day) is may
    assert certifies.may_hear(day) is may
    assert not made.person("ann", scores=["bar-1"]).may_hear(day)
