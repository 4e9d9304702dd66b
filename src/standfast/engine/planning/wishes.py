"""The wishes of a day, one by one, each with its sentence: what a plan must meet, or clash with.

Not wished but given: an assessor scores one lesson at a time, one or two assessors score a lesson,
and a candidate teaches at most one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from standfast.engine.planning.lessons import Lesson, all_linked, loads
from standfast.model.base import exact
from standfast.model.plan import AskedDay
from standfast.problems import Path

Kind = Literal[
    "double", "spread", "most", "rooms", "linked", "candidate free", "assessor free", "seen",
    "beside", "apart",
]  # fmt: skip
"""In the order in which people can change them: of two smallest sets of clashing wishes the one
with the earlier wishes is told."""


@dataclass(frozen=True)
class Wish:
    """One wish of the day."""

    kind: Kind
    says: str = field(compare=False)
    path: Path = field(compare=False, default=())
    """Where in the file it stands."""
    who: str = ""
    others: frozenset[str] = frozenset()
    """For `beside`, who trained the candidate or is tied to them; for `apart`, the one assessor."""
    slots: frozenset[int] = frozenset()
    number: int = 0
    stands: bool = field(compare=False, default=False)
    """It follows from what is in the record book, and cannot be changed in the file."""


@dataclass(frozen=True)
class Day:
    """A day to plan.  People in alphabetical order, so that the file's order changes nothing."""

    slots: int
    assessors: tuple[str, ...]
    candidates: tuple[str, ...]
    wishes: tuple[Wish, ...]


def day_of(
    asked: AskedDay,
    trainers: Mapping[str, frozenset[str]],
    apart: Mapping[tuple[str, str], str],
    tied: Mapping[str, frozenset[str]] | None = None,
) -> Day:
    """The day with every wish of it, those that are easiest to change first.

    `trainers` says of a candidate who trained them, `apart` of (assessor, candidate) why the one
    may not score the other, `tied` of a candidate who may score them beside somebody without a
    conflict of interest; all by what is in the record book.
    """
    in_time = sorted(asked.slots, key=lambda slot: (slot.begins, slot.slot))
    number = {slot.slot: place for place, slot in enumerate(in_time)}
    wishes = [
        *_of_the_day(asked),
        *_of_people(asked, number),
        *_of_ties(asked, trainers, apart, tied or {}),
    ]
    return Day(
        len(in_time),
        tuple(sorted(one.assessor for one in asked.assessors)),
        tuple(sorted(one.candidate for one in asked.candidates)),
        tuple(sorted(wishes, key=_order)),
    )


_KINDS: tuple[Kind, ...] = Kind.__args__  # type: ignore[attr-defined]  # a Literal has them


def _order(wish: Wish) -> tuple[int, str, list[str]]:
    return _KINDS.index(wish.kind), wish.who, sorted(wish.others)


def _of_the_day(asked: AskedDay) -> Iterator[Wish]:
    count, scoring = len(asked.candidates), len(asked.assessors)
    seen = "the candidate teaches a lesson"
    if count > 1:
        seen = f"each of the {count} candidates teaches a lesson"
    yield Wish("seen", seen, ("candidates",))
    rooms = "one lesson" if asked.rooms == 1 else f"{asked.rooms} lessons"
    yield Wish("rooms", f"at most {rooms} at the same time", ("rooms",), number=asked.rooms)
    least = math.ceil(exact(asked.double) * count)
    if least:
        says = f"at least {least} of the {count} candidates are scored by two assessors"
        yield Wish("double", says, ("double",), number=least)
    if asked.linked and scoring > 1:
        says = f"each of the {scoring} assessors scores, and all are linked by shared candidates"
        yield Wish("linked", says, ("linked",))
    if asked.spread is not None:
        says = f"the busiest assessor scores at most {asked.spread} more than the least busy"
        yield Wish("spread", says, ("spread",), number=asked.spread)


def _of_people(asked: AskedDay, number: Mapping[str, int]) -> Iterator[Wish]:
    for place, one in enumerate(asked.assessors):
        path: Path = ("assessors", place)
        if one.most is not None:
            says = f"{one.assessor} scores at most {one.most}"
            yield Wish("most", says, (*path, "most"), one.assessor, number=one.most)
        yield from _free("assessor free", one.assessor, one.free, number, (*path, "free"))
    for place, candidate in enumerate(asked.candidates):
        path = ("candidates", place, "free")
        yield from _free("candidate free", candidate.candidate, candidate.free, number, path)


def _free(
    kind: Kind, who: str, free: Sequence[str] | None, number: Mapping[str, int], path: Path
) -> Iterator[Wish]:
    slots = frozenset(number[slot] for slot in free or ())
    if free is not None and len(slots) < len(number):
        names = ", ".join(sorted(set(free), key=lambda slot: number[slot]))
        yield Wish(kind, f"{who} is free only in {names}", path, who, slots=slots)


def _of_ties(
    asked: AskedDay,
    trainers: Mapping[str, frozenset[str]],
    apart: Mapping[tuple[str, str], str],
    tied: Mapping[str, frozenset[str]],
) -> Iterator[Wish]:
    scoring = {one.assessor for one in asked.assessors}
    told = set()
    for place, one in enumerate(asked.candidates):
        who, path = one.candidate, ("candidates", place, "candidate")
        trained = trainers.get(who, frozenset()) & scoring
        bars = {a: why for a in scoring if (why := apart.get((a, who)))}
        if asked.trainers == "never":
            bars = {**dict.fromkeys(trained, "trained the candidate"), **bars}
            trained = frozenset()
        if not_alone := trained | (tied.get(who, frozenset()) & scoring - bars.keys()):
            says = _not_alone(who, trained, not_alone - trained)
            yield Wish("beside", says, path, who, not_alone, stands=True)
        for assessor, why in bars.items():
            told.add((assessor, who))
            yield _apart(assessor, who, why, path, stands=True)
    for place, pair in enumerate(asked.apart):
        if (pair.assessor, pair.candidate) not in told:
            told.add((pair.assessor, pair.candidate))
            yield _apart(pair.assessor, pair.candidate, pair.because, ("apart", place))


def _not_alone(who: str, trained: frozenset[str], tied: frozenset[str]) -> str:
    """That one of the assessors is independent, as a decision counts it."""
    names = " and ".join(sorted(trained | tied))
    if not tied:
        return f"nobody who trained {who} scores without somebody who did not ({names} did)"
    conflict = "has a recorded conflict of interest with"
    if not trained:
        return f"nobody who {conflict} {who} scores without somebody who has none ({names} has)"
    return (
        f"nobody who trained {who} or {conflict} {who} scores without somebody of whom neither"
        f" is true ({names})"
    )


def _apart(assessor: str, candidate: str, why: str, path: Path, *, stands: bool = False) -> Wish:
    says = f"{assessor} does not score {candidate}: {why}"
    return Wish("apart", says, path, candidate, frozenset({assessor}), stands=stands)


def unmet(wishes: Iterable[Wish], lessons: Sequence[Lesson], day: Day) -> tuple[Wish, ...]:
    """The wishes that the lessons do not meet."""
    return tuple(wish for wish in wishes if not is_met(wish, lessons, day))


def is_met(wish: Wish, lessons: Sequence[Lesson], day: Day) -> bool:  # noqa: PLR0911 - one way out for each kind
    """Whether the lessons meet the wish, counted from the lessons alone."""
    own = [lesson for lesson in lessons if lesson.candidate == wish.who]
    counts = [load.lessons for load in loads(lessons, day.assessors)]
    if wish.kind == "seen":
        return {lesson.candidate for lesson in lessons} == set(day.candidates)
    if wish.kind == "rooms":
        return all(
            sum(lesson.slot == slot for lesson in lessons) <= wish.number
            for slot in range(day.slots)
        )
    if wish.kind == "double":
        return sum(len(lesson.assessors) > 1 for lesson in lessons) >= wish.number
    if wish.kind == "linked":
        return all_linked(lessons, day.assessors)
    if wish.kind == "spread":
        return max(counts) - min(counts) <= wish.number
    if wish.kind == "most":
        return counts[day.assessors.index(wish.who)] <= wish.number
    if wish.kind == "assessor free":
        return all(lesson.slot in wish.slots for lesson in lessons if wish.who in lesson.assessors)
    if wish.kind == "candidate free":
        return all(lesson.slot in wish.slots for lesson in own)
    if wish.kind == "beside":
        return all(set(lesson.assessors) - wish.others for lesson in own)
    return all(not wish.others & set(lesson.assessors) for lesson in own)
