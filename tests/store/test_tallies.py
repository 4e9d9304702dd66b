"""Counts of marks in the database say what the sheets say, whatever came in and in which order."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import Any

import pytest
from tests.engine import made
from tests.store.raw import dump, unguarded
from tests.store.school import School, people

from standfast.model.sheet import Sheet
from standfast.store.grouped import GroupedMarks, grouped_marks


def grouped(school: School, since: str | None = None) -> dict[str, GroupedMarks]:
    """By kind of criterion; the rubric has one of each."""
    with school.book._reading() as reading:
        found = grouped_marks(reading.conn, since=since)
    assert {one.rubric for one in found} <= {"bar-1"}
    return {one.kind: one for one in found}


def one_by_one(school: School) -> dict[str, dict[tuple[tuple[float, int], ...], int]]:
    """What each subject was given, counted from the marks that leave the book."""
    kept = school.book.ratings()
    given: dict[tuple[int, int], Counter[float]] = {}
    for subject, criterion, score in zip(kept.subject, kept.criterion, kept.score, strict=True):
        given.setdefault((int(criterion), int(subject)), Counter())[float(score)] += 1
    found: dict[str, Counter[tuple[tuple[float, int], ...]]] = {}
    for (criterion, _), scores in given.items():
        kind = kept.criteria[criterion][1]
        found.setdefault(kind, Counter())[tuple(sorted(scores.items()))] += 1
    return {kind: dict(counts) for kind, counts in found.items()}


def lesson(number: int, assessor: str, yes: int, level: int, **other: Any) -> Sheet:  # noqa: ANN401 - any field of a sheet
    """A lesson of twelve tries, of which so many went well."""
    sheet = made.sheet(number, assessor=assessor, **other)
    tries = made.tries(["yes"] * yes + ["no"] * (12 - yes))
    return sheet.model_copy(update={"attempts": tries, "ratings": made.marks(looks=level)})


@pytest.fixture
def three(school: School) -> School:
    """Two lessons in March and April that two assessors saw, and one in May that one saw."""
    school.book.put_people(people(), school.stamp)
    march = {"practical": "lesson-1", "day": date(2026, 3, 31)}
    april = {"practical": "lesson-2", "day": date(2026, 4, 2)}
    school.take(lesson(1, "ann", 10, 4, **march))
    school.take(lesson(2, "bo", 7, 4, **march))
    school.take(lesson(3, "ann", 12, 3, **april))
    school.take(lesson(4, "bo", 12, 2, **april))
    school.take(lesson(5, "bo", 0, 5, practical="lesson-3", day=date(2026, 5, 1)))
    return school


def test_what_was_given_and_what_was_alike_is_counted(three: School) -> None:
    found = grouped(three)

    tried = dict(found["attempts"].given)
    assert tried == {
        ((1.0, 2),): 7 + 12,
        ((0.0, 1), (1.0, 1)): 3,
        ((0.0, 2),): 2,
        ((0.0, 1),): 12,
    }
    sums = found["attempts"].sums
    assert (sums.lessons, sums.pairs, sums.alike) == (2, 24, 9 + 12)
    assert sums.pairs_squared == 144 + 144
    assert sums.pairs_alike == 12 * 9 + 12 * 12
    assert sums.alike_squared == 81 + 144
    rated = dict(found["rating"].given)
    assert rated == {((4.0, 2),): 1, ((2.0, 1), (3.0, 1)): 1, ((5.0, 1),): 1}
    assert found["rating"].sums.alike == 1


def test_the_counts_are_those_of_the_marks_one_by_one(three: School) -> None:
    found = {kind: dict(one.given) for kind, one in grouped(three).items()}

    assert found == one_by_one(three)
    assert set(found) == {"attempts", "clearances", "samples", "rating"}


def test_months_begin_where_they_are_asked_for(three: School) -> None:
    assert grouped(three, "2026-04")["attempts"].sums.pairs == 12
    assert sum(times for _, times in grouped(three, "2026-05")["attempts"].given) == 12
    assert grouped(three, "2026-05")["attempts"].sums.pairs == 0
    assert grouped(three, "2026-06") == {}


def test_two_looks_that_differ_by_a_tenth_are_alike(school: School) -> None:
    school.book.put_people(people(), school.stamp)
    ann, bo = made.sheet(1), made.sheet(2, assessor="bo")
    looks = [(1, 10), (2, 10), (3, 10)]
    school.take(ann.model_copy(update={"samples": made.looks(looks)}))
    school.take(bo.model_copy(update={"samples": made.looks([(2, 10), (2, 10), (5, 10)])}))

    assert grouped(school)["samples"].sums.alike == 2
    assert grouped(school)["samples"].sums.pairs == 3


def test_a_correction_takes_the_place_of_what_was_counted(three: School) -> None:
    three.take(lesson(6, "bo", 10, 4, practical="lesson-1", corrects=made.correcting(2)))
    found = grouped(three)

    assert found["attempts"].sums.alike == 24
    assert {kind: dict(one.given) for kind, one in found.items()} == one_by_one(three)
    # Its first day is now that of the correction, so that nothing of it is left in March.
    assert grouped(three, "2026-03")["attempts"].sums.pairs == 12
    with unguarded(three) as do:
        months = {month for (month,) in do("SELECT DISTINCT month FROM tallies").fetchall()}
    assert months == {"2026-02", "2026-04", "2026-05"}


def test_many_assessors_of_one_lesson_are_counted(school: School) -> None:
    everybody = [made.person(f"a{n}", scores=["bar-1"]) for n in range(40)]
    school.book.put_people([*people(), *everybody], school.stamp)
    with school.book.together():
        for n in range(40):
            school.take(lesson(n + 1, f"a{n}", 6 + n % 2, 1 + n % 5))
    found = grouped(school)

    assert found["rating"].given == (((tuple((float(x), 8) for x in range(1, 6))), 1),)
    assert found["rating"].sums.pairs == 40 * 39 // 2
    assert found["rating"].sums.alike == 5 * (8 * 7 // 2)
    assert found["attempts"].sums.alike == 11 * (40 * 39 // 2) + 2 * (20 * 19 // 2)


def test_a_rebuild_gives_the_same_counts(three: School) -> None:
    three.take(lesson(6, "bo", 10, 4, practical="lesson-1", corrects=made.correcting(2)))
    before = dump(three)
    three.book.rebuild()

    assert dump(three) == before
    assert before["tallies"]
    assert three.book.audit().faults == []


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE tallies SET subjects = subjects + 1 WHERE kind = 'rating'",
        "DELETE FROM tallies WHERE kind = 'samples'",
        "UPDATE lesson_sums SET alike = alike - 1 WHERE kind = 'attempts'",
        "UPDATE lesson_sums SET month = '2027-01' WHERE month = '2026-03' AND kind = 'rating'",
    ],
)
def test_an_audit_names_a_count_that_was_changed_and_a_rebuild_mends_it(
    three: School, change: str
) -> None:
    with unguarded(three) as do:
        do(change)
    faults = [str(fault) for fault in three.book.audit().faults]

    assert faults
    assert all("is not what the sheets add up to" in fault for fault in faults)
    three.book.rebuild()
    assert three.book.audit().faults == []
