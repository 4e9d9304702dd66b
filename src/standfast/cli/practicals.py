"""Commands about practicals and what follows from them: score, decide, history."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standfast.cli import options, show
from standfast.cli.by_asking import Lesson, score_by_asking
from standfast.model.caution import CAUTION
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.desk.sheets import Taken

Candidate = Annotated[str, typer.Argument(help="The candidate's slug, such as ada-berg.")]
RubricId = Annotated[
    str, typer.Argument(metavar="RUBRIC", help="The rubric's id, such as low-trapeze-1.")
]


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    app.command(
        epilog=options.example("standfast score candidates/practicals/lesson-2026-10-13-hana.yaml")
    )(score)
    app.command(
        epilog=options.example("standfast decide ines-carvalho-teles low-trapeze-1 --on 2026-11-20")
    )(decide)
    app.command(epilog=options.example("standfast history ines-carvalho-teles"))(history)


def score(  # noqa: PLR0913, PLR0917 - one option for each thing a person may say
    sheet: Annotated[
        Path | None,
        typer.Argument(help="A sheet as YAML, JSON or CSV; without one the terminal asks."),
    ] = None,
    candidate: Annotated[str | None, typer.Option(help="Who is assessed.")] = None,
    rubric: Annotated[str | None, typer.Option(help="Under which rubric.")] = None,
    assessor: Annotated[str | None, typer.Option(help="Who scores.")] = None,
    practical: Annotated[str | None, typer.Option(help="A short name for the lesson.")] = None,
    minutes: Annotated[int, typer.Option(min=5, max=600, help="How long the lesson is.")] = 60,
    paper: Annotated[bool, typer.Option("--paper", help="Copy from a sheet of paper.")] = False,
    top_up: options.TopUp = False,
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Take in a practical's score sheet.

    From a file, or by asking in the order of the lesson; what was answered is never lost, and the
    same command goes on with it.
    """
    from standfast.desk.people import enter_files
    from standfast.desk.sheets import take_file

    if sheet is None:
        lesson = Lesson(candidate, rubric, assessor, practical, minutes, paper, top_up)
        _say_taken(score_by_asking(lesson, folder, by), as_json=as_json)
        return
    from standfast.files.sheets import read_sheet

    placed = read_sheet(sheet)
    with options.desk(folder, by=by or placed.noun.assessor) as desk:
        enter_files(desk)
        taken = take_file(desk, placed)
    _say_taken(taken, as_json=as_json)


def _say_taken(taken: Taken, *, as_json: bool) -> None:
    sheet = taken.sheet
    again = "was in the record book already" if taken.again else "is in the record book"
    counts = (
        f"{len(sheet.attempts)} attempts, {len(sheet.clearances)} let go or held back,"
        f" {len(sheet.samples)} looks, {len(sheet.ratings)} ratings,"
        f" {len(sheet.incidents)} incidents"
    )
    who = f"{sheet.candidate}, scored by {sheet.assessor}"
    text = [
        f"sheet {sheet.id} {again}",
        f"  practical {sheet.practical} on {sheet.on}: {who}",
        f"  {counts}",
        f"next: standfast decide {sheet.candidate} {sheet.rubric}"
        + (" (with --top-up when it was one)" if sheet.covers else ""),
    ]
    value = {"sheet": sheet.id, "entry": taken.entry, "again": taken.again}
    show.answer(text, value, as_json=as_json)


def decide(  # noqa: PLR0913, PLR0917 - one option for each thing a person may say
    candidate: Candidate,
    rubric: RubricId,
    keep: Annotated[
        bool, typer.Option("--keep", help="Enter the decision into the record book.")
    ] = False,
    top_up: options.TopUp = False,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Decide by the rubric's rule.

    From the evidence in the book: the outcome, each reason, and what to do next; exit 1 unless it
    is a pass.
    """
    from standfast.cli import words
    from standfast.desk import decisions

    if keep and as_known:
        raise StandfastError(
            "--keep enters a decision made with all that is known; leave out --as-known"
        )
    when = options.When(on, as_known)
    with options.question(folder, when, by=by, at_the_time=False) as known:
        desk, entry = known.desk, None
        if keep:
            decided, entry = decisions.decide_and_keep(desk, candidate, rubric, top_up=top_up)
        else:
            decided = decisions.decide_for(desk, candidate, rubric, top_up=top_up)
        sheets = decisions.known_as(desk, decided.sheets)
    text = words.of_decision(
        decided.decision, decided.candidate.name, decided.texts.rubric.title, sheets
    )
    if entry:
        text.append(f"kept in the record book as {entry}")
    value = {
        "decision": decided.decision.model_dump(mode="json"),
        "entry": entry,
        "caution": CAUTION,
    }
    show.answer(text, value, as_json=as_json)
    raise typer.Exit(show.YES if decided.decision.outcome == "pass" else show.NO)


def history(
    candidate: Candidate,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_json: options.Json = False,
) -> None:
    """Tell a person's story from the book.

    As far as it had been entered by that day.
    """
    from standfast.cli import words
    from standfast.desk.history import history_of

    with options.desk(folder, on) as desk:
        told = history_of(desk, candidate)
    lines = [f"{told.name}: {show.counted(len(told.events), 'entry')}"]
    for event in told.events:
        first = f"{event.seq:>6}  {event.at:%Y-%m-%d %H:%M}  "
        lines += words.wrapped(event.says, " " * len(first), first)
    lines += ["", *words.wrapped(CAUTION)]
    value = {
        "person": candidate,
        "caution": CAUTION,
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
