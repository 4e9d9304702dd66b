"""The due list as files: tables, a calendar that goes on, letters.

All that can be wrong with where they go is said before the first is written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from standfast.desk.appeals import answer_days
from standfast.desk.due import COLUMNS, Asked, DueList, Row, cells, rows_between
from standfast.desk.opening import Desk
from standfast.problems import StandfastError

CAUTION = "No licence; local law and a qualified rigger come first."


@dataclass(frozen=True)
class Files:
    """Where the list is written, each where it is wanted."""

    csv: Path | None = None
    xlsx: Path | None = None
    calendar: Path | None = None
    letters: Path | None = None
    """A folder; made when it is not there."""


@dataclass(frozen=True)
class Wrote:
    """A file or a folder that was written, and what is in it now, in words."""

    place: Path
    holds: str


def check_files(files: Files, asked: Asked) -> None:
    """Returns when the list asked for can be written there.

    Raises:
        StandfastError: a file has another ending than its kind, its folder is not there, or the
            calendar is not ours, or would be of one site or rubric: what that leaves out would
            look done.
    """
    from standfast.files.calendar import days_in

    kinds = (("csv", files.csv, "csv"), ("xlsx", files.xlsx, "xlsx"))
    for option, file, ending in (*kinds, ("calendar", files.calendar, "ics")):
        if file and file.suffix.lower() != f".{ending}":
            raise StandfastError(f"{file}: a file for --{option} ends in .{ending}; name it so")
        if file and (file.is_dir() or not file.parent.is_dir()):
            raise StandfastError(
                f"{file}: is a folder, or lies in none; name another file with --{option}"
            )
    if files.calendar and (asked.site or asked.rubric):
        raise StandfastError("a calendar is of the whole school; leave out --site and --rubric")
    if files.calendar:
        days_in(files.calendar)
    if files.letters and any(p.exists() and not p.is_dir() for p in _way_to(files.letters)):
        raise StandfastError(f"{files.letters}: is no folder; name another one with --letters")


def _way_to(folder: Path) -> tuple[Path, ...]:
    return (folder, *folder.parents)


def write(
    desk: Desk, found: DueList, asked: Asked, files: Files, progress: Callable[[int, int], None]
) -> list[Wrote]:
    """Writes the list wherever it is wanted, and gives what was written.

    Raises:
        StandfastError: as `check_files`, or something cannot be written.
        PaperError: a letter cannot be drawn.
    """
    check_files(files, asked)
    done: list[Wrote] = []
    if files.letters:  # first, as a letter alone can still go wrong
        done.append(_write_letters(desk, found, files.letters, progress))
    if files.calendar:
        done.append(_write_calendar(desk, found, files.calendar))
    return [*done, *_write_tables(found, files)]


def _write_letters(
    desk: Desk, found: DueList, folder: Path, progress: Callable[[int, int], None]
) -> Wrote:
    from standfast.desk.printing import print_letters

    written = print_letters(desk, found, folder, progress)
    older = {file.stem for file in folder.glob("letter-*.*")} - {file.stem for file in written}
    says = f"letters: {len(written)}, each as PDF and as text"
    if older:
        says += f"; {len(older)} of an earlier list lie there still"
    return Wrote(folder, says)


def _write_tables(found: DueList, files: Files) -> Iterator[Wrote]:
    from standfast.files.export import write_table

    rows = [cells(row) for row in found.rows]
    for file in filter(None, (files.csv, files.xlsx)):
        write_table(file, COLUMNS, rows)
        yield Wrote(file, f"lines: {len(rows)}")


def _write_calendar(desk: Desk, found: DueList, file: Path) -> Wrote:
    """Goes on from what the file said: all that it has and that is due still stays.

    So the book is asked for the days between the file's first and last as well.
    """
    from standfast.files.calendar import Day, days_in, write_calendar

    before = days_in(file)
    first = min((found.first, *before.values()))
    last = max((found.last, *before.values()))
    listed = {_uid(row, desk.school.id): row for row in found.rows}
    still = rows_between(desk, Asked(), first, last) if before else ()
    others = {_uid(row, desk.school.id): row for row in still}
    wanted = listed | {uid: row for uid, row in others.items() if uid in before}
    days = [Day(uid, row.by, f"{row.name}: {row.what}", _told(row)) for uid, row in wanted.items()]
    days += answer_days(desk, last)
    write_calendar(file, days, desk.school.name, desk.moment.now)
    gone = len(before.keys() - {day.uid for day in days})
    return Wrote(file, f"days: {len(days)}" + (f"; cancelled now: {gone}" if gone else ""))


def _told(row: Row) -> str:
    about = ", ".join(filter(None, (row.about, row.certificate)))
    return f"{row.to_do} ({about}). {CAUTION}"


def _uid(row: Row, school: str) -> str:
    """The same for the same thing, also when its day or the holder's name changes."""
    whose = row.certificate or f"{row.person}|{row.role}|{row.rubric}"
    return f"{uuid5(NAMESPACE_URL, f'{school}|{whose}|{row.what}|{row.document}')}@{school}"
