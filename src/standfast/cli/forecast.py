"""The command `forecast`: how many practicals and refreshers the quarters ahead will need."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import options, show

if TYPE_CHECKING:
    from standfast.desk.forecast import Forecast, Row, Table
    from standfast.engine.planning.chances import Rate, Share, Spread


def add_to(app: typer.Typer) -> None:
    """Adds the command."""
    app.command(
        epilog=options.example("standfast forecast --quarters 4 --on 2026-11-20 --svg forecast.svg")
    )(forecast)


def forecast(  # noqa: PLR0913, PLR0917 - one option for each way to narrow or keep it
    quarters: Annotated[int, typer.Option(min=1, max=40, help="How many quarters ahead.")] = 8,
    rubric: Annotated[
        str | None, typer.Option(help="Only this rubric and what refreshes it.")
    ] = None,
    site: Annotated[str | None, typer.Option(help="Only people of this site.")] = None,
    csv: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write every number too: FILE.csv.")
    ] = None,
    svg: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the months too: FILE.svg.")
    ] = None,
    seed: Annotated[
        int, typer.Option(min=0, help="Of the draws; the same gives the same numbers.")
    ] = 1,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    as_json: options.Json = False,
) -> None:
    """Say how many practicals and refreshers will be needed.

    Month by month, with their spread: from the awards that fall due, and from how people of this
    school came back, passed and began so far.  A forecast is no promise.
    """
    from standfast.desk.forecast import Asked
    from standfast.desk.forecast import forecast as forecast_of
    from standfast.desk.forecast_files import export

    with options.question(folder, options.When(on, as_known)) as known:
        found = forecast_of(known.desk, Asked(quarters, rubric, site, seed))
        export(known.desk, found, csv, svg)
    show.answer(words_of(found), value_of(found), as_json=as_json)


def words_of(found: Forecast) -> list[str]:
    """Months with the quarter under them, each rubric, what it rests on, and the caution."""
    from standfast.cli.words import wrapped
    from standfast.desk.forecast import NO_PROMISE, SUPPOSES
    from standfast.desk.forecast_words import rests_on

    asked = found.asked
    narrowed = "".join(f", {only}" for only in (asked.rubric, asked.site) if only)
    return [
        f"lessons to be scored, {found.first} to {found.last}{narrowed}",
        *(["nothing in the record book yet: all of it is supposed"] if found.empty else []),
        "expected, and bounds: about one chance in ten lies below, and one above",
        "",
        *show.table(list(_months(found.all)), ("", "practicals", "refreshers")),
        *_other_quarters(found.all),
        *_each_rubric(found),
        "",
        f"* only the days from {found.first} to {found.last} of it",
        "",
        "rests on:",
        *(line for says in rests_on(found) for line in wrapped(says, "    ", "  - ")),
        "",
        *wrapped(SUPPOSES),
        *wrapped(NO_PROMISE),
    ]


def told(spread: Spread) -> str:
    """12.3 (9-16), the numbers of several rows under each other."""
    return f"{spread.mean:6.1f}  ({spread.low}-{spread.high})"


def _line(row: Row, name: str) -> tuple[str, str, str]:
    return (name + " *" * row.part, told(row.practicals), told(row.refreshers))


def _months(table: Table) -> Iterator[tuple[str, str, str]]:
    """Months, under each quarter's last its sum, and all in the end."""
    for quarter in table.quarters:
        for month in table.months:
            if quarter.first <= month.first <= quarter.last:
                yield _line(month, f"  {month.name}")
        yield _line(quarter, quarter.name)
    yield _line(table.total, "all")


def _other_quarters(table: Table) -> list[str]:
    """Quarters of the calendar, where those of the school's year have other months."""
    if [row.first for row in table.calendar_quarters] == [row.first for row in table.quarters]:
        return []
    rows = [_line(row, f"  {row.name}") for row in table.calendar_quarters]
    return ["", *show.table(rows, ("calendar quarters", "practicals", "refreshers"))]


def _each_rubric(found: Forecast) -> list[str]:
    rows = [_line(one.table.total, f"  {one.rubric}") for one in found.rubrics]
    return ["", *show.table(rows, ("rubrics, all quarters", "practicals", "refreshers"))]


def value_of(found: Forecast) -> dict[str, Any]:
    """The same as JSON values."""
    from standfast.desk.forecast import NO_PROMISE

    return {
        "first": str(found.first),
        "last": str(found.last),
        "seed": found.asked.seed,
        "rubric": found.asked.rubric,
        "site": found.asked.site,
        **_table_value(found.all),
        "rubrics": [
            {
                "rubric": one.rubric,
                "title": one.title,
                **_table_value(one.table),
                "lessons_at_least": dict(one.lessons),
                "awards_in_time": one.standing,
                "awards_past_grace": one.late,
                "people_begun": one.begun,
                "newcomers": _known_value(one.newcomers),
                "by_calendar_month": one.by_calendar_month,
                "unevenness": one.unevenness,
            }
            for one in found.rubrics
        ],
        "rests_on": {_key(name): _known_value(known) for name, known in found.shares},
        "months_early": found.early,
        "months_to_next_try": dict(found.habits.again_after),
        "nothing_lived_yet": found.empty,
        "caution": NO_PROMISE,
    }


def _key(words: str) -> str:
    return words.replace(",", "").replace(" ", "_")


def _table_value(table: Table) -> dict[str, Any]:
    return {
        "months": _rows_value(table.months),
        "quarters": _rows_value(table.quarters),
        "calendar_quarters": _rows_value(table.calendar_quarters),
        "all": _rows_value([table.total])[0],
    }


def _rows_value(rows: Sequence[Row]) -> list[dict[str, Any]]:
    return [{key: _plain(part) for key, part in asdict(row).items()} for row in rows]


def _plain(part: object) -> object:
    return part if isinstance(part, dict | bool) else str(part)


def _known_value(known: Share | Rate) -> dict[str, Any]:
    return {**asdict(known), "mean": known.mean}
