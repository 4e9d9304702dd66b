"""The command `standfast`: gathers the commands of all nouns."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache
from typing import Annotated, Any

import typer
import typer.main

import standfast
from standfast.cli import (
    accounts,
    appeals,
    assessors,
    awards,
    book,
    calibrating,
    comparing,
    copies,
    definitions,
    demo,
    federation,
    forecast,
    handing,
    keys,
    listing,
    options,
    outside,
    planning,
    practicals,
    printing,
    privacy,
    rulings,
    running,
    sealing,
    serving,
    show,
    standings,
)
from standfast.model.caution import caution

app = typer.Typer(
    cls=listing.Top,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help=(
        "Assess, certify and keep current the people who teach movement.\n\n"
        + caution("It records what was seen on certain days.")
    ),
    epilog=options.example("standfast demo"),
)

for module in (
    *(definitions, practicals, awards, standings, rulings, appeals, outside, assessors),
    *(calibrating, comparing, planning, forecast, sealing, handing, copies, serving, demo),
):
    module.add_to(app)
privacy.add_to(book.app)
app.add_typer(printing.app, name="print")
app.add_typer(book.app, name="book")
app.add_typer(federation.app, name="federation")
app.add_typer(accounts.app, name="account")
app.add_typer(keys.app, name="keys")


def _version(*, wanted: bool) -> None:
    if wanted:
        show.answer(f"standfast {standfast.__version__}", None, as_json=False)
        raise typer.Exit


@app.callback()
def _top(
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            callback=lambda v: _version(wanted=v),
            is_eager=True,
            help="Say the version.",
        ),
    ] = False,
) -> None:
    """Options of the command as a whole."""


def main() -> None:
    """Run the command; exit 0 done and yes, 1 the answer is no, 2 could not be done."""
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run one command line and give its exit code."""
    return running.run(_commands(), arguments)


@cache
def _commands() -> Callable[..., Any]:
    """The commands, made once of what they take: tests run thousands of command lines."""
    return typer.main.get_command(app)
