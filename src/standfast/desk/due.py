"""What falls due: in a quarter of the school's year, or in the days ahead."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import astuple, dataclass
from datetime import date
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from standfast.desk.awards import documents_of
from standfast.desk.opening import Desk
from standfast.engine.dates import Span
from standfast.engine.due import Due, What, due_between
from standfast.engine.quarters import Quarter
from standfast.model.award import Award
from standfast.model.people import Person
from standfast.problems import NotFound, Refused


@dataclass(frozen=True)
class Asked:
    """Which due list is wanted: this quarter's when nothing is said."""

    quarter: str | None = None
    ahead: str | None = None
    """So many days, weeks or months from the desk's day on: 90d, 12w, 3m."""
    site: str | None = None
    rubric: str | None = None


@dataclass(frozen=True)
class Row:
    """One thing that falls due, with what a person needs to see of it."""

    by: date
    what: What
    person: str
    name: str
    site: str
    rubric: str
    award: str
    certificate: str
    to_do: str


@dataclass(frozen=True)
class DueList:
    """What falls due between two days, both included; soonest first."""

    title: str
    first: date
    last: date
    rows: tuple[Row, ...]

    @property
    def groups(self) -> tuple[tuple[What, tuple[Row, ...]], ...]:
        """The rows by what is to be done, the group with the soonest day first."""
        kinds = dict.fromkeys(row.what for row in self.rows)
        return tuple((kind, tuple(r for r in self.rows if r.what == kind)) for kind in kinds)

    @property
    def counts(self) -> str:
        """How many of each, in words."""
        return ", ".join(f"{len(rows)} {what}" for what, rows in self.groups) or "nothing due"


def due(desk: Desk, asked: Asked) -> DueList:
    """What falls due, and what is late already.

    Raises:
        Refused: no such quarter or span, or both at once.
        NotFound: nobody belongs to that site, or no award stands under that rubric.
    """
    title, first, last = _span(desk, asked)
    held = list(_held(desk))
    _known("site", asked.site, (holder.site or "" for _, holder in held))
    _known("rubric with an award", asked.rubric, (award.rubric.id for award, _ in held))
    rows = [
        _row(item, award, holder)
        for award, holder in held
        if asked.site in {None, holder.site} and asked.rubric in {None, award.rubric.id}
        for item in due_between(
            award,
            documents_of(award, holder, desk.today),
            first,
            last,
            desk.today,
            desk.book.rulings(award.id),
        )
    ]
    return DueList(title, first, last, tuple(sorted(rows, key=astuple)))


def _held(desk: Desk) -> Iterator[tuple[Award, Person]]:
    for one in desk.book.awards():
        holder = desk.book.find_person(one.award.candidate)
        if holder is not None:
            yield one.award, holder


def _row(item: Due, award: Award, holder: Person) -> Row:
    return Row(
        item.day,
        item.what,
        holder.id,
        holder.name,
        holder.site or "",
        award.rubric.id,
        item.scope,
        item.number,
        item.says,
    )


def _known(kind: str, wanted: str | None, known: Iterable[str]) -> None:
    names = sorted(filter(None, set(known)))
    if wanted is not None and wanted not in names:
        raise NotFound(kind, wanted, names)


_AHEAD = re.compile(r"(\d{1,4}) ?([dwm])", re.IGNORECASE)


def _span(desk: Desk, asked: Asked) -> tuple[str, date, date]:
    """Title, first day and last day."""
    starts, named_by = desk.school.year_starts, desk.school.year_named_by
    if asked.ahead is None:
        quarter = (
            Quarter.parse(asked.quarter, starts, named_by)
            if asked.quarter
            else Quarter.of(desk.today, starts, named_by)
        )
        return str(quarter), quarter.first, quarter.last
    if asked.quarter is not None:
        raise Refused("a quarter and the days ahead are two lists; ask for one of them")
    read = _AHEAD.fullmatch(asked.ahead.strip())
    if not read or not int(read[1]):
        raise Refused(f"'{asked.ahead}' is no span; write 90d, 12w or 3m")
    last = Span.of(f"P{read[1]}{read[2].upper()}").after(desk.today)
    words = {"d": "days", "w": "weeks", "m": "months"}[read[2].lower()]
    return f"The next {int(read[1])} {words}", desk.today, last


def to_calendar(desk: Desk, found: DueList, asked: Asked, file: Path) -> None:
    """Writes the list as a calendar file, going on from what the file said before.

    Raises:
        Refused: the list is of one site or rubric: what it leaves out would look done.
        StandfastError: the file is no calendar of ours, or cannot be written.
    """
    from standfast.files.calendar import Day, write_calendar

    if asked.site or asked.rubric:
        raise Refused("a calendar is of the whole school; leave out --site and --rubric")
    days = [
        Day(
            _uid(row, desk.school.id),
            row.by,
            f"{row.name}: {row.what}",
            f"{row.to_do} ({row.award}, {row.certificate}). {CAUTION}",
        )
        for row in found.rows
    ]
    write_calendar(file, days, desk.school.name, (found.first, found.last), desk.moment.now)


CAUTION = "No licence; local law and a qualified rigger come first."


def _uid(row: Row, school: str) -> str:
    """The same for the same thing, also when its day or the holder's name changes."""
    which = row.to_do if row.what == "document ends" else ""
    return f"{uuid5(NAMESPACE_URL, f'{school}|{row.certificate}|{row.what}|{which}')}@{school}"


COLUMNS = ("by", "what", "person", "name", "site", "rubric", "award", "certificate", "to do")


def export(found: DueList, file: Path) -> None:
    """Writes the list as a table, CSV or XLSX by the file's ending, safe to open anywhere.

    Raises:
        StandfastError: it cannot be written, or the ending is neither.
    """
    from standfast.files.export import write_table

    rows: Sequence[Sequence[object]] = [astuple(row) for row in found.rows]
    write_table(file, COLUMNS, rows)
