"""What a copy of a record book says of itself, so that it can be checked before it is used."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, StringConstraints

from standfast.model.base import Count, Hash, Line, Moment, Noun, Whole

COPY_FORMAT = 1
"""Of the files of a copy; one of a later format is refused."""

BOOK, SCHOOL = "book/", "school/"
"""What a name in a copy begins with: a part of the record book, or a file of the school."""


def inside(name: str) -> str:
    """The name, which stays inside the copy on every system.

    Raises:
        ValueError: it does not.
    """
    steps = name.split("/")
    odd = any(not step or step.startswith(".") or step != step.strip() for step in steps)
    if odd or "\\" in name or ":" in name or not name.startswith((BOOK, SCHOOL)):
        raise ValueError(f"'{name}' is no name of a file in a copy of a record book")
    return name


class Carried(Noun):
    """A file of the copy."""

    name: Annotated[str, StringConstraints(max_length=1000), AfterValidator(inside)]
    """With `/` between folders."""
    bytes: Whole
    sha256: Hash


class Manifest(Noun):
    """What is in a copy of a record book, and what the tree over its journal is."""

    standfast: Literal["record book"]
    format: Count
    book_format: Count
    school: Line | None = None
    """Its name."""
    made: Moment
    entries: Whole
    root: Hash
    files: tuple[Carried, ...]
    """In the order in which they are read."""
