"""Living through three invented years, day by day, with the functions that people use."""

from __future__ import annotations

import heapq
import shutil
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone
from pathlib import Path
from random import Random

from standfast.desk.demo.careers import Life, careers, lives
from standfast.desk.demo.references import januaries
from standfast.desk.demo.rulings import ruled
from standfast.desk.opening import SCHOOL_FILE, Desk, Moment, open_desk
from standfast.desk.people import enter
from standfast.desk.schools import shipped
from standfast.model.people import Person

DAY = date(2026, 11, 20)
"""The day on which the demonstration takes place, whatever the calendar says."""
BEGAN = date(2023, 9, 1)
SEED = 20261120
SMALL = 8
OFFICE = "office"
WATCHED = ("ines-carvalho-teles", "parvin-shirazi-nooshabadi")
"""The candidates whose practicals are scored from files while one watches."""


@dataclass(frozen=True)
class Built:
    """The invented school, as it stands on the morning of the demonstration."""

    root: Path
    people: int
    entries: int


def build(
    root: Path, moment: Moment, progress: Callable[[int, int], None], *, small: bool = False
) -> Built:
    """Makes the school in that new folder and lives through its three years."""
    _fill(root)
    chance = Random(SEED)  # noqa: S311 - invented lessons, not secrets
    random = chance.randbytes
    with open_desk(root, Moment(_noon(BEGAN), OFFICE, random), create=True) as desk:
        everybody = [placed.noun for placed in desk.definitions.people]
        if small:
            everybody = _few(everybody)
        desk.book.put_school(desk.school, desk.stamp())
        trained = [p for p in everybody if p.trained_by and p.id not in WATCHED]
        waiting = [*lives(careers(trained, chance), SEED), ruled(), januaries()]
        _live_through(desk, everybody, waiting, random, progress)
        _know(desk.at(moment), everybody, DAY)
        return Built(root, len(everybody), desk.book.size())


def _fill(root: Path) -> None:
    (root / "candidates").mkdir(parents=True)
    shutil.copytree(shipped("rubrics"), root / "rubrics")
    shutil.copyfile(shipped("candidates") / "school.yaml", root / SCHOOL_FILE)
    for file in sorted(shipped("candidates").iterdir()):
        if file.is_dir():
            shutil.copytree(file, root / "candidates" / file.name)
        elif file.name != "school.yaml":
            shutil.copyfile(file, root / "candidates" / file.name)


def _few(everybody: Sequence[Person]) -> list[Person]:
    """All who score or certify, and the first few who are trained."""
    staff = [person for person in everybody if not person.trained_by]
    return staff + [person for person in everybody if person.trained_by][:SMALL]


def _live_through(
    desk: Desk,
    everybody: Sequence[Person],
    waiting: Sequence[Life],
    random: Callable[[int], bytes],
    progress: Callable[[int, int], None],
) -> None:
    """Wakes whoever has something to do next, until the day of the demonstration."""
    calendar = [(next(life), number, life) for number, life in enumerate(waiting)]
    heapq.heapify(calendar)
    months = _months()
    total = (DAY - BEGAN).days
    known_until = BEGAN - timedelta(days=1)
    while calendar:
        day, number, life = heapq.heappop(calendar)
        if day >= DAY:
            continue
        for first in (m for m in months if known_until < m <= day):
            _know(desk.at(Moment(_noon(first), OFFICE, random)), everybody, first)
            known_until = first
        progress(max((day - BEGAN).days, 0), total)
        here = desk.at(Moment(_evening(day, number), OFFICE, random))
        following = next(_after(life, here), None)
        if following is not None:
            heapq.heappush(calendar, (max(following, day), number, life))
    progress(total, total)


def _after(life: Life, desk: Desk) -> Iterator[date]:
    """The day of what comes after today; nothing when the story is told."""
    try:
        yield life.send(desk)
    except StopIteration:
        return


def _months() -> list[date]:
    return [
        date(year, month, 1)
        for year in range(BEGAN.year, DAY.year + 1)
        for month in range(1, 13)
        if BEGAN <= date(year, month, 1) < DAY
    ]


def _know(desk: Desk, everybody: Sequence[Person], day: date) -> None:
    """Enters what was known by that day: people whose training had begun, papers issued by then."""
    enter(desk, [_by(person, day) for person in everybody if _begun(person, day)])


def _begun(person: Person, day: date) -> bool:
    return not person.trained_by or min(tie.since for tie in person.trained_by) <= day


def _by(person: Person, day: date) -> Person:
    documents = tuple(d for d in person.documents if d.issued <= day)
    return person.model_copy(update={"documents": documents})


def _noon(day: date) -> datetime:
    return datetime.combine(day, time(11), timezone.utc)


def _evening(day: date, number: int) -> datetime:
    """A time of its own for each career, so that entries of one day have an order."""
    return datetime.combine(day, time(19), timezone.utc) + timedelta(seconds=number)
