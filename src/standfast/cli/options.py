"""The options that many commands share, and what they become."""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.desk.knowing import Known
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
AsKnown = Annotated[
    str | None,
    typer.Option(
        "--as-known",
        metavar="DATE",
        help="Leave out what was entered after this day; for a past --on, that day when left out.",
    ),
]
TopUp = Annotated[
    bool,
    typer.Option("--top-up", help="Only what is new since the version of the award that is held."),
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
FIRST_YEAR, LAST_YEAR = 1900, 2999
"""Of a day that an option names: whoever counts periods from it stays within the calendar."""

_PARTS = re.compile(r'(?:--[\w-]+ (?!--))?(?:[^\s"]|"[^"]*")+')
"""Words of a command line, an option with its value; what is between quotes is one."""
EXAMPLE_WIDTH = 76
"""Columns of a line of an example, so that with its indent it fits a terminal of 80."""


def example(line: str) -> str:
    """The end of a command's help: an example that can be typed as it stands.

    It works in the school that `standfast demo` builds.  A long one goes on in another line, as a
    shell reads it; no word is broken, and no option parted from its value.
    """
    lines = [""]
    for word in _PARTS.findall(f"Example: {line}"):
        if len(lines[-1]) + len(word) + 3 > EXAMPLE_WIDTH:
            lines[-1] += " \\"
            lines.append("   ")
        lines[-1] += f" {word}" if lines[-1] else word
    return "\b\n" + "\n".join(lines)


def day(text: str | None, option: str = "--on") -> date | None:
    """The day an option names, or None.

    Raises:
        StandfastError: no such day, or one from which no period could be counted.
    """
    if text is None:
        return None
    try:
        named = date.fromisoformat(text)
    except ValueError:
        raise StandfastError(f"{option} {text}: no such day; write it as 2026-03-01") from None
    if not FIRST_YEAR <= named.year <= LAST_YEAR:
        raise StandfastError(
            f"{option} {text}: lies outside the years {FIRST_YEAR} to {LAST_YEAR};"
            " write it as 2026-03-01"
        )
    return named


def moment(on: str | None = None, by: str | None = None) -> Moment:
    """This moment.  Clock, login name and randomness are read here and passed inward."""
    from standfast.desk.opening import Moment

    login = by or os.environ.get("USER") or os.environ.get("LOGNAME") or "office"
    return Moment(datetime.now(timezone.utc), login, secrets.token_bytes, day(on))


@dataclass(frozen=True)
class When:
    """The days that a question names."""

    on: str | None = None
    as_known: str | None = None


@contextmanager
def question(
    folder: Path, when: When, *, by: str | None = None, at_the_time: bool = True
) -> Iterator[Known]:
    """The desk of the school in that folder, with what was known on the day that counts.

    Says on stderr when something may be left out that nobody asked to leave out.
    """
    from standfast.cli import show
    from standfast.desk.knowing import as_known

    named = day(when.as_known, "--as-known")
    with (
        desk(folder, when.on, by) as here,
        as_known(here, named, at_the_time=at_the_time) as known,
    ):
        if known.until and named is None:
            show.remark(
                f"as the book stood on {known.until}; --as-known {here.calendar_day} answers with"
                " what was entered later too"
            )
        yield known


@contextmanager
def desk(folder: Path, on: str | None = None, by: str | None = None) -> Iterator[Desk]:
    """The desk of the school in that folder, now."""
    from standfast.desk.opening import open_desk

    with open_desk(folder, moment(on, by)) as opened:
        yield opened
