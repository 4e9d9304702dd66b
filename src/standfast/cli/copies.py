"""The commands that copy the record book: export, backup, book restore."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import book, options, show
from standfast.cli.keys import Stdin, passphrase
from standfast.cli.words import wrapped
from standfast.model.caution import CAUTION
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.desk.backups import Kept
    from standfast.desk.restoring import Restored


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    app.command(epilog=options.example("standfast export --out export"))(export)
    app.command(epilog=options.example("standfast backup --out sandhof.backup"))(backup)


def export(
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="A new folder.")],
    records: Annotated[
        bool,
        typer.Option(
            "--records", help="Everybody's competency record as PDF too; a second or two for each."
        ),
    ] = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Write everything as open files: JSON Lines, CSV, PDF.

    'standfast book restore' makes the same record book of them. Keys are never in it.
    """
    from standfast.desk.backups import export as export_all

    with options.desk(folder) as desk:
        watch = show.progress("entries"), show.progress("records printed")
        kept = export_all(desk, out, records=records, progress=watch[0], printing=watch[1])
    text = [
        _counted(kept),
        f"  for reading: {kept.place / 'about.txt'}, and tables in {kept.place / 'tables'}",
        *wrapped(PLAIN),
        "",
        *wrapped(CAUTION),
    ]
    show.answer(text, {**_value(kept), "caution": CAUTION}, as_json=as_json)


PLAIN = (
    "Names and contacts are in it as plain text, and the hashes of passwords: keep it as you keep"
    " the record book. The school's keys are not in it."
)


def backup(
    out: Annotated[
        Path,
        typer.Option(
            "--out", metavar="FILE", help="A new file, or a folder in which it gets a name."
        ),
    ],
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Keep everything in one file under a passphrase, read back before it counts.

    While others go on working. The school's keys are not in it, nor who is signed in.
    """
    from standfast.desk.backups import backup as back_up
    from standfast.desk.backups import new_file

    with options.desk(folder) as desk:
        new_file(desk, out)  # said before anybody types
        words = passphrase(from_stdin=passphrase_stdin, new=True)
        kept = back_up(desk, out, words, progress=show.progress("entries"))
    text = [
        _counted(kept),
        "  read back: every entry is there, and the root is that of the record book",
        *wrapped(APART),
    ]
    show.answer(text, {**_value(kept), "read_back": True}, as_json=as_json)


APART = (
    "Without the passphrase nobody can read it, you neither: keep the two apart. The school's keys"
    " are not in it ('standfast keys paper' shows them to write down)."
)


@book.app.command(
    epilog=options.example("standfast book restore sandhof.backup --into sandhof-again --until 250")
)
def restore(  # noqa: PLR0913, PLR0917 - options, all named when typed
    copy: Annotated[Path, typer.Argument(help="A backup, or the folder of an export.")],
    into: Annotated[
        Path,
        typer.Option(
            "--into",
            metavar="FOLDER",
            help="A new folder, or that of a school whose record book is gone.",
        ),
    ],
    until: Annotated[
        str | None,
        typer.Option(
            "--until",
            metavar="ENTRY",
            help="The last entry to take, by its number or its id; all when left out.",
        ),
    ] = None,
    forget_as_in: Annotated[
        list[Path] | None,
        typer.Option(
            "--forget-as-in",
            metavar="PLACE",
            help="Erase whoever was erased there since: a school's folder, a later copy, or a list"
            " (erased.txt); may be given again.",
        ),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(
            "--at",
            metavar="ADDRESS",
            help="Put the book into a PostgreSQL database: the address of its owner, as for 'book"
            " move'. The folder gets the rest.",
        ),
    ] = None,
    role: Annotated[
        str | None, typer.Option(help="With --at: the role that keeps the book from now on.")
    ] = None,
    passphrase_stdin: Stdin = False,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Make a record book from a backup or an export, of a file or of a database, in either.

    All of it is checked first, and no record book is ever overwritten.
    """
    from standfast.desk.erasures import erased_at, is_backup
    from standfast.desk.opened_copies import copy_at
    from standfast.desk.restoring import Server, Wanted, book_alone
    from standfast.desk.restoring import restore as make

    if (at is None) is not (role is None):
        raise StandfastError("--at says where the database is and --role who keeps the book: both")
    if not copy.exists():
        raise StandfastError(f"{copy}: there is no such file or folder; name a backup or an export")
    locked = copy.is_file() or any(map(is_backup, forget_as_in or ()))
    book_alone(into, at_an_address=at is not None)  # said before anybody types
    words = passphrase(from_stdin=passphrase_stdin) if locked else ""
    last = int(until) if until and _NUMBER.fullmatch(until) else until
    again = [ref for place in forget_as_in or () for ref in erased_at(place, words)]
    watch = show.progress("entries, each read twice")
    server = Server(at, role) if at is not None and role is not None else None
    wanted = Wanted(last, again, server)
    made = make(copy_at(copy, words), into, options.moment(by=by), wanted, watch)
    show.answer(_restored(made), _restored_value(made), as_json=as_json)
    raise typer.Exit(show.YES if made.audit.clean else show.NO)


_NUMBER = re.compile(r"[0-9]{1,15}")


def _counted(kept: Kept) -> str:
    told = kept.manifest
    return f"{kept.place}: {show.counted(told.entries, 'entry')}, root {told.root[:16]}..."


def _value(kept: Kept) -> dict[str, Any]:
    told = kept.manifest
    return {
        "place": str(kept.place),
        "entries": told.entries,
        "root": told.root,
        "made": told.made.isoformat(),
        "files": [one.name for one in told.files],
        "for_reading": [str(one) for one in kept.others],
    }


def _later(left_out: Mapping[str, int]) -> Iterator[str]:
    """How many entries, and how many lines of the other files of an open copy."""
    for part, count in sorted(left_out.items(), key=lambda one: one[0] != "journal"):
        line = f"{show.counted(count, 'line')} of {part}"
        yield show.counted(count, "entry") if part == "journal" else line


def _restored(made: Restored) -> list[str]:
    audit = made.audit
    copied = f"copied {made.manifest.made:%Y-%m-%d %H:%M} UTC"
    entries = show.counted(audit.size, "entry")
    lines = [f"{made.place}: {entries}, root {audit.root.hex()[:16]}...; {copied}"]
    if made.address is not None:
        lines.append(f"  the book is at {made.address}, as {made.place / 'standfast.url'} says")
    if made.there_already:
        lines.append("  it was there already, as a run that was stopped leaves it")
    lines += [f"  {fault}" for fault in audit.faults]
    if made.left_out:
        lines.append(f"  left out as later: {', '.join(_later(made.left_out))}")
    if made.entered:
        lines.append(f"  entered: names as they are in the copy, {made.entered}")
    if made.forgotten:
        lines.append(f"  erased again: names of {len(made.forgotten)}, by what was erased since")
    return [*lines, *wrapped(NOT_IN_IT), f"next: standfast book audit --school {made.place}"]


NOT_IN_IT = (
    "Whoever was erased after it was copied must be erased again: --forget-as-in says by which book"
    " or list. Everybody signs in again. Keys are in no copy ('standfast keys bring' takes one from"
    " paper), nor the files in candidates/."
)


def _restored_value(made: Restored) -> dict[str, Any]:
    return {
        "place": str(made.place),
        "address": made.address,
        "there_already": made.there_already,
        "entries": made.audit.size,
        "root": made.audit.root.hex(),
        "copied": made.manifest.made.isoformat(),
        "left_out": made.left_out,
        "entered": made.entered,
        "forgotten": list(made.forgotten),
        "faults": [str(fault) for fault in made.audit.faults],
    }
