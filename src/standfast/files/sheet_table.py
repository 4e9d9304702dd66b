"""Score sheets from a CSV table, for who scores in a spreadsheet, and back.

The column `what` says what a row is; the others hold what such a row needs.

    what        at     student  skill      name          value      note
    sheet                                  practical     first-try
    student            S1                                           remark
    log                S1       long-hang                4
    repetition  12:00  S1       long-hang
    attempt     12:30  S1       tuck-hang                failed           (or done)
    clearance   12:10  S1       tuck-hang                let-go           (or held-back)
    look        1:00                       1             4 1              (waiting, idle; - missed)
    rating                                 briefing      3          why
    incident    20:00  S2                  left-alone               what happened
    note        21:00                                               text

Each question about attempts is a column of its own, named by its criterion, with yes, no or
unseen.  `corrects` is a row `sheet` whose value is the other sheet's id and whose note says why;
`covers` one whose value names the criteria, with a space between.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path as FilePath
from typing import Any

from standfast.files.read import Placed
from standfast.files.shape import as_noun
from standfast.files.table import Builder, Row, read_table
from standfast.model.canonical import plain
from standfast.model.sheet import Sheet
from standfast.problems import BadInput, Path, Problem, nearest

SHEET_COLUMNS = ("what", "at", "student", "skill", "name", "value", "note")


def read_sheet_table(path: FilePath) -> Placed[Sheet]:
    """The score sheet of a CSV table.

    Raises:
        BadInput: every fault, named by row and column.
    """
    table = read_table(path)
    builder = Builder(table)
    problems = []
    for row in table.rows:
        what = row.cells.get("what", "")
        take = _TAKERS.get(what)
        if take is None:
            problems.append(
                table.problem(row.number, "what", f"'{what}' is not known", nearest(what, _TAKERS))
            )
            continue
        problems.extend(take(builder, row))
    try:
        found = as_noun(Sheet, builder.document(), word="sheet")
    except BadInput as error:
        problems.extend(map(builder.named, error.problems))
    if problems:
        raise BadInput(sorted(set(problems)))
    return found


def _number(text: str) -> int | str:
    """A whole number where the text is one; times such as 12:30 stay text."""
    return int(text) if text.isascii() and text.isdecimal() else text


def _field(builder: Builder, row: Row) -> Iterator[Problem]:
    name, value = row.cells.get("name", ""), row.cells.get("value")
    if name == "corrects":
        for key, column in (("of", "value"), ("because", "note")):
            if column in row.cells:
                builder.put(("corrects", key), row.cells[column], row.number, column)
    elif name == "covers":
        builder.put(("covers",), (value or "").split(), row.number, "value")
    elif value is not None:
        whole = name in {"minutes", "rubric_version"}
        builder.put((name,), _number(value) if whole else value, row.number, "value")
    yield from ()


def _student(builder: Builder, row: Row) -> Iterator[Problem]:
    code = row.cells.get("student", "")
    path = ("students", len(builder.root.get("students", ())))
    builder.put((*path, "student"), code, row.number, "student")
    if "note" in row.cells:
        builder.put((*path, "remark"), row.cells["note"], row.number, "note")
    yield from ()


def _of_student(builder: Builder, row: Row) -> Iterator[Problem]:
    code, skill = row.cells.get("student", ""), row.cells.get("skill", "")
    codes = [student.get("student") for student in builder.root.get("students", ())]
    if code not in codes:
        what = f"'{code}' is no student of a row above"
        yield builder.table.problem(row.number, "student", what, "add a row 'student' before")
        return
    path: Path = ("students", codes.index(code))
    if row.cells["what"] == "log":
        value = _number(row.cells.get("value", ""))
        builder.put((*path, "log", skill), value, row.number, "value")
        return
    done = (*path, "repetitions", len(builder.root["students"][path[1]].get("repetitions", ())))
    builder.put((*done, "skill"), skill, row.number, "skill")
    builder.put((*done, "at"), _number(row.cells.get("at", "")), row.number, "at")


def _happened(field: str, value_key: str = "", name_key: str = "", note_key: str = "note") -> Any:  # noqa: ANN401
    """Takes a row of things that happen: where its value, name and note go."""

    def take(builder: Builder, row: Row) -> Iterator[Problem]:
        path = (field, len(builder.root.get(field, ())))
        keys = {"at": "at", "student": "student", "skill": "skill"}
        keys |= {"name": name_key, "value": value_key, "note": note_key}
        for column, key in keys.items():
            if key and column in row.cells:
                value: Any = row.cells[column]
                whole = column == "at" or key in {"look", "level"}
                builder.put((*path, key), _number(value) if whole else value, row.number, column)
        if field not in builder.root:
            yield builder.table.problem(row.number, "what", "the row is empty", "fill it in")

    return take


def _attempt(builder: Builder, row: Row) -> Iterator[Problem]:
    number = len(builder.root.get("attempts", ()))
    yield from _happened("attempts")(builder, row)
    done = row.cells.get("value", "done")
    if done not in {"done", "failed"}:
        what = f"'{done}' is neither done nor failed"
        yield builder.table.problem(row.number, "value", what, "write one of them")
    builder.put(("attempts", number, "failed"), done == "failed", row.number, "value")
    builder.put(("attempts", number, "answers"), {}, row.number, "what")
    for column, value in row.cells.items():
        if column not in SHEET_COLUMNS:
            path = ("attempts", number, "answers", column.replace(" ", "-"))
            builder.put(path, value, row.number, column)


def _look(builder: Builder, row: Row) -> Iterator[Problem]:
    number = len(builder.root.get("samples", ()))
    yield from _happened("samples", name_key="look", note_key="")(builder, row)
    text = row.cells.get("value", "-")
    if text == "-":
        return
    numbers = text.split()
    if len(numbers) != 2:  # noqa: PLR2004 - waiting and idle
        what = f"'{text}' is no look"
        yield builder.table.problem(row.number, "value", what, "write waiting and idle: 4 1, or -")
        return
    for key, part in zip(("waiting", "idle"), numbers, strict=True):
        builder.put(("samples", number, key), _number(part), row.number, "value")


_TAKERS: dict[str, Callable[[Builder, Row], Iterator[Problem]]] = {
    "sheet": _field,
    "student": _student,
    "log": _of_student,
    "repetition": _of_student,
    "attempt": _attempt,
    "clearance": _happened("clearances", value_key="choice"),
    "look": _look,
    "rating": _happened("ratings", value_key="level", name_key="criterion"),
    "incident": _happened("incidents", name_key="criterion"),
    "note": _happened("notes", note_key="text"),
}


def sheet_table(sheet: Sheet) -> str:
    """The sheet as CSV that `read_sheet_table` reads back to an equal sheet."""
    criteria = dict.fromkeys(name for attempt in sheet.attempts for name in attempt.answers)
    text = io.StringIO()
    writer = csv.DictWriter(text, [*SHEET_COLUMNS, *criteria], lineterminator="\n")
    writer.writeheader()
    writer.writerows(_rows(sheet))
    return text.getvalue()


OF_SHEET = (
    *("id", "practical", "rubric", "rubric_version", "candidate", "assessor"),
    *("began", "minutes", "site", "source"),
)


def _rows(sheet: Sheet) -> Iterator[dict[str, Any]]:
    values = plain(sheet)
    for name in OF_SHEET:
        if values.get(name) is not None:
            word = "sheet" if name == "id" else name
            yield {"what": "sheet", "name": word, "value": values[name]}
    if sheet.corrects:
        corrects = {"value": sheet.corrects.of, "note": sheet.corrects.because}
        yield {"what": "sheet", "name": "corrects", **corrects}
    if sheet.covers:
        yield {"what": "sheet", "name": "covers", "value": " ".join(sheet.covers)}
    yield from _student_rows(sheet)
    yield from _lesson_rows(sheet)
    for rating in sheet.ratings:
        level = {"value": rating.level, "note": rating.note}
        yield {"what": "rating", "name": rating.criterion, **level}
    for note in sheet.notes:
        yield {"what": "note", "at": note.at, "note": note.text}


def _student_rows(sheet: Sheet) -> Iterator[dict[str, Any]]:
    for student in sheet.students:
        yield {"what": "student", "student": student.student, "note": student.remark}
        for skill, times in student.log.items():
            yield {"what": "log", "student": student.student, "skill": skill, "value": times}
        for done in student.repetitions:
            yield {"what": "repetition", "student": student.student, **plain(done)}


def _lesson_rows(sheet: Sheet) -> Iterator[dict[str, Any]]:
    for attempt in sheet.attempts:
        where = {"at": attempt.at, "student": attempt.student, "skill": attempt.skill}
        done_or_failed = "failed" if attempt.failed else "done"
        yield {"what": "attempt", **where, "value": done_or_failed, **attempt.answers}
    for choice in sheet.clearances:
        where = {"at": choice.at, "student": choice.student, "skill": choice.skill}
        yield {"what": "clearance", **where, "value": choice.choice}
    for look in sheet.samples:
        seen = "-" if look.waiting is None else f"{look.waiting} {look.idle}"
        yield {"what": "look", "at": look.at, "name": look.look, "value": seen}
    for incident in sheet.incidents:
        where = {"at": incident.at, "student": incident.student, "note": incident.note}
        yield {"what": "incident", "name": incident.criterion, **where}
