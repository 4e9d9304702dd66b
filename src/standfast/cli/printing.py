"""Commands that put something on paper: certificates, records, sheets, due lists, plans."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from standfast.cli import listing, options, show
from standfast.cli.practicals import Candidate, RubricId

app = typer.Typer(
    cls=listing.Listed,
    no_args_is_help=True,
    rich_markup_mode=None,
    help=(
        "Put it on paper, as PDF.\n\n"
        "Certificates, competency records, blank score sheets, due lists, plans of a day."
    ),
    epilog=options.example("standfast print record ines-carvalho-teles --out paper"),
)

Out = Annotated[
    Path, typer.Option("--out", "-o", metavar="FOLDER", help="Where the PDF goes; made if needed.")
]


def _say(files: list[Path], *, as_json: bool) -> None:
    said = [str(file) for file in files]
    show.answer(said or ["there is none to print"], {"files": said}, as_json=as_json)


@app.command(
    epilog=options.example("standfast print certificate LT1-2026-0010 --on 2026-11-20 --out paper")
)
def certificate(
    number: Annotated[
        str,
        typer.Argument(help="The certificate's number, or whose newest certificate it is."),
    ],
    out: Out = options.HERE,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_json: options.Json = False,
) -> None:
    """Print one certificate.

    Of an award that has not lapsed on the day, and is neither suspended nor withdrawn since.
    """
    from standfast.desk.certificates import print_certificate

    with options.desk(folder, on) as desk:
        file = print_certificate(desk, number, out)
    _say([file], as_json=as_json)


@app.command(
    epilog=options.example("standfast print certificates --all --on 2026-11-20 --out paper")
)
def certificates(
    everything: Annotated[
        bool, typer.Option("--all", help="Every award that has not lapsed.")
    ] = False,
    out: Out = options.HERE,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_json: options.Json = False,
) -> None:
    """Print every certificate that has not lapsed."""
    from standfast.desk.certificates import print_certificates

    if not everything:
        show.remark("say --all to print every certificate; one alone: standfast print certificate")
        raise typer.Exit(show.COULD_NOT)
    with options.desk(folder, on) as desk:
        files = print_certificates(desk, out, show.progress("certificates"))
    _say(list(files), as_json=as_json)


@app.command(
    epilog=options.example("standfast print record ines-carvalho-teles --on 2026-11-20 --out paper")
)
def record(
    candidate: Candidate,
    out: Out = options.HERE,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    as_json: options.Json = False,
) -> None:
    """Print a person's competency record.

    Every competency with its evidence and figures, sessions, assessors, decisions, documents and
    next dates.
    """
    from standfast.desk.records import print_record

    with options.question(folder, options.When(on, as_known)) as known:
        file = print_record(known.desk, candidate, out)
    _say([file], as_json=as_json)


@app.command(
    epilog=options.example(
        "standfast print sheet low-trapeze-1 --candidate ines-carvalho-teles --out paper"
    )
)
def sheet(  # noqa: PLR0913, PLR0917 - one option for each thing that is known before
    rubric: RubricId,
    candidate: Annotated[str, typer.Option(help="Who is assessed.")] = "",
    assessor: Annotated[str, typer.Option(help="Who scores.")] = "",
    practical: Annotated[str, typer.Option(help="A short name for the lesson.")] = "",
    skills: Annotated[
        str, typer.Option(metavar="SKILL,SKILL", help="The skills taught; all when left out.")
    ] = "",
    students: Annotated[int, typer.Option(min=1, max=20, help="How many students.")] = 6,
    minutes: Annotated[int, typer.Option(min=5, max=240, help="How long it is.")] = 45,
    top_up: options.TopUp = False,
    out: Out = options.HERE,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_json: options.Json = False,
) -> None:
    """Print a blank score sheet of one page.

    In the order in which the terminal asks, with as many lines for tries as the page holds.  For a
    refresher or a top-up of a named candidate only what it covers on the day, and why.
    """
    from standfast.desk.blank_sheets import print_score_sheet
    from standfast.paper.view.score_sheet import Lesson

    with options.desk(folder, on) as desk:
        from standfast.desk.people import person

        lesson = Lesson(
            person(desk, candidate).name if candidate else "",
            person(desk, assessor).name if assessor else "",
            practical,
            students,
            minutes,
            tuple(part.strip() for part in skills.split(",") if part.strip()),
        )
        file = print_score_sheet(desk, rubric, lesson, out, candidate or None, top_up=top_up)
    _say([file], as_json=as_json)


@app.command(
    epilog=options.example(
        'standfast print due --quarter "FY2026/27 Q2" --on 2026-11-20 --out paper'
    )
)
def due(  # noqa: PLR0913, PLR0917 - one option for each way to narrow the list
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
    out: Out = options.HERE,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    as_json: options.Json = False,
) -> None:
    """Print what falls due in a quarter."""
    from standfast.desk.due import Asked
    from standfast.desk.printing import print_due

    with options.question(folder, options.When(on, as_known)) as known:
        file = print_due(known.desk, Asked(quarter, ahead, site, rubric), out)
    _say([file], as_json=as_json)


@app.command(
    epilog=options.example(
        "standfast print plan candidates/plans/trapeze-2026-12-05.yaml --out paper"
    )
)
def plan(
    file: Annotated[Path, typer.Argument(help="The day as it is wished, a YAML file.")],
    seconds: Annotated[int, typer.Option(min=1, help="How long it may take.")] = 120,
    out: Out = options.HERE,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Print who sees whom on a day of practicals.

    The same plan that 'standfast plan' says.
    """
    from standfast.cli.planning import watch
    from standfast.desk.planning import plan_day
    from standfast.desk.printing import print_plan
    from standfast.files.plan import read_plan

    placed = read_plan(file)
    with options.desk(folder) as desk:
        planned = plan_day(desk, placed, watch(seconds))
        printed = print_plan(desk, planned, out)
    _say([printed], as_json=as_json)
