"""The invented school and its people."""

from __future__ import annotations

import unicodedata
from datetime import date

from standfast.engine.impartiality import tied
from standfast.model.people import Person
from standfast.model.rubric import Rubric
from standfast.model.school import School


def candidates(people: dict[str, Person]) -> list[Person]:
    return [person for person in people.values() if not person.scores and not person.certifies]


def test_the_school_says_that_it_is_invented(school: School) -> None:
    assert school.invented
    assert "(invented)" in school.name
    assert ".example.org" in (school.check_address or "")
    assert not school.certifier_may_have_taken_part


def test_nobody_can_be_written_to(people: dict[str, Person]) -> None:
    assert all((person.contact or "").endswith("example.org") for person in people.values())


def test_six_people_score_and_some_neither_score_nor_certify(people: dict[str, Person]) -> None:
    assert sum(bool(person.scores) for person in people.values()) == 6
    assert len(candidates(people)) >= 5


def test_every_approval_and_tie_names_something_that_is_there(
    people: dict[str, Person], rubrics: dict[str, Rubric]
) -> None:
    for person in people.values():
        assert {a.rubric for a in (*person.scores, *person.certifies)} <= set(rubrics), person.id
        assert person.trainers() <= set(people) - {person.id}, person.id
        assert {tie.person for tie in person.conflicts} <= set(people) - {person.id}, person.id


def test_two_people_have_a_conflict_of_interest_and_somebody_else_hears_appeals(
    people: dict[str, Person],
) -> None:
    day = date(2026, 11, 2)
    ties = [
        (one.id, other.id)
        for one in people.values()
        for other in people.values()
        if one.id < other.id and tied(one, other, day)
    ]

    assert ties == [("aurelio-tamm-nieminen", "siggi-hrafnkelsson")]
    assert any(p.may_hear(day) and not p.certifies for p in people.values())


def test_every_rubric_has_two_independent_assessors_and_a_third_person_to_certify(
    people: dict[str, Person], rubrics: dict[str, Rubric]
) -> None:
    day = date(2026, 11, 2)
    for candidate in candidates(people):
        others = [
            p
            for p in people.values()
            if p.id not in candidate.trainers() | {candidate.id} and not tied(p, candidate, day)
        ]
        for rubric in rubrics:
            scoring = {p.id for p in others if p.may_score(rubric, day)}
            certifying = {p.id for p in others if p.may_certify(rubric, day)}

            assert len(scoring) >= 2, (candidate.id, rubric)
            assert certifying, (candidate.id, rubric)
            assert len(scoring | certifying) >= 3, (candidate.id, rubric)


def test_papers_end_after_they_begin(people: dict[str, Person]) -> None:
    for person in people.values():
        for paper in person.documents:
            assert paper.issued < paper.last_day, (person.id, paper.document)


def test_somebody_has_no_insurance(people: dict[str, Person]) -> None:
    lacking = [
        p.id for p in people.values() if p.document_until("insurance", date(2026, 11, 2)) is None
    ]

    assert lacking == ["ngozi-okwuosa-bello"]


def test_names_come_in_more_than_one_script_and_length(people: dict[str, Person]) -> None:
    names = [person.name for person in people.values()]

    assert any(unicodedata.bidirectional(letter) == "AL" for name in names for letter in name)
    assert any("CJK UNIFIED" in unicodedata.name(letter) for name in names for letter in name)
    assert max(map(len, names)) >= 70
