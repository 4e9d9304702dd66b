"""The book as it stood: what had been entered by then, and nothing else."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select
from tests.engine import made
from tests.store.school import BEGAN, School, open_school, people

from standfast.model.award import Ruling
from standfast.problems import RecordBookError
from standfast.store.book import Book
from standfast.store.tables import DERIVED


def rows(book: Book) -> dict[str, list[tuple[object, ...]]]:
    """Every derived row of the book."""
    with book._transactions.reading() as reading:
        return {
            table.name: sorted(
                (tuple(row) for row in reading.conn.execute(select(table))), key=repr
            )
            for table in DERIVED
        }


def withdraw(school: School, award: str) -> None:
    ruling = Ruling(award=award, kind="withdrawn", on=BEGAN.date(), by="zoe", because="asked to")
    school.book.put_ruling(ruling, school.stamp("zoe"))


def test_it_is_the_book_that_holds_only_what_had_been_entered(tmp_path: Path) -> None:
    whole, part = open_school(tmp_path / "whole"), open_school(tmp_path / "part")
    for school in (whole, part):
        school.fill()
    then = whole.stamp().at
    part.stamp()
    (award,) = whole.book.awards("cato")
    withdraw(whole, award.award.id)
    whole.take(made.sheet(4))

    with whole.book.as_it_stood(then) as past:
        assert past.size() == part.book.size() == whole.book.size() - 2
        assert rows(past) == rows(part.book)
        assert past.awards("cato") == part.book.awards("cato")
        assert past.rulings(award.award.id) == ()
        assert past.history("cato") == part.book.history("cato")
    assert len(whole.book.rulings(award.award.id)) == 1


@pytest.mark.parametrize("entered", [1, 3, 8, 11])
def test_each_earlier_instant_has_its_own_answer(filled: School, entered: int) -> None:
    everything = list(filled.book.history())

    with filled.book.as_it_stood(datetime.fromisoformat(everything[entered - 1].at)) as past:
        assert list(past.history()) == everything[:entered]


def test_an_entry_counts_from_its_own_instant_on(filled: School) -> None:
    *_, last = filled.book.history()
    before = datetime.fromisoformat(last.at) - timedelta(milliseconds=1)

    with filled.book.as_it_stood(datetime.fromisoformat(last.at)) as on_it:
        assert on_it.size() == filled.book.size()
    with filled.book.as_it_stood(before) as one_before:
        assert one_before.size() == filled.book.size() - 1


def test_before_the_first_entry_nothing_was_known(filled: School) -> None:
    with filled.book.as_it_stood(BEGAN) as past:
        assert past.size() == 0
        assert past.awards() == ()
        assert past.find_person("cato") is None


def test_nothing_is_entered_into_the_past(filled: School) -> None:
    with (
        filled.book.as_it_stood(BEGAN + timedelta(hours=1)) as past,
        pytest.raises(RecordBookError, match="only read"),
    ):
        past.put_people(people(), filled.stamp)


@pytest.mark.of_the_file
def test_looking_at_the_past_leaves_the_book_as_it_is(filled: School, tmp_path: Path) -> None:
    before = (tmp_path / "standfast.db").read_bytes()

    with filled.book.as_it_stood(BEGAN + timedelta(seconds=5)) as past:
        assert 0 < past.size() < filled.book.size()

    assert (tmp_path / "standfast.db").read_bytes() == before


def test_a_name_that_was_erased_stays_erased(filled: School) -> None:
    then = filled.stamp().at
    filled.book.erase("cato", filled.stamp())

    with filled.book.as_it_stood(then) as past:
        assert past.find_person("cato") is None
        assert "Quillfeather" not in repr(list(past.history()))
        assert len(past.awards()) == 1


def test_each_entry_counts_by_its_own_clock_even_when_one_was_ahead(school: School) -> None:
    school.book.put_people(people(), school.stamp)
    school.take(made.sheet(1))
    then = school.stamp().at
    right = school.seconds
    school.seconds += 10**6
    decision = school.decide([made.sheet(1)])
    school.seconds = right + 1
    award = school.award(decision.id)
    school.book.put_award(award, school.stamp())

    with school.book.as_it_stood(then + timedelta(hours=1)) as past:
        assert past.find_decision(decision.id) is None
        assert [kept.award for kept in past.awards()] == [award]
