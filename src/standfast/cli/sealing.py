"""Commands about what is signed: sign, publish, trust, verify, head, prove."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standfast.cli import options, show
from standfast.cli.keys import Stdin, key_words
from standfast.cli.words import wrapped
from standfast.model.caution import CAUTION

if TYPE_CHECKING:
    from standfast.desk.checking import Checked, With
    from standfast.desk.giving import GivenOut
    from standfast.desk.opening import Desk
    from standfast.desk.unfinished import Left

SIGNS = {"yes": "+", "no": "x", "not known": "?"}

AGAIN = "The lists end after 31 days: publish again every month, and after each ruling."

Trust = Annotated[
    Path | None,
    typer.Option(
        "--trust-folder",
        metavar="FOLDER",
        help="Where imported trust files are kept; a folder of your own when left out.",
        envvar="STANDFAST_TRUST",
    ),
]


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    app.command(epilog=options.example("standfast sign LT1-2026-0016 --out ."))(sign)
    app.command(epilog=options.example("standfast publish --out site"))(publish)
    app.command(
        epilog=options.example("standfast trust keys/trust.json --fingerprint FINGERPRINT")
    )(trust)
    app.command(epilog=options.example("standfast head --out ."))(head)
    app.command(epilog=options.example("standfast prove --since head-2026-11-24-29.json --out ."))(
        prove
    )
    app.command(epilog=options.example("standfast verify signed-LT1-2026-0016.pdf --school ."))(
        verify
    )


def sign(
    out: Annotated[Path, typer.Option("--out", "-o", metavar="FOLDER", help="Where they go.")],
    wanted: Annotated[
        str | None,
        typer.Argument(metavar="NUMBER", help="The certificate's number, or who holds it."),
    ] = None,
    everything: Annotated[
        bool,
        typer.Option("--all", help="Every award that has not lapsed and has none that is signed."),
    ] = False,
    named: Annotated[
        bool,
        typer.Option(
            "--named", help="The holder agreed that her name stands in it, and not only a hash."
        ),
    ] = False,
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Sign a certificate that anybody can check for years without asking.

    Writes the certificate as JSON (W3C Verifiable Credential with Open Badges 3.0), and as PDF with
    that file and a receipt of the record book inside and a code to scan. That it was given out is
    entered in the record book.
    """
    from standfast.desk.giving import give_out, give_out_all
    from standfast.problems import StandfastError

    if (wanted is None) is not everything or (everything and named):
        raise StandfastError("name one certificate, or say --all; --named goes with one alone")
    with options.desk(folder, None, by) as desk:
        words = key_words(desk, from_stdin=passphrase_stdin)
        if everything:
            gave = give_out_all(desk, words, out, show.progress("certificates"))
        else:
            gave = give_out(desk, str(wanted), words, out, named=named)
    text = [
        *(line for one in gave.left for line in _left(one)),
        *(line for one in gave.made for line in _given(one)),
        *(line for why in gave.left_out for line in wrapped(why, "  ", "not signed: ")),
        *([f"next: standfast head --out {out}, for somebody outside to keep"] if gave.made else []),
    ]
    value = {
        "certificates": [
            {
                "file": str(one.at.file),
                "paper": str(one.at.paper),
                "entry": one.credential.entry,
                "issued": one.credential.issued.model_dump(mode="json"),
            }
            for one in gave.made
        ],
        "finished": [
            {"number": one.number, "file": str(one.at.file), "paper": str(one.at.paper)}
            for one in gave.left
            if not one.taken_back
        ],
        "not_signed": list(gave.left_out),
        "caution": CAUTION,
    }
    none = ["every award that may have one has a signed one"]
    show.answer([*(text or none), "", *wrapped(CAUTION)], value, as_json=as_json)


def _given(one: GivenOut) -> Iterator[str]:
    made = one.credential
    yield f"{one.at.paper}: {made.award.scope.title}, certificate {made.award.number}"
    yield f"  inside of it, and alone: {one.at.file}"
    yield f"  entered in the record book as {made.entry}, place {made.issued.place} of the lists"


def _left(one: Left) -> Iterator[str]:
    """What became of a certificate that a run had entered when it was stopped."""
    if one.taken_back:
        why = f"an earlier run that was stopped had entered it; {one.taken_back}"
        yield from wrapped(why, "  ", f"{one.number}: not put in its place: ")
        return
    yield f"{one.at.paper}: certificate {one.number}"
    yield f"  inside of it, and alone: {one.at.file}"
    yield "  an earlier run that was stopped had entered it; now it is in its place"


def publish(
    out: Annotated[
        Path,
        typer.Option("--out", "-o", metavar="FOLDER", help="What the web site shows lies there."),
    ],
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Write what the school puts on its public web site; do it every month.

    The lists of what was withdrawn or suspended end after 31 days, and an old one says nothing.
    Also: who the school is, its keys, and the page with which anybody checks a certificate in a
    browser. Files of these names are replaced. None tells a person's name or a number.
    """
    from standfast.desk.publishing import PAGE, publish

    with options.desk(folder) as desk:
        made = publish(desk, out, key_words(desk, from_stdin=passphrase_stdin))
    if made.base:
        where = f"They belong under {made.base}/ as they lie here, so that {made.base}/v checks."
    else:
        where = (
            f"The school has no site: hand on {PAGE}, the trust file and the lists as files;"
            f" {PAGE} opens from a disk, without network."
        )
    text = [*(str(file) for file in made.files), *wrapped(where), *wrapped(AGAIN)]
    if made.without_ending:
        text += wrapped(
            f"{made.without_ending} has no ending: let the web server say application/json for it."
        )
    value = {
        "files": [str(file) for file in made.files],
        "base": made.base,
        "without_ending": made.without_ending,
    }
    show.answer(text, value, as_json=as_json)


def trust(
    file: Annotated[Path, typer.Argument(help="The school's trust.json.")],
    fingerprint: Annotated[
        str | None,
        typer.Option(help="The fingerprint that the school printed or told; for its first file."),
    ] = None,
    trust_folder: Trust = None,
    as_json: options.Json = False,
) -> None:
    """Believe a school's keys from now on.

    Compare the fingerprint with the one on paper or on the school's own site: a key that comes
    only with a certificate proves nothing about who made it.
    """
    from standfast.desk.checking import import_trust

    found = import_trust(file, trust_folder or own_folder(), fingerprint)
    text = f"{found.file.name}, {found.file.issuer}: {show.counted(len(found.file.keys), 'key')}"
    value = {"issuer": found.file.issuer, "name": found.file.name, "by": found.by.thumbprint}
    show.answer(text, value, as_json=as_json)


def verify(  # noqa: PLR0913, PLR0917 - options, all named when typed
    wanted: Annotated[
        str,
        typer.Argument(
            metavar="FILE|CODE",
            help="The certificate as JSON or PDF; what the code on a paper says when scanned; or a"
            " head, a receipt or a growth file of a record book.",
        ),
    ],
    lists: Annotated[
        list[Path] | None,
        typer.Option("--list", metavar="FILE", help="A status list; may be given again."),
    ] = None,
    name: Annotated[
        str | None, typer.Option(help="Whose it is said to be, as she spells it.")
    ] = None,
    receipt: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="A receipt that it stands in the record book ('standfast prove')."
        ),
    ] = None,
    code: Annotated[
        str | None,
        typer.Option(
            help="What the code on the paper says when scanned: whether it is of this file."
        ),
    ] = None,
    kept: Annotated[
        Path | None,
        typer.Option(
            metavar="HEAD", help="The head that you kept: whether the book is still the same."
        ),
    ] = None,
    trust_folder: Trust = None,
    folder: Annotated[
        Path | None,
        typer.Option(
            "--school", "-s", metavar="FOLDER", help="Ask this school's record book and keys too."
        ),
    ] = None,
    as_json: options.Json = False,
) -> None:
    """Say what can be said of a signed certificate, or of a head: findings, not one word.

    Exit 0 when every question is answered with yes, 1 when one is answered with no or is not
    known. Without a list of the school's it is not known whether it was taken back.
    """
    from standfast.desk.checking import With, trusted_in

    with _maybe(folder) as desk:
        trusted = [one.file for one in trusted_in(trust_folder or own_folder())]
        if desk is not None:
            trusted += [one.file for one in trusted_in(desk.root / "keys")]
        against = With(trusted, lists or (), name, desk, receipt, code, kept)
        told = _checked(wanted, against, options.moment().now)
    text = [
        *([f"certificate {told.number}: {told.scope}"] if told.number else []),
        *(wrapped(told.says, "  ") if told.says else []),
        *(
            line
            for one in told.findings
            for line in wrapped(one.says, "      ", f"  {SIGNS[one.answer]} {one.question}: ")
        ),
        *(line for how in _to_know_more(told) for line in wrapped(how, "  ")),
        "",
        *wrapped(CAUTION),
    ]
    value = {
        "holds": told.holds,
        "number": told.number,
        "says": told.says,
        "findings": [
            {"question": one.question, "answer": one.answer, "says": one.says}
            for one in told.findings
        ],
        "caution": CAUTION,
    }
    show.answer(text, value, as_json=as_json)
    raise typer.Exit(show.YES if told.holds else show.NO)


def _to_know_more(told: Checked) -> Iterator[str]:
    """What whoever checks can do about what is not known for want of a file."""
    missing = {one.question: one.says for one in told.findings if one.answer == "not known"}
    if any("in no trust file" in says for says in missing.values()):
        yield (
            "To know whose key it is: ask the school for trust.json and for its fingerprint, then"
            " 'standfast trust trust.json --fingerprint FINGERPRINT'."
        )
    if missing.keys() & {"revocation", "suspension"}:
        yield (
            "To know whether it was taken back: ask the school for its newest lists, or take them"
            " from its site, and name each with --list."
        )


def _checked(wanted: str, against: With, now: datetime) -> Checked:
    """What can be said of a code, if it is one, else of the file of that name."""
    from standfast.desk.checking import check, check_code, is_code
    from standfast.problems import StandfastError

    if not is_code(wanted):
        return check(Path(wanted), against, now)
    if against.code is not None or against.receipt is not None:
        raise StandfastError("--code and --receipt go with the file of a certificate")
    return check_code(wanted, against, now)


def head(
    out: Annotated[Path, typer.Option("--out", "-o", metavar="FOLDER", help="Where it goes.")],
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Sign the record book as a whole, in one hash, for others to keep: a file, and a page.

    On each day on which certificates are given out: whoever keeps a copy can ask any time later
    whether anything before it was changed ('standfast prove --since').
    """
    from standfast.desk import heads, proving
    from standfast.desk.press import save

    with options.desk(folder) as desk:
        made = proving.head(desk, key_words(desk, from_stdin=passphrase_stdin))
        file = save(out, f"{heads.name_of(desk, made.content)}.json", made.content)
        page = heads.page(desk, made.content, file.name)
        paper = save(out, f"{file.stem}.pdf", page)
    text = [f"{file}: {made.says}", f"{paper}: the same on paper"]
    value = {"file": str(file), "paper": str(paper), "says": made.says, "caution": CAUTION}
    show.answer(text, value, as_json=as_json)


def prove(
    out: Annotated[Path, typer.Option("--out", "-o", metavar="FOLDER", help="Where it goes.")],
    entry: Annotated[
        str | None,
        typer.Argument(metavar="ENTRY", help="The entry's id, as 'sign' and 'history' tell it."),
    ] = None,
    since: Annotated[
        Path | None,
        typer.Option(metavar="HEAD", help="Instead: that nothing before this head was changed."),
    ] = None,
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Show an outsider that an entry stands in the record book, or that the book only grew.

    The file holds the entry, people as opaque ids, and its way up the tree to a signed head; it
    shows no other entry.
    """
    from standfast.desk import proving
    from standfast.desk.press import save
    from standfast.problems import StandfastError

    if (entry is None) is (since is None):
        raise StandfastError("name an entry, or a head with --since, and not both")
    with options.desk(folder) as desk:
        words = key_words(desk, from_stdin=passphrase_stdin)
        if since is not None:
            made, name = proving.prove_growth(desk, since, words), f"growth-{since.stem}.json"
        else:
            made = proving.prove_entry(desk, str(entry), words)
            name = f"receipt-{str(entry)[-12:]}.json"
        file = save(out, name, made.content)
    show.answer(f"{file}: {made.says}", {"file": str(file), "says": made.says}, as_json=as_json)


@contextmanager
def _maybe(folder: Path | None) -> Iterator[Desk | None]:
    """The desk of that school, if one is named."""
    if folder is None:
        yield None
        return
    with options.desk(folder) as desk:
        yield desk


def own_folder() -> Path:
    """Where trust files are kept by default, as the XDG Base Directory Specification says."""
    config = os.environ.get("XDG_CONFIG_HOME")
    return (Path(config) if config else Path.home() / ".config") / "standfast" / "trust"
