"""The shipped rubrics can be passed in lessons of real size, and not by luck or carelessness."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import pytest
from tests.content.lessons import lesson

from standfast.engine.decide import decide
from standfast.engine.sheets import approval_faults, faults_in
from standfast.model.decision import Decision
from standfast.model.evidence import Incident
from standfast.model.people import Person
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus

FIRST, SECOND, DECIDED = date(2026, 10, 5), date(2026, 10, 19), date(2026, 10, 26)
# Each rubric with two people approved to score it who did not train the candidate.
SCORED_BY = {
    "low-trapeze-1": ("hana-dvorakova", "leilani-kahananui"),
    "floor-tumbling-1": ("ruben-van-den-oetelaar", "leilani-kahananui"),
    "trapeze-refresher": ("hana-dvorakova", "leilani-kahananui"),
    "tumbling-refresher": ("ruben-van-den-oetelaar", "leilani-kahananui"),
}


@pytest.fixture(params=SCORED_BY)
def rubric(request: pytest.FixtureRequest, rubrics: dict[str, Rubric]) -> Rubric:
    return rubrics[request.param]


@pytest.fixture(params=["low-trapeze-1", "floor-tumbling-1"])
def full(request: pytest.FixtureRequest, rubrics: dict[str, Rubric]) -> Rubric:
    return rubrics[request.param]


@pytest.fixture
def candidate(people: dict[str, Person]) -> Person:
    return people["ines-carvalho-teles"]


def two_lessons(rubric: Rubric, syllabus: Syllabus, lapses: Mapping[str, int]) -> list[Sheet]:
    """Both lessons; the lapses named fall in the first."""
    one, other = SCORED_BY[rubric.id]
    return [
        lesson(rubric, syllabus, one, FIRST, lapses=lapses),
        lesson(rubric, syllabus, other, SECOND),
    ]


def told(decision: Decision) -> list[str]:
    return [f"{f.criterion}: {f.says}; {f.settles}" for f in decision.findings if f.state != "met"]


def test_a_lesson_of_real_size_is_a_sheet_without_a_fault(
    rubric: Rubric, syllabuses: dict[str, Syllabus], people: dict[str, Person]
) -> None:
    syllabus = syllabuses[rubric.syllabus]
    assessor = people[SCORED_BY[rubric.id][0]]
    sheet = lesson(rubric, syllabus, assessor.id, FIRST)

    assert faults_in(sheet, rubric, syllabus) == ()
    assert [*approval_faults(sheet, assessor)] == []


def test_two_lessons_without_a_lapse_pass(
    full: Rubric, syllabuses: dict[str, Syllabus], candidate: Person
) -> None:
    syllabus = syllabuses[full.syllabus]
    decision = decide(full, syllabus, two_lessons(full, syllabus, {}), candidate, DECIDED)

    assert decision.outcome == "pass", told(decision)


def test_two_lessons_with_the_lapses_of_an_ordinary_day_pass(
    full: Rubric, syllabuses: dict[str, Syllabus], candidate: Person
) -> None:
    syllabus = syllabuses[full.syllabus]
    lapses = {"in-place": 3, "contact-kept": 1, "feet-still": 2, "settled": 2, "short-cues": 4}
    decision = decide(full, syllabus, two_lessons(full, syllabus, lapses), candidate, DECIDED)

    assert decision.outcome == "pass", told(decision)


@pytest.mark.parametrize(
    "critical",
    ["in-place", "contact-kept", "feet-still", "settled", "down-first"],
)
def test_one_lapse_more_than_a_critical_standard_allows_fails(
    full: Rubric, syllabuses: dict[str, Syllabus], candidate: Person, critical: str
) -> None:
    syllabus = syllabuses[full.syllabus]
    allowed = {"in-place": 4, "contact-kept": 2, "feet-still": 3, "settled": 3, "down-first": 2}
    sheets = two_lessons(full, syllabus, {critical: allowed[critical] + 1})
    decision = decide(full, syllabus, sheets, candidate, DECIDED)

    assert decision.outcome == "fail"


@pytest.mark.parametrize("name", ["trapeze-refresher", "tumbling-refresher"])
def test_one_lesson_of_a_refresher_passes(
    rubrics: dict[str, Rubric], syllabuses: dict[str, Syllabus], candidate: Person, name: str
) -> None:
    rubric = rubrics[name]
    syllabus = syllabuses[rubric.syllabus]
    sheet = lesson(rubric, syllabus, SCORED_BY[name][0], FIRST, lapses={"in-place": 1})
    decision = decide(rubric, syllabus, [sheet], candidate, DECIDED)

    assert decision.outcome == "pass", told(decision)


def test_one_lesson_of_a_full_practical_is_not_enough(
    full: Rubric, syllabuses: dict[str, Syllabus], candidate: Person
) -> None:
    syllabus = syllabuses[full.syllabus]
    sheets = two_lessons(full, syllabus, {})[:1]

    assert decide(full, syllabus, sheets, candidate, DECIDED).outcome == "more"


@pytest.mark.parametrize("what", ["left-unsupported", "assessor-stepped-in", "touch-after-no"])
def test_a_stopping_incident_stops_whatever_else_was_seen(
    rubric: Rubric, syllabuses: dict[str, Syllabus], candidate: Person, what: str
) -> None:
    syllabus = syllabuses[rubric.syllabus]
    one, other = SCORED_BY[rubric.id]
    stop = (Incident(at=49 * 60, criterion=what, student="S2"),)
    sheets = [
        lesson(rubric, syllabus, one, FIRST),
        lesson(rubric, syllabus, other, SECOND, incidents=stop),
    ]

    assert decide(rubric, syllabus, sheets, candidate, DECIDED).outcome == "stopped"


def test_students_let_go_on_a_log_that_is_one_short_fail_the_candidate(
    full: Rubric, syllabuses: dict[str, Syllabus], candidate: Person
) -> None:
    syllabus = syllabuses[full.syllabus]
    one, other = SCORED_BY[full.id]
    sheets = [
        lesson(full, syllabus, one, FIRST, logged=2),
        lesson(full, syllabus, other, SECOND),
    ]

    assert decide(full, syllabus, sheets, candidate, DECIDED).outcome in ("fail", "stopped")
