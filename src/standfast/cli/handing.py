"""The commands with which a candidate's record goes to another school: hand-over, take-in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standfast.cli import options, show
from standfast.cli.keys import Stdin, key_words
from standfast.cli.sealing import Trust, own_folder
from standfast.cli.words import wrapped
from standfast.model.caution import CAUTION
from standfast.problems import Refused, StandfastError

if TYPE_CHECKING:
    from standfast.desk.handing import HandedOverTo
    from standfast.desk.taking import TakenIn
    from standfast.model.handing import Asked


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    example = (
        'standfast hand-over ines-carvalho-teles --to "Loft School" --agreed 2026-11-20'
        " --out ines.jsonl"
    )
    app.command("hand-over", epilog=options.example(example))(hand_over)
    example = "standfast take-in ines.jsonl --as ines-carvalho-teles"
    app.command("take-in", epilog=options.example(example))(take_in)


def hand_over(  # noqa: PLR0913, PLR0917 - options, all named when typed
    person: Annotated[str, typer.Argument(help="The candidate's slug.")],
    to: Annotated[
        str,
        typer.Option(
            metavar="SCHOOL", help="Who receives it: the name in that school's school.yaml, or id."
        ),
    ],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="A new file.")],
    agreed: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="The day on which she agreed to this, in writing."),
    ] = None,
    asked_by: Annotated[
        str, typer.Option(metavar="WHO", help="Who asked for it: candidate or receiver.")
    ] = "candidate",
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Hand a candidate's record to another school, as she agreed.

    Score sheets, decisions, awards and rulings with the rubrics they rest on, who judged by name,
    and proofs that they stand in this record book. That she agreed is entered.
    """
    from standfast.desk import handing
    from standfast.model.handing import HandOver

    day = options.day(agreed, "--agreed")
    if day is None:
        raise Refused(
            "nothing was handed over",
            ["a record goes to nobody without her agreement: say on which day, with --agreed"],
        )
    if not 0 < len(to.strip()) <= 200 or "\n" in to:  # noqa: PLR2004 - as any name
        raise StandfastError("--to: name the school that receives it, in one line")
    what = HandOver(person=person, to=to, asked_by=_asked(asked_by), agreed=day)
    with options.desk(folder, None, by) as desk:
        words = key_words(desk, from_stdin=passphrase_stdin)
        done = handing.hand_over(desk, what, out, words)
    value = {
        "file": str(done.file),
        "entry": done.entry,
        "entries": done.entries,
        "shortened": done.shortened,
        "names": list(done.names),
        "caution": CAUTION,
    }
    show.answer(_handed(done, to), value, as_json=as_json)


def _asked(text: str) -> Asked:
    if text == "candidate":
        return "candidate"
    if text == "receiver":
        return "receiver"
    raise StandfastError(f"--asked-by {text}: say candidate or receiver")


def _handed(done: HandedOverTo, to: str) -> list[str]:
    from standfast.desk.handing import NOT_IN_IT

    names = f"by name who judged or trained: {', '.join(done.names)}"
    shortened = (
        f"  conflicts of interest were left out of {show.counted(done.shortened, 'record')} of it"
    )
    return [
        f"{done.file}: for {to}, {done.entries} entries under the head over {done.size}",
        *(wrapped(names, "    ", "  ") if done.names else []),
        *([shortened] if done.shortened else []),
        f"  entered as {done.entry}",
        *wrapped(NOT_IN_IT),
        *wrapped("Notes and reasons that people wrote are in it: read it before you give it away."),
        *wrapped(
            "It holds names as plain text: give it to that school alone, with the fingerprint of"
            " your key told another way ('standfast keys show')."
        ),
        "",
        *wrapped(CAUTION),
    ]


def take_in(
    file: Annotated[Path, typer.Argument(help="The file that the other school handed over.")],
    person: Annotated[
        str,
        typer.Option("--as", metavar="PERSON", help="The slug of the candidate here, new or not."),
    ],
    yes: Annotated[bool, typer.Option("--yes", help="Do it; else it is only told.")] = False,
    trust_folder: Trust = None,
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Take in a candidate's record from another school, as evidence from elsewhere.

    Signatures, proofs and her agreement are checked first. It gives no award and counts in no
    decision; the printed record shows it with its origin. Nothing is entered without --yes.
    """
    from standfast.desk import taking
    from standfast.desk.checking import trusted_in

    trusted = [one.file for one in trusted_in(trust_folder or own_folder())]
    with options.desk(folder, None, by) as desk:
        done = taking.take_in(desk, file, person, trusted, do=yes)
    value = {
        "entered": yes and not done.again,
        "again": done.again,
        "entry": done.entry,
        "school": done.record.school,
        "name": done.name,
        "known_as": done.known_as,
        "agreed": done.hand_over.agreed.isoformat(),
        "new_people": list(done.new_people),
        "entries": done.counts,
        "caution": CAUTION,
    }
    show.answer(_taken(done, person, yes=yes), value, as_json=as_json)


_THINGS = {
    "text-kept": "rubric or syllabus text",
    "sheet-taken": "score sheet",
    "decision-made": "decision",
    "award-granted": "award",
    "award-ruled": "ruling",
}
"""Of the entries, what there is to say of how many."""


def _taken(done: TakenIn, person: str, *, yes: bool) -> list[str]:
    from standfast.desk.taking import NO_AWARD

    known = {kind: count for kind, count in done.counts.items() if kind in _THINGS}
    counts = ", ".join(show.counted(count, _THINGS[kind]) for kind, count in known.items())
    who = f"'{done.name}' there; here {person} is "
    who += f"'{done.known_as}'" if done.known_as else "new"
    if done.again:
        says = f"it is in the record book already, as {done.entry}"
    elif yes:
        says = f"entered as {done.entry}"
    else:
        says = "nothing was entered; say --yes when she is the same person"
    new = f"  named here from now on, who judged or trained there: {', '.join(done.new_people)}"
    return [
        f"from {done.record.school}, which signed it; she agreed on {done.hand_over.agreed}",
        f"  {who}",
        f"  {counts or 'no score sheet, decision or award'}",
        *([new] if done.new_people else []),
        says,
        *wrapped(NO_AWARD),
        "",
        *wrapped(CAUTION),
    ]
