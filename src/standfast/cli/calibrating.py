"""The command `calibrate`: an assessor's sheet beside the marks that a panel agreed on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import options, show

if TYPE_CHECKING:
    from standfast.desk.calibrating import Calibrated
    from standfast.engine.calibrating import OfCriterion

MOST_SHOWN = 8
"""Differences of one criterion on the terminal; --json has all."""


def add_to(app: typer.Typer) -> None:
    """Adds the command."""
    app.command(
        epilog=options.example(
            "standfast calibrate candidates/references/sandhof-2026-10-13-tendai.yaml"
            " --certifier marit-solheim-aune --on 2026-11-20"
        )
    )(calibrate)


def calibrate(
    sheet: Annotated[
        Path,
        typer.Argument(help="The assessor's score sheet of the practical: YAML, JSON or CSV."),
    ],
    certifier: Annotated[
        str | None,
        typer.Option(help="Who holds the result and has it entered; only shown when left out."),
    ] = None,
    because: Annotated[
        str | None,
        typer.Option(help="More to say, naming nobody; it stands in the history."),
    ] = None,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Hold an assessor's sheet beside the marks that a panel agreed on.

    The panel is whoever else scored the same practical. Exit 0 is in step; 1 is not in step, or
    not settled yet. The sheet is no evidence about the candidate.
    """
    from standfast.desk.calibrating import calibrate_file
    from standfast.desk.people import enter_files
    from standfast.files.sheets import read_sheet

    placed = read_sheet(sheet)
    with options.desk(folder, on, by or certifier) as desk:
        if certifier is not None:
            enter_files(desk)
        told = calibrate_file(desk, placed, certifier, because)
    show.answer(words_of(told), value_of(told), as_json=as_json)
    raise typer.Exit(show.YES if told.found.result == "in step" else show.NO)


def words_of(told: Calibrated) -> list[str]:
    """The result first, then what was missed, then every criterion."""
    from standfast.cli.words import wrapped
    from standfast.desk.calibrating import in_a_sentence
    from standfast.model.caution import CAUTION

    found, sheet = told.found, told.sheet
    entered = "" if told.entry else " (not entered: no --certifier was named)"
    lines = [
        f"{told.assessor.name}, {sheet.rubric}, {sheet.practical}: {found.result.upper()}{entered}",
        *wrapped(in_a_sentence(found) + _leaning(told), "  "),
        *wrapped(f"the panel: {', '.join(told.panel)}; split itself on {found.split} marks", "  "),
    ]
    if told.standing:
        lines += wrapped(f"stands as {told.standing.state}: {told.standing.because}", "    ", "  ")
    lines += wrapped(_next(told), "    ", "  next: ")
    if found.grave:
        lines += ["", "nobody may miss this:"]
        lines += [line for one in found.grave for line in wrapped(one, "    ", "  ! ")]
    lines += ["", *show.table([_row(one) for one in found.criteria], HEAD), ""]
    lines += [line for one in found.criteria for line in _misses(one)]
    return [*lines, "", *wrapped(HOW), "", *wrapped(CAUTION)]


HEAD = ("criterion", "as agreed", "lapses seen", "not seen", "")
HOW = (
    "A criterion counts as marked as agreed when 8 of 10 of its marks are, and half of the lapses"
    " and wrong choices were seen. One in ten otherwise is acceptable, three in ten are not; what"
    " is not settled counts on in the next reference practical. These numbers are ours and have no"
    " source. Being in step is not being right: a panel can share a mistake."
)


def _row(one: OfCriterion) -> tuple[str, str, str, str, str]:
    return (
        one.criterion,
        f"{one.alike} of {one.agreed}",
        f"{one.telling_seen} of {one.telling}" if one.telling else "",
        str(one.unseen or ""),
        "" if one.as_agreed else "otherwise",
    )


def _misses(one: OfCriterion) -> Iterator[str]:
    from standfast.cli.words import wrapped

    for miss in one.misses[:MOST_SHOWN]:
        yield from wrapped(
            f"{one.criterion}, {miss.about}: {miss.marked}, agreed: {miss.agreed}", "    ", "  - "
        )
    if len(one.misses) > MOST_SHOWN:
        yield f"  - {one.criterion}: {len(one.misses) - MOST_SHOWN} more"


def _leaning(told: Calibrated) -> str:
    lower, higher = told.found.lower_and_higher
    return f"; levels lower {lower} times, higher {higher} times" if lower or higher else ""


def _next(told: Calibrated) -> str:
    found = told.found
    if found.result == "in step":
        return "nothing; talk over what differs while it is fresh"
    if found.result == "not in step":
        return "talk over every mark that differs with one of the panel, then score another one"
    more = show.counted(found.more_to_settle, "criterion")
    return f"score another reference practical; {more} more as agreed would settle it"


def value_of(told: Calibrated) -> dict[str, Any]:
    """The same as JSON values."""
    from standfast.model.caution import CAUTION

    found = told.found
    lower, higher = found.lower_and_higher
    return {
        "assessor": told.assessor.id,
        "rubric": told.sheet.rubric,
        "practical": told.sheet.practical,
        "panel": list(told.panel),
        "result": found.result,
        "marks": {"alike": found.marks[0], "agreed": found.marks[1], "split": found.split},
        "criteria": {
            "trials": found.trials,
            "misses": found.misses,
            "trials_before": found.carried.trials,
            "misses_before": found.carried.misses,
        },
        "levels": {"lower": lower, "higher": higher},
        "grave": list(found.grave),
        "more_to_settle": found.more_to_settle,
        "of_criteria": [
            {
                "criterion": one.criterion,
                "alike": one.alike,
                "agreed": one.agreed,
                "lapses": one.telling,
                "lapses_seen": one.telling_seen,
                "split": one.split,
                "not_seen": one.unseen,
                "as_agreed": one.as_agreed,
                "misses": [
                    {
                        "about": miss.about,
                        "agreed": miss.agreed,
                        "marked": miss.marked,
                        "grave": miss.grave,
                    }
                    for miss in one.misses
                ],
            }
            for one in found.criteria
        ],
        "entry": told.entry,
        "standing": told.standing.model_dump(mode="json") if told.standing else None,
        "caution": CAUTION,
    }
