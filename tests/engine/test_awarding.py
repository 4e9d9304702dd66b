"""Whether a decision may become an award, and every reason why not."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from tests.engine import made

from standfast.engine.awarding import missing_documents, objections, part_taken
from standfast.engine.decide import decide
from standfast.model.award import Award, AwardDates
from standfast.model.decision import Decision
from standfast.model.people import Approval, Person
from standfast.model.rubric import Rubric
from standfast.model.school import School

ON = date(2026, 3, 1)
DAY = timedelta(days=1)
SCHOOL = School(id="hall", name="Hall (invented)")
RUBRIC = made.rubric()
DATES = AwardDates(counted_from=ON, first_day=ON, last_day=date(2028, 3, 1))


def certifier(until: date = date(2027, 1, 1), rubric: str = "bar-1") -> Person:
    approval = Approval(rubric=rubric, since=date(2025, 1, 1), until=until)
    return Person(id="zoe", name="Zoe", certifies=(approval,))


def decision(
    rubric: Rubric = RUBRIC,
    **sheet: Any,  # noqa: ANN401 - any field of a sheet
) -> Decision:
    return decide(rubric, made.syllabus(), [made.sheet(1, **sheet)], made.person(), ON)


def objected(
    made_now: Decision,
    rubric: Rubric = RUBRIC,
    candidate: Person | None = None,
    who: Person | None = None,
    part: str | None = None,
    school: School = SCHOOL,
    earlier: tuple[tuple[Award, Decision], ...] = (),
) -> tuple[str, ...]:
    return objections(
        made_now,
        rubric,
        candidate or made.person(),
        who or certifier(),
        part=part,
        school=school,
        earlier=earlier,
    )


def test_a_pass_with_everything_in_order_meets_no_objection() -> None:
    assert decision().outcome == "pass"
    assert objected(decision()) == ()


def test_what_is_no_pass_is_refused_with_what_was_not_met() -> None:
    failed = decision(ratings=made.marks(looks=1))

    found = objected(failed)

    assert failed.outcome != "pass"
    assert found[0] == "the decision is 'fail'"
    assert len(found) > 1


def test_a_certifier_needs_an_approval_that_runs_on_the_day() -> None:
    assert objected(decision(), who=certifier(until=ON)) == ()
    [found] = objected(decision(), who=certifier(until=ON - DAY))
    assert found.startswith("zoe may not confirm decisions under bar-1 on 2026-03-01")


def test_for_a_refresher_the_approval_of_the_refreshed_rubric_counts() -> None:
    refresher = made.rubric(id="bar-again", refreshes="bar-1", grants=None, validity=None)

    assert objected(decision(), rubric=refresher) == ()
    assert objected(decision(), rubric=refresher, who=certifier(rubric="bar-again")) != ()


def test_who_took_part_confirms_only_where_the_school_allows_it() -> None:
    allowed = SCHOOL.model_copy(update={"certifier_may_have_taken_part": True})

    [found] = objected(decision(), part="trained the candidate")
    assert found == "zoe trained the candidate; somebody who took no part must confirm"
    assert objected(decision(), part="trained the candidate", school=allowed) == ()


def test_part_taken_is_told_in_words() -> None:
    zoe = certifier()
    trained = made.person(trained_by={"zoe": ON})
    sheets = [made.sheet(1, assessor="zoe")]

    assert part_taken(zoe, made.person(), [made.sheet(1)], ON) is None
    assert part_taken(zoe, trained, [], ON) == "trained the candidate"
    assert part_taken(zoe, trained, [], ON - DAY) is None
    assert part_taken(zoe, trained, sheets, ON) == "trained the candidate and scored the evidence"
    assert part_taken(zoe, zoe, [], ON) == "is the candidate"


@pytest.mark.parametrize(
    ("last_day", "said"),
    [
        pytest.param(ON, [], id="ends today"),
        pytest.param(
            ON - DAY,
            ["first-aid: ended on 2026-02-28; record the renewed one"],
            id="ended yesterday",
        ),
        pytest.param(None, ["first-aid: none is recorded; record it with its last day"], id="none"),
    ],
)
def test_every_document_must_run_on_the_day(last_day: date | None, said: list[str]) -> None:
    holder = made.person(documents={"first-aid": last_day} if last_day else {})
    rubric = made.rubric(documents=("first-aid",))

    assert missing_documents(["first-aid"], holder, ON) == said
    assert list(objected(decision(), rubric=rubric, candidate=holder)) == said


def test_the_same_sheets_are_awarded_once() -> None:
    first = decision()
    later = decide(RUBRIC, made.syllabus(), [made.sheet(2)], made.person(), ON)
    held = made.award(DATES)

    assert objected(first, earlier=((held, later),)) == ()
    [found] = objected(first, earlier=((held, first),))
    assert found == "award A-1 already stands on the same sheets"


def test_all_objections_are_told_at_once() -> None:
    rubric = made.rubric(documents=("first-aid", "insurance"))

    found = objected(
        decision(ratings=made.marks(looks=1)),
        rubric=rubric,
        who=certifier(until=ON - DAY),
        part="trained the candidate",
    )

    words = " ".join(found)
    for part in ("'fail'", "first-aid", "insurance", "may not confirm", "took no part"):
        assert part in words
