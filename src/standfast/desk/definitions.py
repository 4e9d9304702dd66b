"""Checking what a school has written down, and finding the text that a question is about."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.opening import Desk
from standfast.model.rubric import Rubric
from standfast.model.syllabus import Syllabus
from standfast.problems import BadInput, NotFound, Problem

if TYPE_CHECKING:
    from standfast.files.folder import Definitions


@dataclass(frozen=True)
class Checked:
    """What a check found."""

    files: int
    rubrics: tuple[str, ...]
    syllabuses: tuple[str, ...]
    people: int
    sheets: int
    problems: tuple[Problem, ...]


def check(paths: Sequence[Path]) -> Checked:
    """Every fault of every file named, and of those in the folders named, across files too."""
    from standfast.files.folder import read_paths  # noqa: PLC0415 - only where used

    found = read_paths(paths)
    return Checked(
        files=found.files,
        rubrics=tuple(f"{p.noun.id} version {p.noun.version}" for p in found.rubrics),
        syllabuses=tuple(f"{p.noun.id} version {p.noun.version}" for p in found.syllabuses),
        people=len(found.people),
        sheets=len(found.sheets),
        problems=tuple(sorted({*found.problems, *_meaning(found)})),
    )
