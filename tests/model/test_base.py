"""What all nouns share."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from pydantic import TypeAdapter, ValidationError

from standfast.model.award import Award
from standfast.model.base import Day, Elapsed, Moment, Period, exact, rename_people
from standfast.model.canonical import content_hash, plain
from standfast.model.decision import Decision
from standfast.model.people import Document, Person, Tie
from standfast.model.sheet import Sheet

ADA = Person(
    id="ada-berg",
    name="Ada Berg",
    documents=(
        Document(document="first-aid", issued=date(2024, 1, 1), last_day=date(2026, 1, 1)),
        Document(document="first-aid", issued=date(2025, 12, 1), last_day=date(2027, 12, 1)),
    ),
    trained_by=(Tie(trainer="kei-ito", since=date(2024, 1, 1), until=date(2024, 6, 30)),),
)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        pytest.param("0:00", 0, id="the first second"),
        pytest.param("12:30", 750, id="minutes and seconds"),
        pytest.param("1:02:03", 3723, id="hours too"),
        pytest.param(45, 45, id="seconds"),
    ],
)
def test_a_time_in_the_lesson_is_seconds_since_it_began(text: object, seconds: int) -> None:
    assert TypeAdapter(Elapsed).validate_python(text) == seconds


@pytest.mark.parametrize("text", ["12:60", "12", "", "1:2:3:4", "-1:00", True, -1, 1.5, None])
def test_anything_else_is_no_time_in_the_lesson(text: object) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(Elapsed).validate_python(text)


@pytest.mark.parametrize("text", ["P2Y", "P18M", "P6W", "P90D", "P1Y6M", "P1Y2M3W4D"])
def test_a_period_is_whole_years_months_weeks_or_days(text: str) -> None:
    assert TypeAdapter(Period).validate_python(text) == text


@pytest.mark.parametrize(
    "text", ["P", "P0D", "P0.5Y", "P1H", "PT5M", "2Y", "P-1Y", "p2y", "P1D1M", ""]
)
def test_anything_else_is_no_period(text: str) -> None:
    with pytest.raises(ValidationError, match="no period"):
        TypeAdapter(Period).validate_python(text)


@pytest.mark.parametrize(
    "value", [20260301, "2026-02-30", "20260301", "2026-3-1", "", None, 1.0, True]
)
def test_a_day_is_written_in_full(value: object) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter(Day).validate_python(value)


def test_a_moment_needs_its_offset() -> None:
    with pytest.raises(ValidationError, match="has no offset"):
        TypeAdapter(Moment).validate_python("2026-03-01T10:00:00")


def test_a_decimal_share_is_the_fraction_that_was_written() -> None:
    assert exact(0.85) == Fraction(17, 20)
    assert exact(0.1) + exact(0.2) == exact(0.3)


def test_every_field_that_names_a_person_is_renamed_at_any_depth() -> None:
    renamed = rename_people(ADA, lambda slug: f"p-{slug}")

    assert renamed.id == "p-ada-berg"
    assert renamed.trained_by[0].trainer == "p-kei-ito"
    assert renamed.documents is ADA.documents


@pytest.mark.parametrize(
    ("noun", "fields"),
    [
        (Sheet, {"candidate", "assessor"}),
        (Decision, {"candidate"}),
        (Award, {"candidate", "certifier"}),
    ],
)
def test_the_fields_that_name_people_are_marked(noun: type[Sheet], fields: set[str]) -> None:
    from standfast.model.base import _person_fields

    assert _person_fields(noun) == fields


def test_the_longest_running_document_counts_once_it_is_issued() -> None:
    assert ADA.document_until("first-aid", date(2025, 11, 30)) == date(2026, 1, 1)
    assert ADA.document_until("first-aid", date(2025, 12, 1)) == date(2027, 12, 1)
    assert ADA.document_until("insurance", date(2025, 12, 1)) is None


def test_content_has_one_name_whatever_the_unicode_form() -> None:
    composed = ADA.model_copy(update={"name": "Zo\u00eb"})
    decomposed = ADA.model_copy(update={"name": "Zoe\u0308"})

    assert content_hash(composed) == content_hash(decomposed)
    assert content_hash(composed) != content_hash(ADA)
    assert "contact" not in plain(ADA)
