"""Commands about awards: award, due."""

from __future__ import annotations

from typing import Annotated

import typer

from standfast.cli import options, show
from standfast.cli.practicals import Candidate, RubricId


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    app.command(
        epilog="Example: standfast award ada-berg low-trapeze-1 --certifier kei-ito --on 2026-03-01"
    )(award)
    app.command(epilog="Example: standfast due --quarter 2026Q4")(due)


def award(
    candidate: Candidate,
    rubric: RubricId,
    certifier: Annotated[str, typer.Option(help="Who confirms the decision.")],
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
        granted = grant(desk, candidate, rubric, certifier)
    text = words.of_award(
        granted.award, granted.candidate.name, granted.certifier.name, granted.standing
    )
    value = {
        "award": granted.award.model_dump(mode="json"),
        "standing": granted.standing.model_dump(mode="json"),
        "entry": granted.entry,
    }
    show.answer(text, value, as_json=as_json)


def due(
    quarter: Annotated[
        str | None,
        typer.Option(metavar="QUARTER", help="2026Q4, or FY2026/27 Q2; this one when left out."),
    ] = None,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_json: options.Json = False,
) -> None:
    """List what falls due in a quarter.

    Of the school's own year, soonest first; what is late already is listed in every quarter.
    """
    from standfast.cli import words
    from standfast.desk.awards import due as due_in
    from standfast.desk.people import name_of

    with options.desk(folder, on) as desk:
        found = due_in(desk, quarter)
        names = {item.candidate: name_of(desk, item.candidate) for item in found.items}
    title = f"{found.title}, {found.first} to {found.last}"
    value = {
        "quarter": found.title,
        "first": str(found.first),
        "last": str(found.last),
        "items": [
            {
                "by": str(item.day),
                "what": item.what,
                "candidate": item.candidate,
                "name": names[item.candidate],
                "award": item.scope,
                "certificate": item.number,
                "says": item.says,
            }
            for item in found.items
        ],
    }
    show.answer(words.of_due(found.items, names.__getitem__, title), value, as_json=as_json)
