"""Running one command line: what stops it becomes words and an exit code in one place."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import Any

import typer
import typer.exceptions

from standfast.cli import show
from standfast.problems import StandfastError

INTERRUPTED = 130
"""What typer gives back for Ctrl-C: 128 plus the number of the signal."""


def run(app: Callable[..., Any], arguments: list[str]) -> int:
    """Runs one command line and gives its exit code."""
    try:
        code = app(arguments, prog_name="standfast", standalone_mode=False)
    except (typer.Abort, KeyboardInterrupt):
        code = INTERRUPTED
    except typer.exceptions.TyperException as error:
        told = StandfastError(
            f"{error.format_message()}\nstandfast --help, or --help after a command, says how"
        )
        code = show.failure(told, as_json="--json" in arguments)
    except StandfastError as error:
        code = show.failure(error, as_json="--json" in arguments)
    except ValueError as error:
        code = show.failure(_does_not_fit(error), as_json="--json" in arguments)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = show.COULD_NOT
    if code == INTERRUPTED:
        show.remark("stopped; what was kept until then stays kept")
        code = show.COULD_NOT
    return int(code or show.YES)


def _does_not_fit(error: ValueError) -> StandfastError:
    """A noun that refused what was typed, in words; any other error goes on as it is."""
    from pydantic import ValidationError

    from standfast.files.shape import in_words

    if not isinstance(error, ValidationError):
        raise error
    faults = "".join(f"\n  {fault}" for fault in in_words(error))
    return StandfastError(f"this cannot be entered:{faults}")
