"""The product's own check finds nothing wrong in what the product ships."""

from __future__ import annotations

from standfast.engine.definitions import faults_across, faults_in_rubric, faults_in_syllabus
from standfast.model.rubric import Rubric
from standfast.model.syllabus import Syllabus


def test_no_shipped_syllabus_has_a_fault(syllabuses: dict[str, Syllabus]) -> None:
    assert [f for syllabus in syllabuses.values() for f in faults_in_syllabus(syllabus)] == []


def test_no_shipped_rubric_has_a_fault(
    rubrics: dict[str, Rubric], syllabuses: dict[str, Syllabus]
) -> None:
    found = [
        (rubric.id, str(fault))
        for rubric in rubrics.values()
        for fault in faults_in_rubric(rubric, syllabuses[rubric.syllabus])
    ]

    assert found == []


def test_the_shipped_definitions_can_stand_together(
    rubrics: dict[str, Rubric], syllabuses: dict[str, Syllabus]
) -> None:
    assert faults_across(rubrics.values(), syllabuses.values()) == ()
