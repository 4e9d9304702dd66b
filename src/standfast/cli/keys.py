"""The commands `keys`: the school's signing keys, made and changed."""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer
import typer.core

from standfast.cli import listing, options, show
from standfast.cli.words import wrapped
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.desk.keyfiles import KeyMade
    from standfast.desk.opening import Desk

app = typer.Typer(
    cls=listing.Listed,
    no_args_is_help=True,
    help="Make and change the keys that sign the school's certificates.",
    epilog=options.example("standfast keys show"),
)

Stdin = Annotated[
    bool, typer.Option("--passphrase-stdin", help="Read the passphrase from standard input.")
]

HYPHEN_FIRST = re.compile(r"-[\w-]{42}", re.ASCII)
"""A fingerprint that looks like an option."""

IN_A_SAFE = (
    "The standby key belongs on paper and in a safe, not on this machine: 'standfast keys paper"
    " --standby' shows it as text to write down; then take its file away. Keep passphrase and files"
    " apart. A backup of the record book holds neither."
)


@app.command(
    epilog=options.example("standfast keys make --issuer https://sandhof.example/issuer.json")
)
def make(
    issuer: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="An https address of the school's own, by which it is known, such as"
            " https://school.example/issuer.json; without one the key itself is the name, and a"
            " new key is a new name.",
        ),
    ] = None,
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Make the school's first key and a standby; the passphrase is asked for."""
    from standfast.desk import keyring

    with options.desk(folder) as desk:
        keyring.check_can_make(desk, issuer)
        made = keyring.make(desk, issuer, passphrase(from_stdin=passphrase_stdin, new=True))
        ring = keyring.keyring(desk)
    text = [
        *(_said(one) for one in made),
        f"others import {ring.folder / keyring.TRUST}, and compare the fingerprint",
        *wrapped(IN_A_SAFE),
    ]
    show.answer(text, [_value(one) for one in made], as_json=as_json)


@app.command("show", epilog=options.example("standfast keys show"))
def show_keys(folder: options.Folder = options.HERE, as_json: options.Json = False) -> None:
    """List the school's keys, with the fingerprint that others compare."""
    from standfast.desk.keyring import keyring
    from standfast.seal.keys import PublicKey

    with options.desk(folder) as desk:
        ring = keyring(desk)
    signing, rows, values = ring.signing.key, [], []
    for one in ring.signed.file.keys:
        stands = (
            "revoked"
            if one.revoked
            else "standby"
            if one.standby
            else "signs"
            if one.key == signing
            else "retired"
        )
        fingerprint = PublicKey.of(one.key).thumbprint
        here = "here" if ring.file_of(one.key).exists() else "elsewhere"
        rows.append((fingerprint, stands, one.since[:10], here))
        values.append({**one.model_dump(mode="json"), "fingerprint": fingerprint, "stands": stands})
    text = [
        f"{ring.signed.file.name}, {ring.signed.file.issuer}",
        *show.table(rows, ("fingerprint", "stands", "since", "secret half")),
    ]
    value = {"issuer": ring.signed.file.issuer, "keys": values}
    show.answer(text, value, as_json=as_json)


@app.command(epilog=options.example("standfast keys rotate"))
def rotate(
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Make a new key for what is signed from now on; what was signed before stays good."""
    from standfast.desk import rekeying

    with options.desk(folder) as desk:
        made = rekeying.rotate(desk, key_words(desk, from_stdin=passphrase_stdin))
    text = [_said(made), "publish anew ('standfast publish'): those who import it believe the key"]
    show.answer(text, _value(made), as_json=as_json)


@app.command(epilog=options.example("standfast keys lost"))
def lost(
    stolen: Annotated[
        bool, typer.Option("--stolen", help="Somebody else may have it: revoke it as well.")
    ] = False,
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Let the standby key take the place of the key that signs, which is lost or stolen.

    Bring the standby key's file back first. Lost, and nobody has it: what it signed stays good.
    Stolen: whoever has it can date a signature back, so from now on what it signed counts only as
    far as the record book shows it; issue those certificates anew.
    """
    from standfast.desk import rekeying

    with options.desk(folder) as desk:
        words = key_words(desk, from_stdin=passphrase_stdin, standby=True)
        made = rekeying.replace_lost(desk, words, stolen=stolen)
    text = [
        *(_said(one) for one in made),
        "publish anew: 'standfast publish'",
        *wrapped(IN_A_SAFE),
    ]
    show.answer(text, [_value(one) for one in made], as_json=as_json)


class OfAKey(typer.core.TyperCommand):
    """A command that is given a fingerprint: one in 64 begins with a hyphen, as an option does."""

    def parse_args(
        self,
        ctx: Any,  # noqa: ANN401 - typer keeps its own classes to itself
        args: list[str],
    ) -> list[str]:
        """Options first, and after "--" whatever can only be a fingerprint."""
        meant = [one for one in args if HYPHEN_FIRST.fullmatch(one)] if "--" not in args else []
        rest = [one for one in args if one not in meant]
        return super().parse_args(ctx, [*rest, "--", *meant] if meant else rest)


@app.command(cls=OfAKey, epilog=options.example("standfast keys revoke FINGERPRINT"))
def revoke(
    fingerprint: Annotated[str, typer.Argument(help="The key's, as 'standfast keys show' has it.")],
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Revoke a retired key or the standby: somebody else may have it.

    What it signed counts from now on only as far as the record book shows it; sign those
    certificates anew. In the place of a standby another one is made. The key that signs now is
    revoked with 'standfast keys lost --stolen'.
    """
    from standfast.desk import rekeying

    with options.desk(folder) as desk:
        rekeying.to_revoke(desk, fingerprint)
        words = key_words(desk, from_stdin=passphrase_stdin)
        made = rekeying.revoke(desk, fingerprint, words)
    new = [made] if made else []
    text = [
        f"revoked: {fingerprint}",
        *(_said(one) for one in new),
        "publish trust.json anew",
        *(wrapped(IN_A_SAFE) if new else ()),
    ]
    show.answer(text, [_value(one) for one in new], as_json=as_json)


@app.command(epilog=options.example("standfast keys paper --standby"))
def paper(
    standby: Annotated[bool, typer.Option("--standby", help="Of the standby key.")] = False,
    passphrase_stdin: Stdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Show a secret key as text for a sheet of paper: whoever reads it can sign."""
    from standfast.desk.keyring import paper_copy

    with options.desk(folder) as desk:
        words = key_words(desk, from_stdin=passphrase_stdin, standby=standby)
        secret = paper_copy(desk, words, standby=standby)
    spaced = " ".join(secret[at : at + 8] for at in range(0, len(secret), 8))
    show.answer(
        [spaced, "Write it down, read it back, and clear the screen."], secret, as_json=as_json
    )


@app.command(epilog=options.example("standfast keys bring"))
def bring(
    passphrase_stdin: Annotated[
        bool,
        typer.Option(
            "--passphrase-stdin", help="Read the secret, then the passphrase, from standard input."
        ),
    ] = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Bring a key back from its paper copy, into a file under a passphrase."""
    from standfast.desk import keyring

    with options.desk(folder) as desk:
        keyring.keyring(desk)  # said before anybody types 48 letters
        if passphrase_stdin:
            secret = _line()
        else:
            secret = str(typer.prompt("The text on the paper", hide_input=True, err=True))
        words = passphrase(from_stdin=passphrase_stdin, new=True)
        made = keyring.bring(desk, secret, words)
    show.answer(_said(made), _value(made), as_json=as_json)


def key_words(desk: Desk, *, from_stdin: bool, standby: bool = False) -> str:
    """The passphrase of a key of the school's; asked for only when the key is here.

    Raises:
        StandfastError: the school has no keys, its file is not here, or nobody can type.
    """
    from standfast.desk.keyring import check_at_hand

    check_at_hand(desk, standby=standby)
    return passphrase(from_stdin=from_stdin)


def passphrase(*, from_stdin: bool, new: bool = False) -> str:
    """The passphrase, from standard input or asked for without showing it."""
    if from_stdin:
        return _line()
    if not sys.stdin.isatty():
        raise StandfastError(
            "nobody is there to type the passphrase; give it as a line, with --passphrase-stdin"
        )
    return str(typer.prompt("Passphrase", hide_input=True, confirmation_prompt=new, err=True))


def _line() -> str:
    """A line of standard input."""
    try:
        return sys.stdin.readline().rstrip("\r\n")
    except UnicodeDecodeError:
        raise StandfastError("what was typed is no UTF-8; type it once more") from None


def _said(one: KeyMade) -> str:
    what = "standby key" if one.standby else "key"
    return f"{what} {one.file.name}, fingerprint {one.fingerprint}"


def _value(one: KeyMade) -> dict[str, Any]:
    return {"file": str(one.file), "fingerprint": one.fingerprint, "standby": one.standby}
