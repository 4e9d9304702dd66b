"""The command `serve`: hands over to the program that serves the web pages."""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

from standfast.cli import options, show


def add_to(app: typer.Typer) -> None:
    """Adds the command."""
    app.command(epilog=options.example("standfast serve --port 8000"))(serve)


def serve(
    folder: options.Folder = options.HERE,
    host: Annotated[
        str, typer.Option(help="Where to listen; only this machine when left out.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="On which port; 0 takes one.")] = 8000,
    log: Annotated[
        bool,
        typer.Option(
            "--log",
            help="Write a line of JSON to standard error for each request: no name, no content.",
        ),
    ] = False,
    on: options.On = None,
    as_json: options.Json = False,
) -> None:
    """Serve the web pages until Ctrl-C.

    Phones and tablets need HTTPS in front of it, or they cannot score without network: README says
    how. Accounts are made with 'standfast account add'. Programs on this machine find counts of
    requests at /metrics.
    """
    options.day(on)
    with options.desk(folder) as desk:
        if all(one.closed for one in desk.book.access.all()):
            show.remark("no account yet: make one with 'standfast account add'")
    more = (
        *(("--on", on) if on else ()),
        *(("--json",) if as_json else ()),
        *(("--log",) if log else ()),
    )
    program = [sys.executable, "-m", "standfast.web", str(folder), host, str(port), *more]
    sys.stdout.flush()
    # The command line does not know the pages; Ctrl-C and signals reach the server itself.
    os.execv(program[0], program)  # noqa: S606 - our own program, no shell
