"""Marks leave the book as arrays that say what the sheets say."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from datetime import date

import pytest
from tests.engine import made
from tests.store.school import School, people

from standfast.model.evidence import Rating
from standfast.store.marks import packed
from standfast.store.ratings import KeptRatings


@pytest.fixture
def two(school: School) -> KeptRatings:
    """Ann and Bo in one practical: they differ in a try, a look, and the level."""
    school.book.put_people(people(), school.stamp)
    school.take(made.sheet(1))
    other = made.sheet(2, assessor="bo", day=date(2026, 2, 21))
    tries = made.tries(["yes"] * 10 + ["no", "unseen"])
    looks = made.looks([None, (1, 4), (0, 0), *[(0, 3)] * 21])
    school.take(
        other.model_copy(
            update={"attempts": tries, "samples": looks, "ratings": made.marks(looks=None)}
        )
    )
    return school.book.ratings()


def of(found: KeptRatings, kind: str, assessor: str) -> Counter[float]:
    return Counter(
        float(score)
        for score, criterion, sheet in zip(found.score, found.criterion, found.sheet, strict=True)
        if found.criteria[criterion][1] == kind and found.assessors[sheet] == assessor
    )


def test_every_kind_becomes_scores_and_what_was_not_seen_none(two: KeptRatings) -> None:
    asked = len([c for c in made.rubric().criteria() if c.kind == "attempts"])
    tried = of(two, "attempts", "bo")

    assert of(two, "attempts", "ann") == {1.0: 12 * len(answered(1))}
    assert tried[0.0] == tried[1.0] / 10 > 0
    assert asked > 0
    assert of(two, "samples", "bo") == {0.75: 1, 1.0: 21}
    assert of(two, "samples", "ann") == {1.0: 24}
    assert of(two, "clearances", "ann") == {1.0: 6}
    assert of(two, "rating", "ann") == {4.0: 1}
    assert not of(two, "rating", "bo")


def answered(number: int) -> set[str]:
    return {name for attempt in made.sheet(number).attempts for name in attempt.answers}


def test_two_assessors_mark_the_same_subjects(two: KeptRatings) -> None:
    by_sheet = [set(two.subject[two.sheet == sheet].tolist()) for sheet in (0, 1)]
    shared = by_sheet[0] & by_sheet[1]

    # 11 tries that both saw, 22 looks at which both saw somebody wait, 6 choices.
    assert len(shared) == 11 + 22 + 6
    assert len(by_sheet[0]) == 12 + 24 + 6 + 1


def test_the_same_lesson_of_another_name_has_other_subjects(school: School) -> None:
    school.book.put_people(people(), school.stamp)
    school.take(made.sheet(1))
    school.take(made.sheet(2, practical="lesson-2"))
    found = school.book.ratings()

    assert len(set(found.subject.tolist())) == 2 * len(set(found.subject[found.sheet == 0]))
    assert found.practicals == ("lesson-1", "lesson-2")


def test_a_corrected_sheet_is_left_out(school: School) -> None:
    school.fill()
    found = school.book.ratings()

    assert found.assessors == ("ann", "bo")
    assert len(school.book.sheets(superseded=True)) == 3


def test_another_rubric_has_no_marks(filled: School) -> None:
    assert len(filled.book.ratings("bar-1").score) > 0
    assert not len(filled.book.ratings("other-1").score)


def test_an_empty_book_has_no_marks(school: School) -> None:
    assert not len(school.book.ratings().score)


def test_the_lower_of_two_levels_counts() -> None:
    sheet = {
        "practical": "lesson-1",
        "ratings": [{"criterion": "looks", "level": 4}, {"criterion": "looks", "level": 2}],
    }
    twice = packed(sheet)
    lower = packed({**sheet, "ratings": [{"criterion": "looks", "level": 2}]})

    assert twice == lower
    assert Rating(criterion="looks", level=2).level == 2


def test_marks_are_the_same_after_a_rebuild_and_an_audit_looks_at_them(filled: School) -> None:
    before = filled.book.ratings()
    filled.book.rebuild()
    after = filled.book.ratings()

    assert before.score.tolist() == after.score.tolist()
    assert before.subject.tolist() == after.subject.tolist()
    assert not filled.book.audit().faults


def test_whoever_opens_a_book_loads_no_numbers() -> None:
    probe = "import sys, standfast.store.book; assert 'numpy' not in sys.modules"

    assert subprocess.run([sys.executable, "-c", probe], check=False).returncode == 0
