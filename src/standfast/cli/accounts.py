"""The commands `account`: who may sign in to the web pages."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from standfast.cli import listing, options, show
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.model.account import Account, Role

app = typer.Typer(
    cls=listing.Listed,
    no_args_is_help=True,
    help="Say who may sign in to the web pages, and what for.",
    epilog=options.example("standfast account list"),
)

Login = Annotated[str, typer.Argument(help="The login: lower case, digits, single hyphens.")]
Roles = Annotated[
    list[str] | None,
    typer.Option(
        "--role",
        help="What the account is for: assessor, certifier, lead, office or reader; may be given"
        " again.",
    ),
]
Stdin = Annotated[
    bool, typer.Option("--password-stdin", help="Read the password from standard input.")
]
Pin = Annotated[
    bool,
    typer.Option("--pin", help="Ask for a PIN, with which she confirms on a shared device."),
]
PinStdin = Annotated[
    bool,
    typer.Option(
        "--pin-stdin", help="Read the PIN from standard input, after the password if that is too."
    ),
]


@app.command(
    epilog=options.example(
        "standfast account add hana --person hana-dvorakova --role assessor --role lead"
    )
)
def add(
    login: Login,
    role: Roles = None,
    person: Annotated[
        str | None, typer.Option(help="Who it is in the record book; assessors and certifiers are.")
    ] = None,
    password_stdin: Stdin = False,
    pin: Pin = False,
    pin_stdin: PinStdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Make an account; the password is asked for."""
    from standfast.desk.access import add_account

    roles = _roles(role or [])
    with options.desk(folder) as desk:
        password = _password(from_stdin=password_stdin)
        new_pin = _pin(from_stdin=pin_stdin) if pin or pin_stdin else None
        made = add_account(desk, login, roles, password, person=person, pin=new_pin)
    words = f"{made.login} may sign in, as {', '.join(made.roles)}"
    show.answer(words, _value(made), as_json=as_json)


@app.command(epilog=options.example("standfast account change hana --role assessor --role lead"))
def change(
    login: Login,
    role: Roles = None,
    password: Annotated[bool, typer.Option("--password", help="Ask for a new password.")] = False,
    password_stdin: Stdin = False,
    pin: Pin = False,
    pin_stdin: PinStdin = False,
    folder: options.Folder = options.HERE,
    as_json: options.Json = False,
) -> None:
    """Change roles, password or PIN; whoever is signed in with it must do so again."""
    from standfast.desk.access import change_account

    roles = None if role is None else _roles(role)
    new = _password(from_stdin=password_stdin) if password or password_stdin else None
    new_pin = _pin(from_stdin=pin_stdin) if pin or pin_stdin else None
    if roles is None and new is None and new_pin is None:
        raise StandfastError("nothing to change; name roles with --role, or --password or --pin")
    with options.desk(folder) as desk:
        change_account(desk, login, roles=roles, password=new, pin=new_pin)
        found = desk.book.access.find(login)
    show.answer(f"{login} is changed", _value(found[0]) if found else None, as_json=as_json)


@app.command(epilog=options.example("standfast account close hana"))
def close(
    login: Login, folder: options.Folder = options.HERE, as_json: options.Json = False
) -> None:
    """Close an account: nobody comes in with it any more."""
    with options.desk(folder) as desk:
        desk.book.access.close(login, desk.moment.now)
        found = desk.book.access.find(login)
    show.answer(f"{login} is closed", _value(found[0]) if found else None, as_json=as_json)


@app.command("list", epilog=options.example("standfast account list"))
def list_accounts(folder: options.Folder = options.HERE, as_json: options.Json = False) -> None:
    """List the accounts."""
    with options.desk(folder) as desk:
        found = desk.book.access.all()
    rows = [
        (one.login, one.person or "", ", ".join(one.roles), "closed" if one.closed else "")
        for one in found
    ]
    words = show.table(rows, ("login", "person", "roles", "")) if rows else ["no account yet"]
    show.answer(words, [_value(one) for one in found], as_json=as_json)


def _roles(named: list[str]) -> list[Role]:
    from standfast.model.account import ROLES
    from standfast.problems import nearest

    wrong = [f"no role '{one}'; {nearest(one, ROLES)}" for one in named if one not in ROLES]
    if wrong:
        raise StandfastError("\n".join(wrong))
    return [role for role in ROLES if role in named]


def _password(*, from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    return str(typer.prompt("Password", hide_input=True, confirmation_prompt=True, err=True))


def _pin(*, from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    return str(typer.prompt("PIN", hide_input=True, confirmation_prompt=True, err=True))


def _value(account: Account) -> dict[str, Any]:
    return account.model_dump(mode="json")
