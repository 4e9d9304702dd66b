"""A plan as a list of lessons, and what can be counted in it; whole numbers only.

Everything that is said of a plan is counted here from the plan itself, never taken from a solver.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations


@dataclass(frozen=True, order=True)
class Lesson:
    """One candidate teaches in one slot, and is scored by one assessor or by two."""

    slot: int
    """Counted from 0, in the order of the day."""
    assessors: tuple[str, ...]
    candidate: str


@dataclass(frozen=True)
class Load:
    """What a plan asks of one assessor."""

    assessor: str
    slots: tuple[int, ...]
    """Those in which this assessor scores, in the order of the day."""

    @property
    def lessons(self) -> int:
        """How many."""
        return len(self.slots)

    @property
    def gaps(self) -> int:
        """Slots without a lesson between the first and the last with one."""
        return self.slots[-1] - self.slots[0] + 1 - len(self.slots) if self.slots else 0


@dataclass(frozen=True, order=True)
class Measures:
    """What makes one plan better than another, the first that differs deciding; less is better."""

    sheets: int
    """Scorings in all: two for a lesson with two assessors."""
    difference: int
    """Lessons of the busiest assessor less those of the least busy."""
    gaps: int
    """Of all assessors together."""
    finish: int
    """How many slots have begun when the last lesson has."""


def loads(lessons: Iterable[Lesson], assessors: Sequence[str]) -> tuple[Load, ...]:
    """What the lessons ask of each assessor, in the order given."""
    slots: dict[str, list[int]] = {assessor: [] for assessor in assessors}
    for lesson in lessons:
        for assessor in lesson.assessors:
            slots[assessor].append(lesson.slot)
    return tuple(Load(assessor, tuple(sorted(found))) for assessor, found in slots.items())


def measures(lessons: Sequence[Lesson], assessors: Sequence[str]) -> Measures:
    """What the lessons are worth."""
    found = loads(lessons, assessors)
    counts = [load.lessons for load in found]
    return Measures(
        sum(counts),
        max(counts, default=0) - min(counts, default=0),
        sum(load.gaps for load in found),
        max((lesson.slot + 1 for lesson in lessons), default=0),
    )


def links(lessons: Iterable[Lesson]) -> dict[tuple[str, str], tuple[str, ...]]:
    """For each two assessors who score together, the candidates whom both score."""
    found: dict[tuple[str, str], list[str]] = {}
    for lesson in lessons:
        for pair in combinations(sorted(lesson.assessors), 2):
            found.setdefault((pair[0], pair[1]), []).append(lesson.candidate)
    return {pair: tuple(sorted(shared)) for pair, shared in sorted(found.items())}


def all_linked(lessons: Iterable[Lesson], assessors: Sequence[str]) -> bool:
    """Whether one can walk from every assessor to every other over shared candidates."""
    beside: dict[str, set[str]] = {assessor: set() for assessor in assessors}
    for one, other in links(lessons):
        beside[one].add(other)
        beside[other].add(one)
    reached, waiting = set(assessors[:1]), list(assessors[:1])
    while waiting:
        new = beside[waiting.pop()] - reached
        reached |= new
        waiting.extend(new)
    return len(reached) == len(assessors)
