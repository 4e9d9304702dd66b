"""Awards in the book, and those that take the place of others."""

from __future__ import annotations

from datetime import date

import pytest
from tests.engine import made
from tests.store.school import School, people

from standfast.model.award import Award
from standfast.model.sheet import Correction
from standfast.problems import NotFound, Refused


@pytest.fixture
def decided(school: School) -> School:
    school.book.put_people(people(), school.stamp)
    school.take(made.sheet(1))
    return school


def grant(school: School, number: str = "A-1", **other: object) -> Award:
    """A new award on a new decision, entered."""
    award = school.award(school.decide([made.sheet(1)]).id, number, **other)
    school.book.put_award(award, school.stamp())
    return award


def numbers(school: School, *, past: bool = False) -> list[str]:
    return [kept.award.number for kept in school.book.awards("cato", past=past)]


def test_an_award_is_found_by_id_and_by_number(decided: School) -> None:
    award = grant(decided)
    kept = decided.book.find_award(award.id)

    assert kept is not None
    assert kept.award == award
    assert decided.book.find_award("A-1") == kept
    assert decided.book.find_award("A-2") is None


def test_the_same_award_sent_again_is_the_same_entry(decided: School) -> None:
    award = grant(decided)
    size = decided.book.size()
    decided.book.put_award(award, decided.stamp())

    assert decided.book.size() == size
    with pytest.raises(Refused, match="other content"):
        decided.book.put_award(award.model_copy(update={"number": "A-2"}), decided.stamp())


def test_a_number_is_given_once(decided: School) -> None:
    first = grant(decided)

    with pytest.raises(Refused, match=f"number A-1 is taken, by award {first.id}"):
        grant(decided)


def test_an_award_without_its_decision_in_the_book_is_refused(decided: School) -> None:
    with pytest.raises(NotFound, match="decision in the record book"):
        decided.book.put_award(decided.award(made.key(5)), decided.stamp())


def test_an_unknown_certifier_is_refused(decided: School) -> None:
    with pytest.raises(NotFound, match="'nobody'"):
        grant(decided, certifier="nobody")


def test_a_renewed_award_is_past(decided: School) -> None:
    first = grant(decided)
    grant(decided, "A-2", renews=first.id)

    assert numbers(decided) == ["A-2"]
    assert numbers(decided, past=True) == ["A-1", "A-2"]
    with pytest.raises(Refused, match="renewed already"):
        grant(decided, "A-3", renews=first.id)
    with pytest.raises(NotFound, match="award to renew"):
        grant(decided, "A-3", renews=made.key(5))


def test_a_corrected_award_is_past_and_the_entry_says_why(decided: School) -> None:
    first = grant(decided)
    award = decided.award(first.decision, "A-2")
    decided.book.put_award(award, decided.stamp(), Correction(of=first.id, because="wrong day"))
    event = decided.book.history("cato")[-1]
    old = decided.book.find_award("A-1")

    assert numbers(decided) == ["A-2"]
    assert old is not None
    assert old.superseded_by == award.id
    assert (event.supersedes, event.body.because) == (old.entry, "wrong day")


def test_a_renewal_may_be_corrected(decided: School) -> None:
    first = grant(decided)
    wrong = grant(decided, "A-2", renews=first.id)
    right = decided.award(wrong.decision, "A-3", renews=first.id)
    decided.book.put_award(right, decided.stamp(), Correction(of=wrong.id, because="wrong day"))
    renewed = decided.book.find_award("A-1")

    assert numbers(decided) == ["A-3"]
    assert renewed is not None
    assert renewed.renewed_by == right.id
    assert decided.book.audit().clean


@pytest.mark.parametrize(
    ("on", "expected"),
    [
        pytest.param(date(2026, 2, 28), [], id="a day before it was granted"),
        pytest.param(date(2026, 3, 1), ["A-1"], id="granted that day"),
        pytest.param(date(2027, 2, 27), ["A-1"], id="a day before it was renewed"),
        pytest.param(date(2027, 2, 28), ["A-2"], id="renewed that day"),
        pytest.param(date(2030, 1, 1), ["A-2"], id="long after"),
    ],
)
def test_on_each_day_the_award_of_that_day_stood(
    decided: School, on: date, expected: list[str]
) -> None:
    first = grant(decided)
    later = date(2027, 2, 28)
    dates = first.dates.model_copy(update={"first_day": later})
    grant(decided, "A-2", renews=first.id, granted=later, dates=dates)

    assert [kept.award.number for kept in decided.book.awards("cato", on=on)] == expected


def test_a_corrected_award_stood_on_no_day(decided: School) -> None:
    wrong = grant(decided)
    award = decided.award(decided.decide([made.sheet(1)]).id, "A-2")
    because = Correction(of=wrong.id, because="a wrong number")
    decided.book.put_award(award, decided.stamp(), because)

    assert [kept.award.number for kept in decided.book.awards("cato", on=wrong.granted)] == ["A-2"]
