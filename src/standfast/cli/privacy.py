"""Commands about what the record book holds of people: book person-data."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from standfast.cli import options, show
from standfast.cli.words import CAUTION, wrapped


def add_to(app: typer.Typer) -> None:
    """Adds these commands to those about the record book."""
    example = "standfast book person-data ines-carvalho-teles --out hers"
    app.command("person-data", epilog=options.example(example))(person_data)


def person_data(
    person: Annotated[str, typer.Argument(help="The person's slug.")],
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="A new folder.")],
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Write everything that the book holds about a person, for her to have.

    As JSON and as text. Who scored, decided or ruled is named; everybody else is a role.
    """
    from standfast.desk.person_data import give

    with options.desk(folder) as desk:
        given = give(desk, person, out)
    counts = ", ".join(f"{kind} {count}" for kind, count in given.counts.items())
    text = [*(str(file) for file in given.files), f"  {counts}", *wrapped(LOOK), *wrapped(CAUTION)]
    value = {
        "files": [str(file) for file in given.files],
        "counts": dict(given.counts),
        "caution": CAUTION,
    }
    show.answer(text, value, as_json=as_json)


LOOK = (
    "Read it before you give it away: free text was written by people. The law may want an answer"
    " within a month (GDPR 12(3)); what it wants of your school, ask your own counsel."
)
