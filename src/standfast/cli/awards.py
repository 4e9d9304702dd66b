"""Commands about awards: award, due."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import options, show
from standfast.cli.practicals import Candidate, RubricId
from standfast.model.caution import CAUTION

if TYPE_CHECKING:
    from standfast.desk.due import DueList


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    app.command(
        epilog=options.example(
            "standfast award ines-carvalho-teles low-trapeze-1"
            " --certifier marit-solheim-aune --on 2026-11-20"
        )
    )(award)
    app.command(epilog=options.example('standfast due --quarter "FY2026/27 Q2" --on 2026-11-20'))(
        due
    )


def award(
    candidate: Candidate,
    rubric: RubricId,
    certifier: Annotated[str, typer.Option(help="Who confirms the decision.")],
    top_up: options.TopUp = False,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Grant what a pass permits.

    Or say every reason why not, and exit 1.
    """
    from standfast.cli import words
    from standfast.desk.awards import grant
    from standfast.desk.people import enter_files

    with options.desk(folder, on, by or certifier) as desk:
        enter_files(desk)
        granted = grant(desk, candidate, rubric, certifier, top_up=top_up)
    text = words.of_award(granted)
    value = {
        "award": granted.award.model_dump(mode="json"),
        "standing": granted.standing.model_dump(mode="json"),
        "entry": granted.entry,
        "caution": CAUTION,
    }
    show.answer(text, value, as_json=as_json)


def due(  # noqa: PLR0913, PLR0917 - one option for each way to narrow or keep the list
    quarter: Annotated[
        str | None,
        typer.Option(
            metavar="QUARTER",
            help="2026Q4 (October to December), or FY2026/27 Q2 (of the school's own year); the"
            " school's own of today when left out.",
        ),
    ] = None,
    ahead: Annotated[
        str | None, typer.Option("--next", metavar="SPAN", help="Instead: 90d, 12w or 3m ahead.")
    ] = None,
    site: Annotated[str | None, typer.Option(help="Only people of this site.")] = None,
    rubric: Annotated[str | None, typer.Option(help="Only what is under this rubric.")] = None,
    csv: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write a table too: FILE.csv.")
    ] = None,
    xlsx: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write a workbook too: FILE.xlsx.")
    ] = None,
    letters: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Write a letter to each person, PDF and text; letters of an earlier list stay"
            " there.",
        ),
    ] = None,
    calendar: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Write or renew a calendar: FILE.ics; what is in it and due no more is cancelled.",
        ),
    ] = None,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    as_json: options.Json = False,
) -> None:
    """List what falls due in a quarter.

    By what is to be done, soonest first; what is late already is listed in every quarter.
    Assessors and certifiers are in it too: approvals that end, and reference practicals.
    """
    from standfast.cli import words
    from standfast.desk.appeals import waiting
    from standfast.desk.due import Asked
    from standfast.desk.due import due as due_in
    from standfast.desk.due_files import Files, check_files, write

    asked, files = Asked(quarter, ahead, site, rubric), Files(csv, xlsx, calendar, letters)
    check_files(files, asked)
    with options.question(folder, options.When(on, as_known)) as known:
        desk = known.desk
        found = due_in(desk, asked)
        written = write(desk, found, asked, files, show.progress("letters"))
        objections = waiting(desk)
    value = {
        **_due_value(found),
        "appeals": {state: len(group) for state, group in objections.items()},
        "written": {str(one.place): one.holds for one in written},
    }
    show.answer(words.of_due(found, objections), value, as_json=as_json)
    for one in written:
        show.remark(f"wrote {one.place}: {one.holds}")


def _due_value(found: DueList) -> dict[str, Any]:
    from standfast.desk.due import COLUMNS, cells

    keys = [column.replace(" ", "_") for column in COLUMNS]
    return {
        "title": found.title,
        "first": str(found.first),
        "last": str(found.last),
        "counts": {what: len(rows) for what, rows in found.groups},
        "items": [dict(zip(keys, cells(row), strict=True)) for row in found.rows],
    }
