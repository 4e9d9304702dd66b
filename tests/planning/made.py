"""Small days to plan, and the rules of a plan written down a second time, from the file's words."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, product
from typing import Any

import numpy as np
from hypothesis import strategies as st
from scipy.sparse.csgraph import connected_components

from standfast.engine.planning.lessons import Lesson
from standfast.engine.planning.programme import Watch
from standfast.model.plan import AskedDay

HOURS = [f"{hour:02}" for hour in range(6, 24)]


def unhurried() -> Watch:
    """Time enough, and nobody listening."""
    until = time.monotonic() + 300
    return Watch(lambda: until - time.monotonic(), lambda _: None)


def slots(count: int) -> list[dict[str, str]]:
    return [
        {"slot": f"s{n}", "begins": f"{HOURS[n]}:00", "ends": f"{HOURS[n]}:50"}
        for n in range(count)
    ]


def asked(assessors: Any, candidates: Any, count: int, **more: Any) -> AskedDay:  # noqa: ANN401
    """A day; a whole number of people means that they are free all day."""
    if isinstance(assessors, int):
        assessors = [{"assessor": f"a{n}"} for n in range(assessors)]
    if isinstance(candidates, int):
        candidates = [{"candidate": f"c{n}"} for n in range(candidates)]
    return AskedDay.model_validate(
        {
            "id": "made-up",
            "day": "2026-12-05",
            "rubric": "low-trapeze-1",
            "slots": slots(count),
            "assessors": assessors,
            "candidates": candidates,
            **more,
        }
    )


@dataclass(frozen=True)
class Made:
    """A wished day, and who trained whom."""

    asked: AskedDay
    trainers: dict[str, frozenset[str]]


@st.composite
def days(draw: st.DrawFn, most: int = 3) -> Made:
    """Days small enough to try every plan."""
    scoring, teaching = draw(st.integers(1, most)), draw(st.integers(1, 3))
    count = draw(st.integers(1, 3 if scoring < 3 else 2))
    names = [slot["slot"] for slot in slots(count)]

    def free() -> dict[str, Any]:
        chosen = draw(st.lists(st.sampled_from(names), min_size=1, unique=True))
        return {"free": chosen} if draw(st.booleans()) else {}

    people = [f"a{n}" for n in range(scoring)]
    some = st.lists(st.sampled_from(people), unique=True, max_size=2).map(frozenset)
    bar = st.builds(
        lambda one, other: {"assessor": one, "candidate": other},
        st.sampled_from(people),
        st.sampled_from([f"c{n}" for n in range(teaching)]),
    )
    day = asked(
        [
            {"assessor": who, **free(), **draw(st.sampled_from([{}, {}, {"most": 1}, {"most": 2}]))}
            for who in people
        ],
        [{"candidate": f"c{n}", **free()} for n in range(teaching)],
        count,
        rooms=draw(st.integers(1, 2)),
        double=draw(st.sampled_from([0, 0.3, 0.5, 1])),
        linked=draw(st.booleans()),
        spread=draw(st.sampled_from([None, 0, 1])),
        trainers=draw(st.sampled_from(["beside", "never"])),
        apart=draw(st.lists(bar, max_size=1)),
    )
    return Made(day, {f"c{n}": draw(some) for n in range(teaching)})


def broken(made: Made, lessons: Sequence[Lesson]) -> set[str]:
    """Every rule of the wished day that the lessons break, each by a word."""
    order = [slot.slot for slot in sorted(made.asked.slots, key=lambda slot: slot.begins)]
    return {
        *_broken_of_the_day(made.asked, lessons),
        *_broken_of_candidates(made, lessons, order),
        *_broken_of_assessors(made.asked, lessons, order),
    }


def _broken_of_the_day(day: AskedDay, lessons: Sequence[Lesson]) -> Iterator[str]:
    if sorted(o.candidate for o in lessons) != sorted(c.candidate for c in day.candidates):
        yield "not everybody teaches once"
    if any(n > day.rooms for n in Counter(lesson.slot for lesson in lessons).values()):
        yield "rooms"
    scored = Counter((who, lesson.slot) for lesson in lessons for who in lesson.assessors)
    if any(n > 1 for n in scored.values()):
        yield "two lessons at a time"
    doubles = sum(len(lesson.assessors) == 2 for lesson in lessons)
    if doubles < Fraction(str(day.double)) * len(day.candidates):
        yield "double"
    if day.linked and not in_one_piece([a.assessor for a in day.assessors], lessons):
        yield "linked"


def _broken_of_candidates(
    made: Made, lessons: Sequence[Lesson], order: Sequence[str]
) -> Iterator[str]:
    day = made.asked
    free = {one.candidate: one.free for one in day.candidates}
    for lesson in lessons:
        trained = made.trainers.get(lesson.candidate, frozenset())
        there = set(lesson.assessors)
        if order[lesson.slot] not in (free[lesson.candidate] or order):
            yield "candidate not free"
        if there <= trained or (day.trainers == "never" and there & trained):
            yield "trainer"
        if any(a.candidate == lesson.candidate and a.assessor in there for a in day.apart):
            yield "apart"


def _broken_of_assessors(
    day: AskedDay, lessons: Sequence[Lesson], order: Sequence[str]
) -> Iterator[str]:
    counts = []
    for assessor in day.assessors:
        own = [lesson for lesson in lessons if assessor.assessor in lesson.assessors]
        counts.append(len(own))
        if any(order[lesson.slot] not in (assessor.free or order) for lesson in own):
            yield "assessor not free"
        if assessor.most is not None and len(own) > assessor.most:
            yield "most"
    if day.spread is not None and max(counts) - min(counts) > day.spread:
        yield "spread"


def in_one_piece(assessors: Sequence[str], lessons: Sequence[Lesson]) -> bool:
    """Whether shared candidates link everybody, by SciPy's own walk over the graph."""
    beside = np.zeros((len(assessors), len(assessors)))
    for lesson in lessons:
        for one, other in combinations(lesson.assessors, 2):
            beside[assessors.index(one), assessors.index(other)] = 1
    pieces, _ = connected_components(beside, directed=False)
    return bool(pieces == 1)


def worth_of(made: Made, lessons: Sequence[Lesson]) -> tuple[int, int, int, int]:
    """Scorings, difference of load, gaps, finish; counted slot by slot."""
    rows = [
        [
            any(one.assessor in o.assessors and o.slot == n for o in lessons)
            for n in range(len(made.asked.slots))
        ]
        for one in made.asked.assessors
    ]
    gaps = sum(
        1
        for row in rows
        for n, busy in enumerate(row)
        if not busy and any(row[:n]) and any(row[n + 1 :])
    )
    counts = [sum(row) for row in rows]
    last = max((n + 1 for row in rows for n, busy in enumerate(row) if busy), default=0)
    return sum(counts), max(counts) - min(counts), gaps, last


def every_plan(made: Made, *, all_teach: bool) -> Iterator[tuple[Lesson, ...]]:
    """Every set of lessons in which nobody is in two places, wishes or not."""
    people = sorted(one.assessor for one in made.asked.assessors)
    panels = sorted([(a,) for a in people] + list(combinations(people, 2)))
    spots = [*product(range(len(made.asked.slots)), panels), *([] if all_teach else [None])]
    candidates = sorted(one.candidate for one in made.asked.candidates)
    for chosen in product(spots, repeat=len(candidates)):
        lessons = tuple(
            Lesson(spot[0], spot[1], who)
            for spot, who in zip(chosen, candidates, strict=True)
            if spot is not None
        )
        scored = [(who, o.slot) for o in lessons for who in o.assessors]
        if len(set(scored)) == len(scored):
            yield tuple(sorted(lessons))
