"""The options that many commands share, and what they become."""

from __future__ import annotations

import os
import secrets
from datetime import date, datetime, timezone
from pathlib import Path
from typing import Annotated

import typer

from standfast.problems import StandfastError

Folder = Annotated[
    Path,
    typer.Option("--school", "-s", help="The school's folder.", envvar="STANDFAST_SCHOOL"),
]
Json = Annotated[bool, typer.Option("--json", help="Answer as JSON.")]
On = Annotated[
    str | None,
    typer.Option("--on", metavar="DATE", help="The day the question is about, 2026-03-01; default today."),
]
By = Annotated[
    str | None,
    typer.Option("--by", metavar="PERSON", help="Who is doing this; default the login name.", envvar="STANDFAST_BY"),
]

HERE = Path()


def day(text: str | None) -> date | None:
    """The day an option names, or None.

    Raises:
        StandfastError: no such day.
    """
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise StandfastError(f"--on {text}: no such day; write it as 2026-03-01") from None


def now() -> datetime:
    """This instant.  The clock is read here and passed inward."""
    return datetime.now(timezone.utc)


def random_bytes(count: int) -> bytes:
    """Random bytes.  Randomness is read here and passed inward."""
    return secrets.token_bytes(count)


def login() -> str:
    """The login name of whoever types, for entries that nobody signs by name."""
    return os.environ.get("USER") or os.environ.get("LOGNAME") or "office"
