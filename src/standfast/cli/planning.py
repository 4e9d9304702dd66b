"""The command plan: who sees whom on a day of practicals, and when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import options, show

if TYPE_CHECKING:
    from standfast.desk.planning import PlannedDay
    from standfast.engine.planning.programme import Watch

QUIET = 3.0
"""Seconds that an answer may take without a remark."""


def add_to(app: typer.Typer) -> None:
    """Adds this command."""
    app.command(epilog=options.example("standfast plan candidates/plans/trapeze-2026-12-05.yaml"))(
        plan
    )


def plan(
    file: Annotated[Path, typer.Argument(help="The day as it is wished, a YAML file.")],
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FILE", help="Write a table too: FILE.csv, FILE.xlsx."),
    ] = None,
    seconds: Annotated[int, typer.Option(min=1, help="How long it may take.")] = 120,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Plan a day of practicals.

    Who sees whom, and when: so that every wish of the file is met, nobody scores more than that
    asks, and the load is even.  When the wishes cannot all be met, says the smallest set of them
    that clash, and exits 1.
    """
    from standfast.desk.planning import export, plan_day
    from standfast.files.plan import read_plan

    placed = read_plan(file)
    with options.desk(folder) as desk:
        planned = plan_day(desk, placed, watch(seconds))
    if out:
        export(planned, out)
    show.answer(words_of(planned), value_of(planned), as_json=as_json)


def watch(seconds: int) -> Watch:
    """Counts the seconds from now on; what is said is shown once it has taken a while."""
    from standfast.engine.planning.programme import Watch

    begun = monotonic()

    def say(text: str) -> None:
        if monotonic() - begun > QUIET:
            show.remark(f"{monotonic() - begun:.0f} s: {text}")

    return Watch(lambda: begun + seconds - monotonic(), say)


def words_of(planned: PlannedDay) -> list[str]:
    """The day slot by slot, then each assessor's part, then how they are linked."""
    from standfast.cli.words import wrapped
    from standfast.model.caution import caution

    asked = planned.asked
    told = caution("A plan says who sees whom; it lets nobody teach.")
    return [
        f"{asked.id}: {asked.day:%A %Y-%m-%d}, {planned.zone}, {asked.rubric}",
        "",
        *_lessons(planned),
        "",
        *_loads(planned),
        "",
        *_linking(planned),
        *(line for says in planned.said for line in wrapped(says)),
        "",
        *wrapped(told),
    ]


def _lessons(planned: PlannedDay) -> list[str]:
    from standfast.cli.words import cut

    rows = [(*line[:2], *map(cut, line[2:])) for line in planned.lines]
    return show.table(rows, ("time", "slot", "candidate", "assessor", "second assessor"))


def _loads(planned: PlannedDay) -> list[str]:
    from standfast.cli.words import cut

    slots = sorted(planned.asked.slots, key=lambda slot: (slot.begins, slot.slot))
    rows = []
    for load in planned.loads:
        there = [slots[number] for number in (*load.slots[:1], *load.slots[-1:])]
        span = f"{there[0].begins}-{there[1].ends}" if there else ""
        rows.append([cut(planned.names[load.assessor]), str(load.lessons), span, str(load.gaps)])
    return show.table(rows, ("assessor", "lessons", "there", "gaps"))


def _linking(planned: PlannedDay) -> Iterator[str]:
    from standfast.cli.words import wrapped

    count = len(planned.lessons)
    yield f"scored by two: {planned.doubles} of {show.counted(count, 'candidate')}"
    for (one, other), shared in planned.links.items():
        through = ", ".join(planned.names[who] for who in shared)
        pair = f"{planned.names[one]} - {planned.names[other]}"
        yield from wrapped(f"{pair} through {through}", "    ", "  ")


def value_of(planned: PlannedDay) -> dict[str, Any]:
    """The same as JSON values."""
    worth = planned.plan.worth
    return {
        "plan": planned.asked.id,
        "day": str(planned.asked.day),
        "zone": planned.zone,
        "rubric": planned.asked.rubric,
        "lessons": [asdict(lesson) for lesson in planned.lessons],
        "assessors": [
            {
                "assessor": load.assessor,
                "lessons": load.lessons,
                "gaps": load.gaps,
            }
            for load in planned.loads
        ],
        "scored_by_two": planned.doubles,
        "links": [{"assessors": pair, "through": shared} for pair, shared in planned.links.items()],
        "all_linked": planned.all_linked,
        "conflicts_of_interest": [
            {"assessor": who, "candidate": candidate} for who, candidate in planned.conflicts
        ],
        "score_sheets": worth.sheets,
        "difference": worth.difference,
        "gaps": worth.gaps,
        "not_proved": planned.plan.unproved,
        "names": planned.names,
    }
