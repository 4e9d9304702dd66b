"""Commands about practicals and what follows from them: score, decide, history."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from standfast.cli import options, show

Candidate = Annotated[str, typer.Argument(help="The candidate's slug, such as ada-berg.")]
RubricId = Annotated[
    str, typer.Argument(metavar="RUBRIC", help="The rubric's id, such as low-trapeze-1.")
]


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    app.command(epilog="Example: standfast score candidates/practicals/lesson-1.yaml")(score)
    app.command(epilog="Example: standfast decide ada-berg low-trapeze-1 --on 2026-03-01")(decide)
    app.command(epilog="Example: standfast history ada-berg")(history)


def decide(
    candidate: Candidate,
    rubric: RubricId,
    keep: Annotated[
        bool, typer.Option("--keep", help="Enter the decision into the record book.")
    ] = False,  # noqa: FBT002 - an option
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,  # noqa: FBT002 - an option
) -> None:
    """Decide by the rubric's rule from the evidence in the book; exit 1 unless it is a pass."""
    from standfast.cli import words  # noqa: PLC0415 - not for --help
    from standfast.desk import decisions  # noqa: PLC0415 - not for --help

    with options.desk(folder, on, by) as desk:
        decided = decisions.decide_for(desk, candidate, rubric)
        entry = decisions.keep(desk, decided) if keep else None
    text = words.of_decision(decided.decision, decided.name, decided.title, decided.sheets)
    if entry:
        text.append(f"kept in the record book as {entry}")
    value = {"decision": decided.decision.model_dump(mode="json"), "entry": entry}
    show.answer(text, value, as_json=as_json)
    raise typer.Exit(show.YES if decided.decision.outcome == "pass" else show.NO)


def history(
    candidate: Candidate,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,  # noqa: FBT002 - an option
) -> None:
    """Tell a person's story from the record book, in order."""
    from standfast.desk.history import history_of  # noqa: PLC0415 - not for --help

    with options.desk(folder) as desk:
        told = history_of(desk, candidate)
    lines = [f"{told.name}: {len(told.events)} entries"]
    lines.extend(
        f"{event.seq:>6}  {event.at:%Y-%m-%d %H:%M}  {event.says}" for event in told.events
    )
    value = {
        "person": candidate,
        "events": [
            {
                "seq": e.seq,
                "at": e.at.isoformat(),
                "by": e.who,
                "kind": e.kind,
                "says": e.says,
                "entry": e.entry,
            }
            for e in told.events
        ],
    }
    show.answer(lines, value, as_json=as_json)
