"""A forecast as files: a table of every number, and a picture of its months."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from standfast.desk.forecast import NO_PROMISE, Forecast, Row
from standfast.desk.opening import Desk
from standfast.in_place import put_in_place
from standfast.problems import StandfastError

READ_BARS = (
    "A bar is what is expected in the month. One chance in ten lies below its line, one above it."
)
COLUMNS = (
    *("rubric", "span", "name", "first day", "last day"),
    *(
        f"{kind} {what}"
        for kind in ("practicals", "refreshers")
        for what in ("expected", "low", "middle", "high")
    ),
)
"""Of the table; about one chance in ten lies below `low`, and one above `high`."""


def cells(found: Forecast) -> Iterator[tuple[object, ...]]:
    """Every number as rows of a table, in the order of `COLUMNS`."""
    tables = [("all", found.all), *((one.rubric, one.table) for one in found.rubrics)]
    for rubric, table in tables:
        spans = (
            ("month", table.months),
            ("quarter", table.quarters),
            ("calendar quarter", table.calendar_quarters),
            ("all", (table.total,)),
        )
        for span, rows in spans:
            for row in rows:
                yield (rubric, span, row.name, row.first, row.last, *_four(row))


def _four(row: Row) -> Iterator[float]:
    for one in (row.practicals, row.refreshers):
        yield from (one.mean, one.low, one.middle, one.high)


def export(desk: Desk, found: Forecast, csv: Path | None, svg: Path | None) -> None:
    """Writes every number as CSV, safe to open in a spreadsheet, and the months as a picture.

    Each where a file is named; the same forecast gives the same bytes.

    Raises:
        StandfastError: a file has another ending than its kind, or cannot be written.
    """
    from standfast.files.export import write_table

    for file, kind in ((csv, "csv"), (svg, "svg")):
        if file and file.suffix.lower() != f".{kind}":
            raise StandfastError(f"{file}: a file for --{kind} ends in .{kind}; name it so")
    if csv:
        write_table(csv, COLUMNS, list(cells(found)))
    if svg:
        put_in_place(svg, _of_the_school(desk, found).encode("utf-8"))


def _of_the_school(desk: Desk, found: Forecast) -> str:
    from standfast.paper.view.words import INVENTED

    title = f"{desk.school.name}: lessons to be scored, {found.first} to {found.last}"
    return picture(found, title, [INVENTED] if desk.school.invented else [])


def picture(found: Forecast, title: str, notes: Sequence[str] = ()) -> str:
    """The months as bars, in SVG; with what it is, and how to read it."""
    from standfast.paper.bars import Bar, Bars, Group, draw_bars

    def bars(row: Row) -> tuple[Bar, Bar]:
        one, other = row.practicals, row.refreshers
        return Bar(one.mean, one.low, one.high), Bar(other.mean, other.low, other.high)

    drawn = Bars(
        title=title,
        notes=(READ_BARS, NO_PROMISE, *notes),
        kinds=("practicals", "refreshers"),
        columns=tuple(Group(row.name, bars(row)) for row in found.all.months),
        groups=tuple(
            (Group(row.name, bars(row)), _months_in(row, found.all.months))
            for row in found.all.quarters
        ),
    )
    return draw_bars(drawn)


def _months_in(row: Row, months: Sequence[Row]) -> int:
    return sum(row.first <= month.first <= row.last for month in months)
