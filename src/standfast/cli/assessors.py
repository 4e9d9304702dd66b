"""Commands about assessors: reference, assessors."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from standfast.cli import options, show


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    app.command(
        epilog=options.example(
            "standfast reference tendai-mukwashi low-trapeze-1 --practical reference-2026"
            " --result in-step --certifier marit-solheim-aune --on 2026-11-20"
            ' --because "11 of 12 marks as agreed"'
        )
    )(reference)
    app.command(epilog=options.example("standfast assessors --on 2026-11-20"))(assessors)


def reference(  # noqa: PLR0913, PLR0917 - one option for each part of what is entered
    assessor: Annotated[str, typer.Argument(metavar="ASSESSOR", help="Who scored it.")],
    rubric: Annotated[str, typer.Argument(metavar="RUBRIC", help="Under which rubric.")],
    practical: Annotated[str, typer.Option(help="The reference practical's short name.")],
    result: Annotated[
        Literal["in-step", "not-in-step"],
        typer.Option(help="Whether the marks are in step with the agreed ones."),
    ],
    certifier: Annotated[str, typer.Option(help="Who holds the result; certifies the rubric.")],
    because: Annotated[
        str, typer.Option(help="On what grounds, naming nobody; it stands in the history.")
    ],
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Enter a result of a reference practical that was found elsewhere.

    Where a panel's sheets are in the record book, 'standfast calibrate' works it out instead.
    In step keeps the approval current for as long as the school says; not in step stops it at
    once, and sheets of that day and later ones are refused.
    """
    from standfast.desk.people import enter_files
    from standfast.desk.references import score_reference

    with options.desk(folder, on, by or certifier) as desk:
        enter_files(desk)
        word: Literal["in step", "not in step"] = (
            "in step" if result == "in-step" else "not in step"
        )
        scored = score_reference(desk, assessor, rubric, practical, word, certifier, because)
    told = scored.standing
    text = [
        f"{scored.assessor.name}, {rubric}: {word} in {practical} on {scored.score.on}",
        f"  stands as {told.state}: {told.because}",
        f"  next: {told.next_step}" if told.next_step else "",
    ]
    value = {"standing": told.model_dump(mode="json"), "entry": scored.entry}
    show.answer(list(filter(None, text)), value, as_json=as_json)


def assessors(
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    as_json: options.Json = False,
) -> None:
    """Show how every assessor and certifier stands.

    For each rubric whether the approval is current, until when it counts, why, and what comes
    next.
    """
    from standfast.cli.words import of_approvals
    from standfast.desk.approvals import approvals

    with options.question(folder, options.When(on, as_known)) as known:
        found, today = approvals(known.desk), known.desk.today
    value = {
        "on": str(today),
        "approvals": [
            {
                "person": one.person.id,
                "name": one.person.name,
                **one.standing.model_dump(mode="json"),
            }
            for one in found
        ],
    }
    show.answer(of_approvals(found, today), value, as_json=as_json)
