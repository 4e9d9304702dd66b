"""Ratings from a table of anybody's: CSV or XLSX, one mark in each row.

The columns are `subject`, `assessor`, `criterion`, `score`, and if a subject is marked on several
days or rounds `occasion`.  An empty score is missing: that assessor did not mark it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from pathlib import Path as FilePath

from standfast.files.table import Row, Table, read_table
from standfast.problems import BadInput, Place, Problem, nearest

NEEDED = ("subject", "assessor", "criterion", "score")
COLUMNS = (*NEEDED, "occasion")


@dataclass(frozen=True)
class RatingRow:
    """One mark of the table."""

    subject: str
    assessor: str
    criterion: str
    occasion: str
    """Empty where the table has none."""
    score: float | None
    """None when it is missing."""
    row: int


def read_ratings(path: FilePath) -> tuple[RatingRow, ...]:
    """The marks of a CSV or XLSX table, missing ones too.

    Raises:
        BadInput: every fault, named by row and column: a column that is unknown or not there, a
            cell that is empty, a score that is no number, and a mark that is there already.
    """
    table = read_table(path)
    problems = list(_columns(table))
    if problems:
        raise BadInput(sorted(problems))
    found: list[RatingRow] = []
    for row in table.rows:
        faults = list(_faults(table, row))
        problems.extend(faults)
        if not faults:
            found.append(_read(row))
    problems.extend(_twice(table, found))
    if not table.rows:
        problems.append(
            Problem(Place(table.file), "has a head and no rows", "write one row for each mark")
        )
    if problems:
        raise BadInput(sorted(problems))
    return tuple(found)


def _columns(table: Table) -> Iterator[Problem]:
    for column, place in table.head.items():
        if column not in COLUMNS:
            what = f"column '{column}' is not known"
            yield Problem(Place(table.file, 1, place), what, nearest(column, COLUMNS))
    for column in NEEDED:
        if column not in table.head:
            cure = f"the columns are {', '.join(NEEDED)} and, if there are several, occasion"
            yield Problem(Place(table.file, 1, 1), f"has no column '{column}'", cure)


def _faults(table: Table, row: Row) -> Iterator[Problem]:
    for column in NEEDED[:-1]:
        if column not in row.cells:
            cure = "write a short name" if column != "assessor" else "write who marked it"
            yield table.problem(row.number, column, "is empty", cure)
    if "occasion" in table.head and "occasion" not in row.cells:
        cure = "write its day or round, or leave the whole column out"
        yield table.problem(row.number, "occasion", "is empty", cure)
    text = row.cells.get("score")
    if text is not None and _number(text) is None:
        cure = "write a number with a point, 3 or 3.5, or leave it empty when it was not marked"
        yield table.problem(row.number, "score", f"'{text}' is no number", cure)


def _number(text: str) -> float | None:
    """The number, or None; underscores and the words for what is no number are refused."""
    try:
        value = float(text)
    except ValueError:
        return None
    return value if isfinite(value) and "_" not in text else None


def _read(row: Row) -> RatingRow:
    cells = row.cells
    text = cells.get("score")
    score = None if text is None else _number(text)
    return RatingRow(
        cells["subject"],
        cells["assessor"],
        cells["criterion"],
        cells.get("occasion", ""),
        score,
        row.number,
    )


def _twice(table: Table, rows: list[RatingRow]) -> Iterator[Problem]:
    first: dict[tuple[str, str, str, str], int] = {}
    for one in rows:
        key = (one.subject, one.assessor, one.criterion, one.occasion)
        earlier = first.setdefault(key, one.row)
        if earlier != one.row:
            on = f" on occasion '{one.occasion}'" if one.occasion else ""
            what = f"'{one.assessor}' marked '{one.criterion}' of '{one.subject}'{on}"
            cure = "keep one of the two, or tell them apart in a column 'occasion'"
            yield table.problem(one.row, "assessor", f"{what} in row {earlier} already", cure)
