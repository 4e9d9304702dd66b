"""The options that many commands share, and what they become."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.desk.opening import Desk, Moment

Folder = Annotated[
    Path,
    typer.Option(
        "--school", "-s", metavar="FOLDER", help="The school's folder.", envvar="STANDFAST_SCHOOL"
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Answer as JSON.")]
On = Annotated[
    str | None,
    typer.Option(
        "--on",
        metavar="DATE",
        help="The day the question is about, 2026-03-01; today when left out.",
    ),
]
By = Annotated[
    str | None,
    typer.Option(
        "--by",
        metavar="WHO",
        help="Who is doing this; the login name when left out.",
        envvar="STANDFAST_BY",
    ),
]

HERE = Path()


def day(text: str | None, option: str = "--on") -> date | None:
    """The day an option names, or None.

    Raises:
        StandfastError: no such day.
    """
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise StandfastError(f"{option} {text}: no such day; write it as 2026-03-01") from None


def moment(on: str | None = None, by: str | None = None) -> Moment:
    """This moment.  Clock, login name and randomness are read here and passed inward."""
    from standfast.desk.opening import Moment

    login = by or os.environ.get("USER") or os.environ.get("LOGNAME") or "office"
    return Moment(datetime.now(timezone.utc), login, secrets.token_bytes, day(on))


@contextmanager
def desk(folder: Path, on: str | None = None, by: str | None = None) -> Iterator[Desk]:
    """The desk of the school in that folder, now."""
    from standfast.desk.opening import open_desk

    with open_desk(folder, moment(on, by)) as opened:
        yield opened
