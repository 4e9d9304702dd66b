"""Commands about the record book: audit, replay, rebuild, forget, merge, move, tables."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from standfast.cli import listing, options, show, words

app = typer.Typer(
    cls=listing.Listed,
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Look after the record book.",
    epilog=options.example("standfast book audit"),
)


@app.command(epilog=options.example("standfast book audit"))
def audit(folder: options.Folder = options.HERE, as_json: options.Json = False) -> None:
    """Check the whole record book.

    File, guards, journal, tree, tables, and every decision made again; exit 1 at a fault, and the
    first bad entry is named.
    """
    from standfast.desk import books

    with options.desk(folder) as desk:
        entries = show.counted(desk.book.size(), "entry")
        show.remark(f"checking {entries} and every decision again")
        found = books.audit(desk)
    text = [str(fault) for fault in found.faults]
    text += [f"remark: {remark}" for remark in found.remarks]
    faults = show.counted(len(found.faults), "fault") if found.faults else "no faults"
    decided = found.decisions
    again = "no decisions" if decided is None else show.counted(decided, "decision")
    text.append(
        f"{show.counted(found.size, 'entry')}, root {found.root.hex()[:16]}..., {again} made again;"
        f" {faults}"
    )
    value = {
        "entries": found.size,
        "root": found.root.hex(),
        "decisions": found.decisions,
        "faults": [{"entry": f.entry, "seq": f.seq, "what": f.what} for f in found.faults],
        "remarks": found.remarks,
    }
    show.answer(text, value, as_json=as_json)
    raise typer.Exit(show.NO if found.faults else show.YES)


@app.command(epilog=options.example("standfast book replay"))
def replay(folder: options.Folder = options.HERE, as_json: options.Json = False) -> None:
    """Make every decision again, and every calibration of an assessor.

    From evidence and rubric as they were kept; exit 1 when one comes out otherwise.
    """
    from standfast.desk import books
    from standfast.desk.calibrating import calibrate_again

    with options.desk(folder) as desk:
        entries = show.counted(desk.book.size(), "entry")
        show.remark(f"making every decision of {entries} again")
        count, differing = books.replay(desk)
        calibrations, others = calibrate_again(desk)
    text = [f"entry {d.seq} ({d.entry}): {what}" for d in differing for what in d.what]
    text += [f"calibration of {o.assessor} by {o.practical}: {o.what}" for o in others]
    again = show.counted(count, "decision")
    text.append(f"{again} made again, {len(differing)} came out otherwise")
    if calibrations:
        likewise = show.counted(calibrations, "calibration")
        text.append(f"{likewise} likewise, {len(others)} came out otherwise")
    value = {
        "decisions": count,
        "differing": [{"seq": d.seq, "entry": d.entry, "what": d.what} for d in differing],
        "calibrations": calibrations,
        "calibrations_differing": [asdict(other) for other in others],
    }
    show.answer(text, value, as_json=as_json)
    raise typer.Exit(show.NO if differing or others else show.YES)


@app.command(epilog=options.example("standfast book rebuild"))
def rebuild(folder: options.Folder = options.HERE, as_json: options.Json = False) -> None:
    """Make every other table anew from the journal."""
    from standfast.desk import books

    with options.desk(folder) as desk:
        entries = books.rebuild(desk)
    text = f"rebuilt from {show.counted(entries, 'entry')}"
    show.answer(text, {"entries": entries}, as_json=as_json)


@app.command(epilog=options.example("standfast book forget jurgen-stelzhamer --yes"))
def forget(
    person: Annotated[str, typer.Argument(help="The person's slug.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do it; it cannot be undone.")] = False,
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Erase a person's name for ever.

    And the contact; the records stay, under an opaque id.
    """
    from standfast.desk import books

    if not yes:
        show.remark(f"this erases the name of {person} for ever; say --yes to do it")
        raise typer.Exit(show.COULD_NOT)
    with options.desk(folder, by=by) as desk:
        elsewhere = books.handed_to(desk, person)
        entry = books.forget(desk, person)
        left = books.not_reached(desk)
    text = [
        f"erased; entry {entry}. Remove {person} from the files in candidates/ too",
        "  backups made before still have the name: keep erased.txt with them, which says by a",
        "  number whom to erase again when one of them is brought back",
        *words.not_reached(left),
        *(f"  {school} has the record from you: tell them too" for school in elsewhere),
    ]
    value = {
        "entry": entry,
        "handed_over_to": list(elsewhere),
        "still_in": [str(file) for file in left],
    }
    show.answer(text, value, as_json=as_json)


@app.command(epilog=options.example("standfast book merge ../laptop/standfast.db"))
def merge(
    other: Annotated[
        Path, typer.Argument(help="The other copy of the record book, or the folder it is in.")
    ],
    yes: Annotated[bool, typer.Option("--yes", help="Do it; else it is only told.")] = False,
    partly: Annotated[
        bool, typer.Option("--partly", help="Take in the rest when something contradicts.")
    ] = False,
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Take in what another copy of this record book holds, as a laptop that worked alone.

    The same entry twice is once. What contradicts this book is listed and stays in the other file;
    exit 1 when there is any. Nothing is changed without --yes.
    """
    from standfast.desk import books

    with options.desk(folder, by=by) as desk:
        show.remark(f"comparing {other} with {show.counted(desk.book.size(), 'entry')}")
        found = books.merge(desk, other, do=yes, partly=partly)
        left = books.not_reached(desk) if found.erased else ()
    done = yes and (partly or not found.held)
    contradict = "1 contradicts" if len(found.held) == 1 else f"{len(found.held)} contradict"
    counts = (
        f"{show.counted(found.added, 'entry')} {'added' if done else 'would be added'},"
        f" {found.seen} here already, {contradict} this book"
    )
    records = show.counted(found.records, "record")
    text = [
        *(f"{one.kind} of {one.at[:10]}, {one.entry}: {one.why}" for one in found.held),
        *(f"{there} there is somebody else here: {here}" for there, here in found.renamed),
        *(
            f"{one.person or 'the school'}: {one.what} changed in both; it stays as it is here"
            for one in found.kept
        ),
        *(f"the name of {ref} was erased there, and now here too" for ref in found.erased),
        *words.not_reached(left),
        counts,
        f"{records} of devices, and {found.records_held} for the office to settle",
    ]
    if not any((found.added, found.held, found.erased, found.records, found.records_held)):
        text.append("there is nothing to take in")
    elif not done:
        text.append("nothing was changed; say --yes" + (" and --partly" if found.held else ""))
    value = {"done": done, **asdict(found)}
    show.answer(text, value, as_json=as_json)
    raise typer.Exit(show.NO if found.held else show.YES)


Owner = Annotated[
    str,
    typer.Argument(
        metavar="ADDRESS",
        help="postgresql://OWNER@HOST/DATABASE: of whoever owns the database and is no superuser.",
    ),
]


@app.command(
    epilog=options.example("standfast book move postgresql://owner@localhost/books --role sandhof")
)
def move(
    address: Owner,
    role: Annotated[str, typer.Option(help="The role that keeps this school's book from now on.")],
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Move the record book from its file into a PostgreSQL database.

    Several schools can keep their books in one database, each seen by its own roles only.
    """
    from standfast.desk import moving

    moved = moving.move(folder, address, role, options.moment())
    entries = show.counted(moved.entries, "entry")
    text = [
        f"moved {entries}, root {moved.root.hex()[:16]}..., to {moved.address}",
        "  standfast.url        has this address; other computers need it beside school.yaml",
        f"  {moved.file.name:<20} is the book as it was, with names; delete it when all is well",
        "next: standfast book audit",
    ]
    value = {"entries": moved.entries, "root": moved.root.hex(), "address": moved.address}
    show.answer(text, value, as_json=as_json)


@app.command(epilog=options.example("standfast book tables postgresql://owner@localhost/books"))
def tables(address: Owner, as_json: options.Json = False) -> None:
    """Make the tables of a PostgreSQL database, or bring them up to date.

    After an update of standfast that says so; every school's book in it stays as it is.
    """
    from standfast.desk import moving

    moving.make_tables(address)
    show.answer("the tables are up to date", {"up_to_date": True}, as_json=as_json)
