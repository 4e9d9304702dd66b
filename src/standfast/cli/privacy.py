"""Commands about what the record book holds of people: book person-data, book retention."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from standfast.cli import options, show
from standfast.cli.words import not_reached, wrapped
from standfast.model.caution import CAUTION


def add_to(app: typer.Typer) -> None:
    """Adds these commands to those about the record book."""
    example = "standfast book person-data ines-carvalho-teles --out hers"
    app.command("person-data", epilog=options.example(example))(person_data)
    app.command(epilog=options.example("standfast book retention"))(retention)


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
    text = [
        *(str(file) for file in given.files),
        f"  {counts}",
        *wrapped(LOOK),
        "",
        *wrapped(CAUTION),
    ]
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


def retention(
    do_it: Annotated[
        bool, typer.Option("--do-it", help="Let it go; what is gone does not come back.")
    ] = False,
    clock_is_right: Annotated[
        bool, typer.Option("--clock-is-right", help="Though nothing was entered for 90 days.")
    ] = False,
    on: options.On = None,
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """List what the school's rules let go, why, and what never goes.

    The rules stand under 'keep' in school.yaml; without one nothing of its kind goes.
    """
    from standfast.desk import books
    from standfast.desk.retention import NEVER, clock_in_doubt, leaving, let_go

    with options.desk(folder, on, by) as desk:
        found = let_go(desk, clock_is_right=clock_is_right) if do_it else leaving(desk)
        doubt = "" if do_it else clock_in_doubt(desk)
        names_go = any(one.kind == "names" for one in found)
        left = books.not_reached(desk) if names_go else ()
        rules = desk.school.keep.model_dump()
        day = desk.today
    rows = [(one.kind, one.what, one.because, one.rule) for one in found]
    text = show.table(rows, ("kind", "what", "because", "kept for")) if rows else []
    text += [_counted(len(rows), day.isoformat(), gone=do_it), *_rules(rules)]
    if doubt:
        text += wrapped(f"{doubt}: look at the clock first, --do-it wants --clock-is-right", "  ")
    text += not_reached(left)
    text += [f"  never: {what}; {why}" for what, why in NEVER]
    value = {
        "on": day.isoformat(),
        "gone": do_it,
        "clock_in_doubt": doubt or None,
        "rules": rules,
        "leaving": [
            {
                "kind": one.kind,
                "what": one.what,
                "last": one.last.isoformat(),
                "because": one.because,
                "kept_for": one.rule,
            }
            for one in found
        ],
        "never": [{"what": what, "because": why} for what, why in NEVER],
    }
    show.answer(text, value, as_json=as_json)


def _counted(number: int, day: str, *, gone: bool) -> str:
    what = show.counted(number, "thing")
    if gone:
        return f"gone on {day}: {what}"
    return f"on {day} would go: {what}" + ("; --do-it lets it go" if number else "")


def _rules(rules: dict[str, str | None]) -> list[str]:
    said = [f"{kind} {period}" for kind, period in rules.items() if period]
    without = [kind for kind, period in rules.items() if not period]
    return [
        f"  rules: {', '.join(said) or 'none'}",
        *([f"  kept for ever, for want of a rule: {', '.join(without)}"] if without else []),
    ]
