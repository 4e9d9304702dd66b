"""Where pages come from and where they go: templates, a printer, files in a folder."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.opening import Desk
from standfast.desk.schools import shipped
from standfast.in_place import put_in_place
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.paper.pdf import Printer


def folders(desk: Desk) -> tuple[Path, ...]:
    """Where templates are looked for: the school's own folder, then the shipped one."""
    own = desk.root / "templates"
    return (own, shipped("templates")) if own.is_dir() else (shipped("templates"),)


def printer(desk: Desk) -> Printer:
    """A printer with the school's templates."""
    from standfast.paper.pdf import Printer

    return Printer(folders(desk))


def in_a_name(text: str) -> str:
    """The text as it may stand in a file's name."""
    return re.sub(r"[^A-Za-z0-9]+", "-", text).strip("-")


def make_folder(out: Path, option: str = "--out") -> None:
    """Makes the folder where there is none; `option` is the one that named it.

    Raises:
        StandfastError: it cannot be made.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StandfastError(f"{out}: {error.strerror}; {another_folder(option)}") from None


def save(out: Path, name: str, page: bytes, option: str = "--out") -> Path:
    """Writes the page beside its place first, so that no half page is ever there.

    `option` is the one that named the folder, for the words when it cannot be written.

    Raises:
        StandfastError: it cannot be.
    """
    make_folder(out, option)
    put_in_place(out / name, page, another_folder(option))
    return out / name


def another_folder(option: str) -> str:
    """What mends a folder in which nothing can be written."""
    return f"name another folder with {option}"
