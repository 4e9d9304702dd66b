"""The shipped definitions, read once for all tests of content."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

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


class _Words(yaml.SafeLoader):
    """YAML 1.2 core scalars: only true/false, whole numbers, decimals and null are no text."""


_Words.yaml_implicit_resolvers = {}
for _tag, _pattern, _first in [
    ("bool", r"^(?:true|false)$", "tf"),
    ("int", r"^-?(?:0|[1-9][0-9]*)$", "-0123456789"),
    ("float", r"^-?[0-9]+\.[0-9]+$", "-0123456789"),
    ("null", r"^(?:null|~)$", "n~"),
]:
    _Words.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(_pattern), _first)


def read(path: Path, kind: str) -> dict[str, Any]:
    """The mapping in a file, its first key turned into `id`."""
    raw: dict[str, Any] = yaml.load(path.read_text("utf-8"), Loader=_Words)  # noqa: S506 - a SafeLoader with fewer scalars
    assert next(iter(raw)) == kind
    raw["id"] = raw.pop(kind)
    return raw


@pytest.fixture(scope="session")
def rubrics() -> dict[str, Rubric]:
    names = ("low-trapeze-1", "floor-tumbling-1", "trapeze-refresher")
    return {n: Rubric.model_validate(read(ROOT / "rubrics" / f"{n}.yaml", "rubric")) for n in names}


@pytest.fixture(scope="session")
def syllabuses() -> dict[str, Syllabus]:
    names = ("low-trapeze", "floor-tumbling")
    return {
        n: Syllabus.model_validate(read(ROOT / "rubrics" / f"{n}.yaml", "syllabus")) for n in names
    }


@pytest.fixture(scope="session")
def school() -> School:
    return School.model_validate(read(ROOT / "candidates" / "school.yaml", "school"))


@pytest.fixture(scope="session")
def people() -> dict[str, Person]:
    listed = read(ROOT / "candidates" / "people.yaml", "people")["id"]
    for item in listed:
        item["id"] = item.pop("person")
    return {item["id"]: Person.model_validate(item) for item in listed}


@pytest.fixture(scope="session")
def judgement() -> re.Pattern[str]:
    return JUDGEMENTS
