"""Rubrics and syllabuses, kept by their content for ever."""

from __future__ import annotations

import pytest
from tests.engine import made
from tests.store.school import RUBRIC, SYLLABUS, School, people

from standfast.model.canonical import content_hash
from standfast.model.rubric import Rubric
from standfast.problems import NotFound, Refused

OTHER = RUBRIC.model_copy(update={"title": "Bar, told better"})


@pytest.fixture
def staffed(school: School) -> School:
    school.book.put_people(people(), school.stamp)
    return school


def test_texts_come_out_as_they_went_in_under_their_hash(school: School) -> None:
    rubric, syllabus = school.keep_texts()

    assert school.book.find_text(rubric.hash) == RUBRIC
    assert school.book.find_text(syllabus.hash) == SYLLABUS
    assert rubric.hash == content_hash(RUBRIC)
    assert school.book.find_text("0" * 64) is None


def test_a_text_that_is_kept_already_adds_no_entry(school: School) -> None:
    school.keep_texts()
    school.keep_texts()

    assert school.book.size() == 2


def test_a_version_no_sheet_used_may_still_change_and_the_last_one_counts(school: School) -> None:
    school.keep_texts()
    later, _ = school.keep_texts(OTHER)
    assert school.book.find_version("rubric", "bar-1") == later

    again, _ = school.keep_texts(RUBRIC)

    assert school.book.find_version("rubric", "bar-1") == again
    assert school.book.find_text(again.hash) == RUBRIC
    assert school.book.audit().clean


def test_a_used_rubric_is_refused_with_other_content_and_the_difference_shown(
    staffed: School,
) -> None:
    staffed.take(made.sheet(1))

    with pytest.raises(Refused) as refused:
        staffed.book.keep_text(OTHER, staffed.stamp())

    said = str(refused.value)
    assert "raise its version to 2" in said
    assert '- "title": "Bar",' in said
    assert '+ "title": "Bar, told better",' in said


def test_a_used_syllabus_is_refused_with_other_content(staffed: School) -> None:
    staffed.take(made.sheet(1))

    with pytest.raises(Refused, match="syllabus bar version 1 was used"):
        staffed.keep_texts(syllabus=made.syllabus(made.skill("hang"), title="Other"))


def test_a_raised_version_is_kept_beside_the_used_one(staffed: School) -> None:
    staffed.take(made.sheet(1))
    second = RUBRIC.model_copy(update={"version": 2, "title": "Bar, told better"})
    reference, _ = staffed.keep_texts(second)
    versions = [found.version for found in staffed.book.texts("rubric")]

    assert staffed.book.find_version("rubric", "bar-1") == reference
    assert versions == [1, 2]
    assert staffed.book.find_version("rubric", "bar-1", 3) is None
    assert staffed.book.find_version("syllabus", "bar-1") is None


def test_one_version_is_one_text_for_all_sheets(staffed: School) -> None:
    first, syllabus = staffed.keep_texts()
    second, _ = staffed.keep_texts(OTHER)
    staffed.book.put_sheet(made.sheet(1), first, syllabus, staffed.stamp())

    with pytest.raises(Refused, match="another text"):
        staffed.book.put_sheet(made.sheet(2), second, syllabus, staffed.stamp())


def test_a_sheet_under_a_text_that_is_not_kept_is_refused(staffed: School) -> None:
    rubric, syllabus = staffed.keep_texts()
    unknown = rubric.model_copy(update={"hash": "0" * 64})

    with pytest.raises(NotFound, match="kept text of rubric bar-1 version 1"):
        staffed.book.put_sheet(made.sheet(1), unknown, syllabus, staffed.stamp())
    with pytest.raises(NotFound):
        staffed.book.put_sheet(made.sheet(1), rubric, rubric, staffed.stamp())


def test_a_sheet_that_names_another_version_than_its_text_is_refused(staffed: School) -> None:
    rubric, syllabus = staffed.keep_texts()

    with pytest.raises(Refused, match="scored under rubric bar-1 version 2"):
        staffed.book.put_sheet(made.sheet(1, rubric_version=2), rubric, syllabus, staffed.stamp())


def test_a_text_with_accents_is_one_text_however_typed(school: School) -> None:
    def titled(title: str) -> Rubric:
        return RUBRIC.model_copy(update={"title": title})

    first, _ = school.keep_texts(titled("Tr\u00e9pieds"))
    again, _ = school.keep_texts(titled("Tre\u0301pieds"))

    assert first == again
    assert school.book.size() == 2
