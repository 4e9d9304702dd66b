"""People from tables, for who keeps them in a spreadsheet: CSV or XLSX.

One row for each person, with the columns `person` (the short name), `name`, `contact`, `site`; for
each kind of document `first-aid issued`, `first-aid until`, `first-aid reference`; a trainer as
`trained by`, `trained since`, `trained until`; an approval as `scores`, `scores since`, `scores
until`, and likewise `certifies`; a conflict of interest as `conflict with`, `conflict kind`,
`conflict since`, `conflict until`; and `hears appeals since`, `hears appeals until`.  Who has two
of something has two rows.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import Any

from standfast.files.read import Placed
from standfast.files.shape import as_noun
from standfast.files.table import Builder, Row, Table, read_table
from standfast.model.people import Person
from standfast.problems import BadInput, Path, Place, Problem, nearest

PLAIN = ("person", "name", "contact", "site")
GROUPS = {
    "trained_by": {"trained by": "trainer", "trained since": "since", "trained until": "until"},
    "scores": {"scores": "rubric", "scores since": "since", "scores until": "until"},
    "certifies": {"certifies": "rubric", "certifies since": "since", "certifies until": "until"},
    "conflicts": {
        "conflict with": "person",
        "conflict kind": "kind",
        "conflict since": "since",
        "conflict until": "until",
    },
    "hears_appeals": {"hears appeals since": "since", "hears appeals until": "until"},
}
"""Field of a person to its columns, each with its key there."""

_DOCUMENT = re.compile(r"(.+) (issued|until|reference)")
_DOCUMENT_KEYS = {"issued": "issued", "until": "last_day", "reference": "reference"}


def read_people_table(path: FilePath) -> tuple[Placed[Person], ...]:
    """The people of a CSV or XLSX table.

    Raises:
        BadInput: every fault, named by row and column.
    """
    table = read_table(path, bounded=True)
    problems = list(_unknown_columns(table))
    builder = Builder(table)
    numbers: dict[str, int] = {}
    for row in table.rows:
        slug = row.cells.get("person")
        if slug is None:
            problems.append(table.problem(row.number, "person", "is empty", "write a short name"))
            continue
        under = ("people", numbers.setdefault(slug, len(numbers)))
        problems.extend(_person(builder, under, row))
    found = []
    document = builder.document()
    for number in numbers.values():
        try:
            found.append(as_noun(Person, document, ("people", number), word="person"))
        except BadInput as error:
            problems.extend(map(builder.named, error.problems))
    if problems:
        raise BadInput(sorted(set(problems)))
    return tuple(found)


def _unknown_columns(table: Table) -> Iterator[Problem]:
    known = [*PLAIN, *(column for group in GROUPS.values() for column in group)]
    usual = [f"{kind} {what}" for kind in ("first-aid", "insurance") for what in _DOCUMENT_KEYS]
    for column in table.head:
        if column not in known and not _DOCUMENT.fullmatch(column):
            place = Place(table.file, 1, table.head[column])
            yield Problem(
                place, f"column '{column}' is not known", nearest(column, [*known, *usual])
            )


def _person(builder: Builder, under: Path, row: Row) -> Iterator[Problem]:
    here = _at(builder.root, under)
    for column in PLAIN:
        value = row.cells.get(column)
        if value is None:
            continue
        if here.get(column, value) != value:
            yield builder.table.problem(
                row.number,
                column,
                f"'{value}' is not the '{here[column]}' of an earlier row",
                "write the same, or leave it empty",
            )
        else:
            builder.put((*under, column), value, row.number, column)
    for field, columns in GROUPS.items():
        number = len(here.get(field, ()))
        for column, key in columns.items():
            if column in row.cells:
                builder.put((*under, field, number, key), row.cells[column], row.number, column)
    _documents(builder, under, row)


def _documents(builder: Builder, under: Path, row: Row) -> None:
    numbers: dict[str, int] = {}
    for column, value in row.cells.items():
        read = _DOCUMENT.fullmatch(column)
        if not read or column in {c for group in GROUPS.values() for c in group}:
            continue
        kind = read[1].replace(" ", "-")
        before = len(_at(builder.root, under).get("documents", ()))
        path = (*under, "documents", numbers.setdefault(kind, before))
        builder.put((*path, "document"), kind, row.number, column)
        builder.put((*path, _DOCUMENT_KEYS[read[2]]), value, row.number, column)


def _at(root: dict[str, Any], under: Path) -> dict[str, Any]:
    """The person there; empty when it is new."""
    people = root.get(str(under[0]), [])
    number = int(under[1])
    return people[number] if number < len(people) else {}
