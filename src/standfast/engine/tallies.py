"""What was counted for one criterion, over all practicals, before any standard is held to it."""

from __future__ import annotations

from dataclasses import dataclass

from standfast.engine.policies import joined_mark, lower_middle
from standfast.model.rubric import Joining


@dataclass(frozen=True)
class Answers:
    """Of attempts: how often yes, no, could not be seen."""

    yes: int = 0
    no: int = 0
    unseen: int = 0
    sheets: tuple[str, ...] = ()

    @property
    def seen(self) -> int:
        """How many answers were seen."""
        return self.yes + self.no


@dataclass(frozen=True)
class Choices:
    """Of students let go or held back: how many rightly, and in which way not."""

    right: int = 0
    false_clear: int = 0
    false_hold: int = 0
    sheets: tuple[str, ...] = ()

    @property
    def seen(self) -> int:
        """How many choices were seen."""
        return self.right + self.false_clear + self.false_hold


@dataclass(frozen=True)
class Looks:
    """Of looks at the waiting students: (idle, waiting) in order, practical by practical.

    Only looks at which somebody was waiting; `missed` counts those that were due and missed.
    """

    practicals: tuple[tuple[tuple[int, int], ...], ...] = ()
    missed: int = 0
    sheets: tuple[str, ...] = ()

    @property
    def seen(self) -> int:
        """How many looks there were with somebody waiting."""
        return sum(len(looks) for looks in self.practicals)

    @property
    def idle(self) -> int:
        """Idle students over all looks."""
        return sum(idle for looks in self.practicals for idle, _ in looks)

    @property
    def waiting(self) -> int:
        """Waiting students over all looks."""
        return sum(waiting for looks in self.practicals for _, waiting in looks)


@dataclass(frozen=True)
class Marks:
    """Of a rating: the single assessors' levels, practical by practical, lowest first."""

    practicals: tuple[tuple[int, ...], ...] = ()
    policy: Joining = "lower"
    unseen: int = 0
    sheets: tuple[str, ...] = ()

    @property
    def joined(self) -> tuple[int, ...]:
        """One level for each practical, lowest first."""
        return tuple(sorted(joined_mark(marks, self.policy) for marks in self.practicals))

    @property
    def middle(self) -> int:
        """The middle one of the joined levels, the lower of two; there must be one."""
        return lower_middle(self.joined)

    @property
    def lowest(self) -> int:
        """The lowest mark of any single assessor; there must be one."""
        return min(mark for marks in self.practicals for mark in marks)


@dataclass(frozen=True)
class Incidents:
    """Of an incident: how often, in how many practicals that were watched for it."""

    happened: int = 0
    practicals: int = 0
    sheets: tuple[str, ...] = ()


Tally = Answers | Choices | Looks | Marks | Incidents
