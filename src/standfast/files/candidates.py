"""People from YAML: candidates, assessors, certifiers."""

from __future__ import annotations

from pathlib import Path

from standfast.files.read import Document, Placed, read_yaml
from standfast.files.shape import as_noun
from standfast.model.people import Person
from standfast.problems import BadInput, Problem


def read_people(path: Path) -> tuple[Placed[Person], ...]:
    """The people of a YAML, CSV or XLSX file.

    Raises:
        BadInput: every fault of its form and shape, each with its line or row.
    """
    suffix = path.suffix.lower()
    if suffix in {".csv", ".xlsx"}:
        from standfast.files.people_table import read_people_table

        return read_people_table(path)
    return as_people(read_yaml(path))


def as_people(document: Document) -> tuple[Placed[Person], ...]:
    """The people that a document lists under `people:`; as `read_people`."""
    problems: list[Problem] = []
    listed = document.value.get("people") if isinstance(document.value, dict) else None
    if not isinstance(listed, list):
        place = document.place(("people",))
        raise BadInput(
            [Problem(place, "'people:' holds no list", "write '- person: ada-berg' lines")]
        )
    problems.extend(
        Problem(document.keys[key,], f"key '{key}' is not known", "keep only 'people:'")
        for key in document.value
        if key != "people"
    )
    found = []
    for number in range(len(listed)):
        try:
            found.append(as_noun(Person, document, ("people", number), word="person"))
        except BadInput as error:
            problems.extend(error.problems)
    problems.extend(twice(found))
    if problems:
        raise BadInput(sorted(problems))
    return tuple(found)


def twice(people: list[Placed[Person]]) -> list[Problem]:
    """A problem for each person who stands in the list before."""
    first: dict[str, Placed[Person]] = {}
    problems = []
    for placed in people:
        before = first.setdefault(placed.noun.id, placed)
        if before is not placed:
            what = f"person '{placed.noun.id}' is there already ({before.place(())})"
            problems.append(Problem(placed.place(()), what, "keep one of them"))
    return problems
