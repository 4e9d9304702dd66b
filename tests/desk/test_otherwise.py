"""Decisions of a real book that one assessor's severity tipped, and that nothing changes them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime, timezone
from pathlib import Path

import pytest
from tests.desk import severe
from tests.store.school import open_school

from standfast.cli.compared.severity import words_of
from standfast.desk.comparing import Comparison, compare
from standfast.desk.in_step import three_sentences
from standfast.desk.marks import marks_of_book
from standfast.desk.opening import Desk, Moment
from standfast.desk.otherwise import decided_otherwise
from standfast.desk.severities import Severity


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    """The file of the book in which cy gives so many levels less."""
    folder = tmp_path_factory.mktemp("books")
    files = {less: folder / f"{less}.db" for less in (0, 2)}
    for less, file in files.items():
        severe.fill(file, less)
    return files


@contextmanager
def desk_of(file: Path, on: date = date(2026, 12, 1)) -> Iterator[Desk]:
    school = open_school(file, create=False)
    with school.book:
        now = datetime(2026, 12, 1, 9, tzinfo=timezone.utc)
        yield Desk(file.parent, Moment(now, "zoe", bytes, on), school.book)


def compared(file: Path, since: date | None = None, on: date = date(2026, 12, 1)) -> Comparison:
    with desk_of(file, on) as desk:
        return compare(marks_of_book(desk, "bar-1", since), desk, "bar-1")


def test_decisions_that_severity_tipped_are_listed_with_what_tips_them(
    books: dict[int, Path],
) -> None:
    found = compared(books[2])
    asked = found.otherwise
    assert asked is not None

    assert asked.decisions == severe.LESSONS
    assert asked.found
    for one in asked.found:
        assert (one.outcome, one.would_be) == ("fail", "pass")
        assert (one.candidate, one.name) == ("cato", "Cato Quillfeather")
        assert one.certain
        assert one.criteria
        assert {level.criterion for level in one.changed} == set(one.criteria)
        assert "cy" in {level.assessor for level in one.changed}
        assert set(one.practicals) == {level.practical for level in one.changed}
    assert f"have a person look at {len(asked.found)} decisions that" in three_sentences(found)[2]


def test_without_severity_nothing_tips(books: dict[int, Path]) -> None:
    found = compared(books[0])
    assert found.otherwise is not None

    assert found.otherwise.found == ()
    assert "have a person look" not in three_sentences(found)[2]


def test_what_is_decided_stays_as_it_is(books: dict[int, Path]) -> None:
    with desk_of(books[2]) as desk:
        before = (desk.book.size(), [one.decision for one in desk.book.decisions()])
        compare(marks_of_book(desk, None, None), desk)
        after = (desk.book.size(), [one.decision for one in desk.book.decisions()])

    assert before == after


def test_a_book_of_one_rubric_tips_the_same_named_or_not(books: dict[int, Path]) -> None:
    with desk_of(books[2]) as desk:
        every = compare(marks_of_book(desk, None, None), desk)
    named = compared(books[2])
    assert every.otherwise is not None
    assert named.otherwise is not None

    assert every.otherwise.found == named.otherwise.found


def test_lessons_before_since_and_decisions_after_the_day_tip_nothing(
    books: dict[int, Path],
) -> None:
    since, on = date(2026, 1, 20), date(2026, 2, 10)
    every, some = compared(books[2]).otherwise, compared(books[2], since, on).otherwise
    assert every is not None
    assert some is not None

    assert some.found
    assert all(since <= one.on <= on for one in some.found)
    assert len(some.found) < len(every.found)
    assert some.decisions == 41  # lesson 1 was on 1 January


def test_fair_scores_undo_what_was_taken_off(books: dict[int, Path]) -> None:
    """Lessons of cy alone come nearer to those of the book in which she takes off none."""
    fair, plain = (
        {score.lesson: score for score in compared(books[less]).severity.fair} for less in (2, 0)
    )
    alone = [name for name, score in fair.items() if score.assessors == ("cy",)]
    raw = [abs(fair[name].given - plain[name].given) for name in alone]
    mended = [abs(fair[name].fair - plain[name].given) for name in alone]

    assert len(alone) > 3
    assert sum(mended) < 0.7 * sum(raw)


def test_what_rests_on_no_certain_severity_is_listed_and_said_to_be_so(
    books: dict[int, Path],
) -> None:
    with desk_of(books[2]) as desk:
        found = compare(marks_of_book(desk, "bar-1", None), desk, "bar-1")
        doubtful = doubted(found.severity)
        asked = decided_otherwise(desk, doubtful, "bar-1")
    assert found.otherwise is not None
    said = " ".join(" ".join(words_of(replace(found, otherwise=asked))).split())
    sure = " ".join(words_of(found))

    assert len(asked.found) == len(found.otherwise.found)
    assert not any(one.certain for one in asked.found)
    assert said.count("not certain: the bounds of each severity here hold 0") == len(asked.found)
    assert "not certain" not in sure


def doubted(severity: Severity) -> Severity:
    """The same with bounds that hold 0 for everybody."""
    parts = [
        replace(
            part,
            severities=replace(
                part.severities,
                assessors=tuple(
                    replace(one, low=-9.0, high=9.0) for one in part.severities.assessors
                ),
            ),
        )
        for part in severity.parts
        if part.severities
    ]
    return replace(severity, parts=tuple(parts))
