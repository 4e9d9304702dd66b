"""The command holds: what an outsider may know of a certificate."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import options, show
from standfast.model.caution import CAUTION

if TYPE_CHECKING:
    from standfast.desk.outside import Outside


def add_to(app: typer.Typer) -> None:
    """Adds this command."""
    app.command(epilog=options.example("standfast holds LT1-2026-0010 --on 2026-11-20"))(holds)


def holds(
    number: Annotated[str, typer.Argument(metavar="NUMBER", help="The certificate's number.")],
    folder: options.Folder = options.HERE,
    on: options.On = None,
    as_known: options.AsKnown = None,
    as_json: options.Json = False,
) -> None:
    """Say whether a certificate holds.

    Only what an outsider may know, to be read out or sent as it is: no name and no reason; exit 1
    when it does not count on that day, or when there is no such certificate.
    """
    from standfast.desk.outside import outside

    with options.question(folder, options.When(on, as_known)) as known:
        told = outside(known.desk, number)
    show.answer(_words(told), _value(told), as_json=as_json)
    raise typer.Exit(show.YES if told.counts else show.NO)


def _words(told: Outside) -> list[str]:
    from standfast.cli import words

    lines = [
        *words.wrapped(f"certificate {told.number} of {told.school}: {told.scope}", "    ", ""),
        f"  {'counts' if told.counts else 'does not count'} on {told.on}",
    ]
    if told.last_day:
        lines.append(f"  last day {told.last_day}, that day included, as far as is known now")
        lines += words.wrapped("; ".join(told.skills), "    ", "  covers: ")
        for condition in told.conditions:
            lines += words.wrapped(condition, "    ", "  condition: ")
    return [*lines, "", *words.wrapped(f"{CAUTION} {told.caution}".strip())]


def _value(told: Outside) -> dict[str, Any]:
    return {
        "certificate": told.number,
        "school": told.school,
        "scope": told.scope,
        "on": told.on,
        "counts": told.counts,
        "last_day": told.last_day,
        "skills": told.skills,
        "conditions": told.conditions,
        "caution": f"{CAUTION} {told.caution}".strip(),
    }
