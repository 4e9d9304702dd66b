"""A book of many decided lessons in which one assessor gives less than she should, or nobody."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from random import Random

from tests.engine import made
from tests.store.school import School, open_school, people

from standfast.engine.decide import decide
from standfast.model.sheet import Sheet
from standfast.store.bodies import DecisionInputs

CRITERIA = ("words", "place", "task", "trust")
RUBRIC = made.rubric(*(made.rating(name, least=3, floor=1, levels=5) for name in CRITERIA))
SYLLABUS = made.syllabus()
FIRST = date(2026, 1, 1)
LESSONS = 60
ASSESSORS = ("ann", "cy", "bo", "dee", "eve")


def fill(file: Path, less: int, seed: int = 3, lessons: int = LESSONS) -> None:
    """Makes the book: cy takes `less` off every level; two lessons in three are seen by two.

    Every lesson is decided on its own, in the evening.
    """
    school = open_school(file)
    with school.book:
        scorers = [made.person(who, scores=["bar-1"]) for who in ("cy", "dee", "eve")]
        school.book.put_people((*people(), *scorers), school.stamp)
        references = school.keep_texts(RUBRIC, SYLLABUS)
        random = Random(seed)
        for number in range(lessons):
            sheets = _sheets(number, random, less)
            for sheet in sheets:
                school.book.put_sheet(sheet, *references, school.stamp())
            _decide(school, sheets, FIRST + timedelta(days=number))


def _sheets(number: int, random: Random, less: int) -> list[Sheet]:
    quality = random.uniform(2.6, 4.6)
    first = ASSESSORS[number % len(ASSESSORS)]
    who = [first, ASSESSORS[(number + 1) % len(ASSESSORS)]] if number % 9 < 6 else [first]
    return [
        made.sheet(
            *(2 * number + place + 1,),
            practical=f"lesson-{number + 1}",
            assessor=one,
            day=FIRST + timedelta(days=number),
            attempts=(),
            clearances=(),
            samples=(),
            ratings=made.marks(
                **{name: _level(random, quality, less if one == "cy" else 0) for name in CRITERIA}
            ),
        )
        for place, one in enumerate(who)
    ]


def _level(random: Random, quality: float, less: int) -> int:
    return min(max(round(random.gauss(quality, 0.6)) - less, 1), 5)


def _decide(school: School, sheets: list[Sheet], on: date) -> None:
    candidate = school.book.find_person("cato")
    assert candidate is not None
    decision = decide(RUBRIC, SYLLABUS, sheets, candidate, on)
    school.book.put_decision(decision, DecisionInputs.of(candidate, sheets), school.stamp())
