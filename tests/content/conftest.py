"""The shipped definitions, read once for all tests of content."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from standfast.files.candidates import read_people
from standfast.files.rubrics import read_rubric
from standfast.files.school import read_school
from standfast.files.syllabus import read_syllabus
from standfast.model.people import Person
from standfast.model.rubric import Rubric
from standfast.model.school import School
from standfast.model.syllabus import Syllabus

ROOT = Path(__file__).resolve().parents[2]


# Words on which two strangers differ: they judge, and do not say what was seen.
JUDGEMENTS = re.compile(
    r"\b(good|better|best|bad|poor|adequate(?:ly)?|inadequate|appropriate(?:ly)?|proper(?:ly)?|nice(?:ly)?"
    r"|well|sufficient(?:ly)?|enough|confident(?:ly)?|competent(?:ly)?|effective(?:ly)?|clear(?:ly)?"
    r"|safe(?:ly)?|careful(?:ly)?|correct(?:ly)?|right(?:ly)? way|suitable|suitably|reasonable"
    r"|reasonably|calm(?:ly)?|quick(?:ly)?|prompt(?:ly)?|smooth(?:ly)?|excellent|satisfactory"
    r"|professional(?:ly)?|attentive(?:ly)?|aware|usually|often|seldom|sometimes|generally"
    r"|mostly|regularly|timely|strong|weak|supportive|positive|friendly|relevant|etc)\b",
    re.IGNORECASE,
)


@pytest.fixture(scope="session")
def rubrics() -> dict[str, Rubric]:
    names = ("low-trapeze-1", "floor-tumbling-1", "trapeze-refresher", "tumbling-refresher")
    return {n: read_rubric(ROOT / "rubrics" / f"{n}.yaml").noun for n in names}


@pytest.fixture(scope="session")
def syllabuses() -> dict[str, Syllabus]:
    names = ("low-trapeze", "floor-tumbling")
    return {n: read_syllabus(ROOT / "rubrics" / f"{n}.yaml").noun for n in names}


@pytest.fixture(scope="session")
def school() -> School:
    return read_school(ROOT / "candidates" / "school.yaml").noun


@pytest.fixture(scope="session")
def people() -> dict[str, Person]:
    placed = read_people(ROOT / "candidates" / "people.yaml")
    return {one.noun.id: one.noun for one in placed}


@pytest.fixture(scope="session")
def judgement() -> re.Pattern[str]:
    return JUDGEMENTS
