"""The command `standfast`: gathers the commands and turns errors into words in one place."""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer
import typer.exceptions

import standfast
from standfast.cli import awards, book, definitions, demo, practicals, printing, show
from standfast.problems import StandfastError

INTERRUPTED = 130
"""What typer gives back for Ctrl-C: 128 plus the number of the signal."""

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help=(
        "Assess, certify and keep current the people who teach movement.\n\n"
        "It records what was seen on certain days. It is no licence, no medical clearance and no"
        " approval of rigging, mats or a venue. Local law, the equipment maker's limits, the"
        " insurer's terms and a qualified rigger's judgement come first. When in doubt, the"
        " student stays on the ground."
    ),
    epilog="Example: standfast demo",
)

for module in (definitions, practicals, awards, demo):
    module.add_to(app)
app.add_typer(printing.app, name="print")
app.add_typer(book.app, name="book")


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
    """Run one command line and give its exit code; what stops it is said in one place."""
    try:
        code = app(arguments, prog_name="standfast", standalone_mode=False)
    except (typer.Abort, KeyboardInterrupt):
        code = INTERRUPTED
    except typer.exceptions.TyperException as error:
        show.remark(error.format_message())
        show.remark("standfast --help, or --help after a command, says how")
        code = show.COULD_NOT
    except StandfastError as error:
        code = show.failure(error, as_json="--json" in arguments)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = show.COULD_NOT
    if code == INTERRUPTED:
        show.remark("stopped; what was kept until then stays kept")
        code = show.COULD_NOT
    return int(code or show.YES)
