"""The moment of asking: what is known, what second of the lesson it is, and what a line gave."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from standfast.cli.scoring.entries import Event
from standfast.cli.scoring.lesson import Lesson
from standfast.cli.scoring.state import State


@dataclass(frozen=True)
class Now:
    """What a question needs to be shown and to understand a line."""

    lesson: Lesson
    state: State
    moment: datetime
    second: int | None = None
    """The second of the lesson; None when the lesson does not run or times are asked."""

    @property
    def by_hand(self) -> bool:
        """Whether times are asked because the sheet is copied from paper."""
        return self.lesson.opened.paper


@dataclass(frozen=True)
class Taken:
    """What a line gave: entries to keep, and remarks about them."""

    events: tuple[Event, ...] = ()
    says: tuple[str, ...] = ()


class NotUnderstood(Exception):  # noqa: N818 - the text says what is expected
    """A line that is none of what is expected; nothing was kept and nothing lost."""


class Question(Protocol):
    """One thing that is asked."""

    def shows(self, now: Now) -> tuple[str, ...]:
        """What is shown once, when it is asked for the first time."""

    def prompt(self, now: Now) -> str:
        """The last line before the answer; names the keys."""

    def take(self, line: str, now: Now) -> Taken:
        """What the line gives.

        Raises:
            NotUnderstood: it is none of what is expected.
        """
