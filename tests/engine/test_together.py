"""Whether several sheets can be records of the same practical."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from tests.engine import made

from standfast.engine.together import faults_beside
from standfast.model.sheet import Sheet

FIRST = made.sheet(1)


def said(sheet: Sheet, *others: Sheet) -> list[str]:
    return [str(fault) for fault in faults_beside(sheet, others)]


def test_two_assessors_may_score_one_practical() -> None:
    assert said(made.sheet(2, assessor="bo"), FIRST) == []


def test_other_practicals_do_not_matter() -> None:
    other = made.sheet(2, practical="lesson-2", candidate="dot", day=date(2026, 2, 21))

    assert said(other, FIRST) == []


@pytest.mark.parametrize(
    ("field", "changed"),
    [
        ("candidate", {"candidate": "dot"}),
        ("rubric", {"rubric": "bar-2"}),
        ("rubric_version", {"rubric_version": 2}),
        ("began", {"day": date(2026, 2, 21)}),
    ],
)
def test_sheets_of_one_practical_agree_on_what_it_was(field: str, changed: dict[str, Any]) -> None:
    [fault] = faults_beside(made.sheet(2, assessor="bo", **changed), [FIRST])

    assert fault.path == (field,)
    assert FIRST.id in fault.what


def test_an_assessor_has_one_sheet_of_a_practical_and_is_told_how_to_correct_it() -> None:
    [fault] = faults_beside(made.sheet(2), [FIRST])

    assert fault.path == ("assessor",)
    assert f"corrects: {{of: {FIRST.id}" in fault.cure


def test_a_correction_takes_the_place_of_its_own_sheet() -> None:
    assert said(made.sheet(2, corrects=made.correcting(1), minutes=50), FIRST) == []


@pytest.mark.parametrize(
    "changed", [{"assessor": "bo"}, {"candidate": "dot"}, {"practical": "lesson-2"}], ids=str
)
def test_nobody_corrects_another_s_sheet(changed: dict[str, Any]) -> None:
    correction = made.sheet(2, corrects=made.correcting(1), **changed)

    assert any("the sheet it corrects says" in line for line in said(correction, FIRST))


def test_what_is_corrected_must_stand_in_the_book() -> None:
    correction = made.sheet(3, corrects=made.correcting(2))

    [line] = said(correction, FIRST)
    assert made.key(2) in line
    assert "is not in the book, or was corrected before" in line


def test_the_same_sheet_again_is_no_second_one() -> None:
    assert said(FIRST, FIRST) == []
