"""Sheets: once each, corrected by others, under the exact text they were scored by."""

from __future__ import annotations

from typing import Any

import pytest
from tests.engine import made
from tests.store.school import School, people

from standfast.problems import NotFound, Refused


@pytest.fixture
def staffed(school: School) -> School:
    school.book.put_people((*people(), made.person("dot")), school.stamp)
    return school


def test_a_sheet_comes_out_as_it_went_in(staffed: School) -> None:
    sheet = made.sheet(1, incidents=made.incidents("left"))
    entry = staffed.take(sheet)
    kept = staffed.book.find_sheet(sheet.id)

    assert kept is not None
    assert kept.sheet == sheet
    assert kept.entry == entry.id
    assert (kept.rubric, kept.syllabus) == staffed.keep_texts()
    assert staffed.book.find_sheet(made.key(2)) is None


def test_the_same_sheet_sent_again_is_the_same_entry(staffed: School) -> None:
    first = staffed.take(made.sheet(1))
    size = staffed.book.size()

    assert staffed.take(made.sheet(1)) == first
    assert staffed.book.size() == size


def test_the_same_sheet_id_with_other_content_is_refused_with_both_shown(staffed: School) -> None:
    staffed.take(made.sheet(1))

    with pytest.raises(Refused) as refused:
        staffed.take(made.sheet(1, minutes=45))

    assert '-  "minutes": 60' in str(refused.value)
    assert '+  "minutes": 45' in str(refused.value)
    assert staffed.book.sheets()[0].sheet.minutes == 60


@pytest.mark.parametrize("field", ["candidate", "assessor"])
def test_a_sheet_about_or_by_somebody_unknown_is_refused(staffed: School, field: str) -> None:
    changed: dict[str, Any] = {field: "nobody"}
    with pytest.raises(NotFound, match="'nobody'"):
        staffed.take(made.sheet(1, **changed))

    assert staffed.book.sheets() == ()


def test_sheets_are_found_by_candidate_and_rubric_in_the_order_taken(staffed: School) -> None:
    for number, candidate in ((3, "cato"), (1, "dot"), (2, "cato")):
        staffed.take(made.sheet(number, candidate=candidate))

    def found(candidate: str | None = None, rubric: str | None = None) -> list[str]:
        return [kept.sheet.id for kept in staffed.book.sheets(candidate, rubric)]

    assert found(candidate="cato") == [made.key(3), made.key(2)]
    assert found(candidate="cato", rubric="bar-1") == found(candidate="cato")
    assert found(rubric="other") == []
    assert found() == [made.key(3), made.key(1), made.key(2)]
    with pytest.raises(NotFound):
        found(candidate="nobody")


def test_a_correction_supersedes_and_says_why(staffed: School) -> None:
    before = staffed.take(made.sheet(1))
    entry = staffed.take(made.sheet(2, corrects=made.correcting(1, "wrong student")))
    everything = staffed.book.sheets("cato", superseded=True)

    assert [kept.sheet.id for kept in staffed.book.sheets("cato")] == [made.key(2)]
    assert [kept.superseded_by for kept in everything] == [made.key(2), None]
    assert entry.supersedes == before.id
    assert staffed.book.history("cato")[-1].body.because == "wrong student"


def test_a_correction_sent_again_is_the_same_entry(staffed: School) -> None:
    staffed.take(made.sheet(1))
    corrected = made.sheet(2, corrects=made.correcting(1))

    assert staffed.take(corrected) == staffed.take(corrected)


def test_a_sheet_is_corrected_once(staffed: School) -> None:
    staffed.take(made.sheet(1))
    staffed.take(made.sheet(2, corrects=made.correcting(1)))

    with pytest.raises(Refused, match=f"corrected already, by sheet {made.key(2)}"):
        staffed.take(made.sheet(3, corrects=made.correcting(1)))
    staffed.take(made.sheet(4, corrects=made.correcting(2)))


def test_a_sheet_that_is_not_there_cannot_be_corrected(staffed: School) -> None:
    with pytest.raises(NotFound, match="sheet to correct"):
        staffed.take(made.sheet(2, corrects=made.correcting(1)))


@pytest.mark.parametrize(
    "other", [{"candidate": "dot"}, {"assessor": "bo"}, {"practical": "lesson-2"}]
)
def test_only_the_same_assessors_sheet_of_the_same_practical_corrects(
    staffed: School, other: dict[str, Any]
) -> None:
    staffed.take(made.sheet(1))

    with pytest.raises(Refused, match="the same assessor's sheet"):
        staffed.take(made.sheet(2, corrects=made.correcting(1), **other))
