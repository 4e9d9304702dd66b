"""Tables from CSV and XLSX: a head, and rows of text that know their number."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from pathlib import Path as FilePath
from typing import Any

from standfast.files.read import LARGEST, Document, read_text
from standfast.files.unpacking import FAULTS, too_much
from standfast.problems import BadInput, Path, Place, Problem

MOST_ROWS, MOST_COLUMNS = 10_000, 200


@dataclass(frozen=True)
class Row:
    """One row: its number as a spreadsheet counts, and the cells that are not empty."""

    number: int
    cells: dict[str, str]


@dataclass(frozen=True)
class Table:
    """What a table says.  Names in the head are in lower case, with single spaces."""

    file: str
    head: dict[str, int]
    """Name to its column, counted from 1."""
    rows: tuple[Row, ...]

    def place(self, row: int, column: str = "") -> Place:
        """The place of a cell."""
        return Place(self.file, row, self.head.get(column, 1))

    def problem(self, row: int, column: str, what: str, cure: str) -> Problem:
        """Something wrong in a cell, named by row and column."""
        return Problem(self.place(row, column), f"row {row}, column '{column}': {what}", cure)


def read_table(path: FilePath, *, bounded: bool = False) -> Table:
    """The table of a CSV file, or of the first sheet of an XLSX workbook.

    CSV is UTF-8 and separated by commas, semicolons or tabs.  `bounded` holds it to as many rows
    and columns as a workbook.

    Raises:
        BadInput: it cannot be read, has no head, names a column twice, or has cells past it; or
            has too many.
    """
    name = str(path)
    lines: Iterable[list[str]]
    lines = _xlsx(path, name) if path.suffix.lower() == ".xlsx" else _csv(read_text(path), name)
    found: list[tuple[int, list[str]]] = []
    for number, cells in enumerate(lines, 1):
        if any(cells):
            found.append((number, cells))
        if bounded and (len(found) > MOST_ROWS + 1 or any(cells[MOST_COLUMNS:])):
            raise _too_many(name)
    if not found:
        raise _refuse(name, "has no rows", "write a row of column names, then one row for each")
    (first, names), *others = found
    head, problems = _head(name, first, names)
    rows = []
    for number, cells in others:
        past = next((text for text in cells[len(names) :] if text), None)
        if past:
            what = f"row {number}: '{past}' stands past the last column"
            problems.append(Problem(Place(name, number, len(names) + 1), what, "name its column"))
        rows.append(Row(number, _named(head, cells)))
    if problems:
        raise BadInput(sorted(problems))
    return Table(name, head, tuple(rows))


def _head(name: str, row: int, names: list[str]) -> tuple[dict[str, int], list[Problem]]:
    head: dict[str, int] = {}
    problems = []
    for column, text in enumerate(names, 1):
        word = " ".join(text.lower().replace("_", " ").split())
        if word in head:
            what = f"row {row}: column '{word}' is there already"
            problems.append(Problem(Place(name, row, column), what, "give each column its name"))
        elif word:
            head[word] = column
    return head, problems


def _named(head: dict[str, int], cells: list[str]) -> dict[str, str]:
    return {
        word: cells[column - 1]
        for word, column in head.items()
        if column <= len(cells) and cells[column - 1]
    }


def _refuse(name: str, what: str, cure: str) -> BadInput:
    return BadInput([Problem(Place(name), what, cure)])


def _too_many(name: str) -> BadInput:
    return _refuse(name, f"has more than {MOST_ROWS} rows or {MOST_COLUMNS} columns", "split it")


def _csv(text: str, name: str) -> Iterator[list[str]]:
    first = text.lstrip("\ufeff").splitlines()[0]
    separator = max(",;\t", key=first.count)
    rows = csv.reader(io.StringIO(text), delimiter=separator)
    try:
        for row in rows:
            yield [cell.strip() for cell in row]
    except csv.Error as error:
        place = Place(name, rows.line_num)
        what = f"is no CSV from here on ({error})"
        raise BadInput([Problem(place, what, "look for a quote without its end")]) from None


def _xlsx(path: FilePath, name: str) -> list[list[str]]:
    try:
        size = path.stat().st_size
        with zipfile.ZipFile(path) as packed:
            reason = too_much(packed)
    except OSError as error:
        raise _refuse(name, f"cannot be read ({error.strerror})", "check its name") from None
    except FAULTS:
        what = "is no XLSX workbook, is damaged, or is locked with a password"
        raise _refuse(name, what, "save it again as XLSX without one, or as CSV") from None
    if size > LARGEST:
        reason = f"is too large ({size:,} bytes)"
    if reason:
        raise _refuse(name, reason, "save it as CSV")
    return _cells(path, name)


def _cells(path: FilePath, name: str) -> list[list[str]]:
    from openpyxl import load_workbook

    try:
        with (
            path.open("rb") as file,  # openpyxl leaves it open when it fails on its own
            closing(load_workbook(file, read_only=True, data_only=True)) as book,
        ):
            sheet = book.worksheets[0]
            rows = sheet.iter_rows(
                max_row=MOST_ROWS + 1, max_col=MOST_COLUMNS + 1, values_only=True
            )
            found = [[_text(cell) for cell in row] for row in rows]
    except Exception as error:  # noqa: BLE001 - a damaged workbook leads openpyxl to any of them
        raise _refuse(name, f"is no XLSX workbook ({error})", "save it as CSV") from None
    if len(found) > MOST_ROWS or any(any(row[MOST_COLUMNS:]) for row in found):
        raise _too_many(name)
    return found


def _text(cell: Any) -> str:  # noqa: ANN401 - whatever a spreadsheet holds
    """A cell as it would stand in CSV: days as 2026-03-01, whole numbers without a point."""
    if cell is None:
        return ""
    if isinstance(cell, datetime) and not (cell.hour or cell.minute or cell.second):
        return cell.date().isoformat()
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell).strip()


class Builder:
    """Puts values where they belong, and remembers the cell of each."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.root: dict[str, Any] = {}
        self.places: dict[Path, Place] = {}
        self.columns: dict[Place, str] = {}

    def put(self, path: Path, value: Any, row: int, column: str) -> None:  # noqa: ANN401
        """Puts a value at a path whose last list, if it is new, grows by one."""
        here: Any = self.root
        for step, following in pairwise(path):
            empty: Any = [] if isinstance(following, int) else {}
            if isinstance(here, list) and step == len(here):
                here.append(empty)
            elif isinstance(here, dict):
                here.setdefault(step, empty)
            here = here[step]
        here[path[-1]] = value
        place = self.table.place(row, column)
        self.columns[place] = column
        for length in range(1, len(path) + 1):
            self.places.setdefault(path[:length], place)

    def document(self) -> Document:
        """What the table says, as if it had been written in a file of ours."""
        return Document(self.table.file, self.root, self.places, self.places)

    def named(self, problem: Problem) -> Problem:
        """The problem with its row and column in words."""
        column = self.columns.get(problem.place, "")
        at = f"row {problem.place.line}, column '{column}'" if column else "the table"
        return Problem(problem.place, f"{at}: {problem.what}", problem.cure)
