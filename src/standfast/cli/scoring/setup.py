"""What a scoring starts from, and the three things it does with the person at the keyboard."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from standfast.model.evidence import Student
from standfast.model.rubric import Rubric
from standfast.model.sheet import Correction
from standfast.model.syllabus import Syllabus


@dataclass(frozen=True)
class Setup:
    """Which practical is scored, by whom, under what."""

    rubric: Rubric
    syllabus: Syllabus
    candidate: str
    candidate_name: str
    assessor: str
    practical: str
    began: datetime | None = None
    """When the lesson began, if that is known before; where it is taught, with its offset."""
    minutes: int = 60
    """How long the lesson is planned for."""
    students: tuple[Student, ...] | None = None
    """Codes and logs; asked for when empty."""
    paper: bool = False
    """Copied from paper: times are asked, the clock counts for nothing."""
    site: str | None = None
    corrects: Correction | None = None
    """The earlier sheet of this assessor that the new one takes the place of."""
    covers: tuple[str, ...] = ()
    """The criteria that are asked about beside incidents; all when empty."""
    resume: str = "standfast score"
    """The command that goes on with an unfinished sheet."""


class Ask(Protocol):
    """Shows a prompt and waits for one line."""

    def __call__(self, prompt: str, seconds: float | None = None, /) -> str | None:
        """The line typed, without its end; None when so many seconds went by first.

        Raises:
            EOFError: there is no more to read.
            KeyboardInterrupt: Ctrl-C.
        """


Say = Callable[[str], None]
"""Shows text of one or more lines."""

Clock = Callable[[], datetime]
"""This instant, where the lesson is taught, with its offset."""
