"""Lessons, decisions and ruled awards are counted from rows as they would be from entries."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from tests.engine import made
from tests.store.school import ON, open_school, people

from standfast.model.award import Ruling


def test_two_sheets_of_one_practical_are_one_lesson_and_corrected_ones_none(tmp_path: Path) -> None:
    school = open_school(tmp_path)
    school.book.put_people(people(), school.stamp)
    school.take(made.sheet(1))
    school.take(made.sheet(2, assessor="bo"))
    school.take(made.sheet(3, practical="lesson-2", day=date(2026, 2, 27)))
    moved = made.sheet(4, practical="lesson-2", day=date(2026, 2, 28))
    school.take(moved.model_copy(update={"corrects": made.correcting(3)}))
    found = school.book.lessons()

    assert [(one.candidate, one.rubric, one.practical, one.day) for one in found] == [
        ("cato", "bar-1", "lesson-1", date(2026, 2, 20)),
        ("cato", "bar-1", "lesson-2", date(2026, 2, 28)),
    ]
    school.book.close()


def test_decisions_and_ruled_awards_are_those_that_stand(tmp_path: Path) -> None:
    school = open_school(tmp_path)
    decision, award = school.fill()
    before = school.book.ruled()
    ruled = {"award": award.id, "on": ON, "by": "zoe", "because": "asked to"}
    school.book.put_ruling(Ruling.model_validate({**ruled, "kind": "suspended"}), school.stamp())
    (found,) = school.book.decided()

    assert (found.candidate, found.rubric, found.day) == ("cato", "bar-1", ON)
    assert (found.rubric_hash, found.outcome) == (decision.rubric.hash, decision.outcome)
    assert not before
    assert school.book.ruled() == {award.id}
    school.book.close()


def test_an_erased_person_still_counts_under_an_opaque_id(tmp_path: Path) -> None:
    school = open_school(tmp_path)
    school.fill()
    school.book.erase("cato", school.stamp())
    (lesson,) = school.book.lessons()

    assert lesson.candidate != "cato"
    assert {one.candidate for one in school.book.decided()} == {lesson.candidate}
    school.book.close()
