"""Moving lessons about in a plan that there was no time to perfect: fewer gaps, done earlier.

Time may be over before the solver comes to gaps and finish, and its plan then begins at noon in
free rooms.  These moves are cheap, keep every wish, and are taken while they make the plan better.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from standfast.engine.planning.lessons import Lesson, loads, measures
from standfast.engine.planning.wishes import Day, unmet

Lessons = tuple[Lesson, ...]
Worth = tuple[int, ...]


def moved(lessons: Sequence[Lesson], day: Day) -> Lessons:
    """The same lessons in other slots, where that is a better plan and meets the same wishes.

    Takes the first move that makes the plan better until none does.
    """
    best = tuple(sorted(lessons))
    better: Lessons | None = best
    while better is not None:
        best = better
        worth = _worth(best, day)
        better = next((m for m in _moves(best, day) if _better(m, day, worth)), None)
    return best


def _worth(lessons: Lessons, day: Day) -> Worth:
    """As `measures`, then how late all begin: so that each small step earlier counts."""
    told = measures(lessons, day.assessors)
    slots = sum(lesson.slot for lesson in lessons)
    return told.sheets, told.difference, told.gaps, told.finish, slots


def _better(lessons: Lessons, day: Day, worth: Worth) -> bool:
    if _worth(lessons, day) >= worth:
        return False
    busy = loads(lessons, day.assessors)
    once = all(len(set(load.slots)) == len(load.slots) for load in busy)
    return once and not unmet(day.wishes, lessons, day)


def _moves(lessons: Lessons, day: Day) -> Iterator[Lessons]:
    """All from a slot on so many slots earlier; two slots changed; one lesson elsewhere."""
    slots = range(day.slots)
    for start in sorted({lesson.slot for lesson in lessons}):
        for by in range(start, 0, -1):
            yield _with_slots(lessons, {slot: slot - by for slot in slots[start:]})
    for one in slots:
        for other in slots[:one]:
            yield _with_slots(lessons, {one: other, other: one})
    for place, lesson in enumerate(lessons):
        for slot in slots:
            others = (*lessons[:place], *lessons[place + 1 :])
            yield tuple(sorted((*others, replace(lesson, slot=slot))))


def _with_slots(lessons: Lessons, changed: Mapping[int, int]) -> Lessons:
    found = (replace(one, slot=changed.get(one.slot, one.slot)) for one in lessons)
    return tuple(sorted(found))
