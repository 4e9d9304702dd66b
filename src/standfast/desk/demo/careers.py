"""How the story of each invented candidate goes: talents, practicals, re-takes, renewals."""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from standfast.desk.awards import grant
from standfast.desk.decisions import decide_for, keep
from standfast.desk.definitions import Texts, written
from standfast.desk.demo.covering import only
from standfast.desk.demo.lesson import Eyes, Gift, Practical, score, teach
from standfast.desk.focusing import ahead
from standfast.desk.opening import Desk
from standfast.desk.sheets import take_sheet
from standfast.engine.impartiality import tied
from standfast.model.decision import Outcome
from standfast.model.people import Person
from standfast.problems import Refused

EYES = {
    eyes.assessor: eyes
    for eyes in (
        Eyes("tendai-mukwashi", misses=0.04, invents=0.004, shift=0.0),
        Eyes("hana-dvorakova", misses=0.0, invents=0.02, shift=-0.3),
        Eyes("ruben-van-den-oetelaar", misses=0.45, invents=0.0, shift=0.45),
        Eyes("leilani-kahananui", misses=0.12, invents=0.004, shift=0.1),
        Eyes("joaquim-ferrer-llobet", misses=0.05, invents=0.01, shift=-0.1),
        Eyes("aurelio-tamm-nieminen", misses=0.2, invents=0.006, shift=0.2),
    )
}
"""The six assessors: some severe, some mild, one who overlooks much."""

TRAPEZE, TUMBLING = "low-trapeze-1", "floor-tumbling-1"
REFRESHER = {TRAPEZE: "trapeze-refresher", TUMBLING: "tumbling-refresher"}
STOP = "left-unsupported"
CERTIFIERS = ("marit-solheim-aune", "joaquim-ferrer-llobet", "hana-dvorakova")
TAKES = 3
LESSONS_AT_MOST = 5
TWICE_SCORED = 0.4

Life = Generator[date, Desk, None]
"""Gives the day on which something happens next; is handed the desk of that day."""


@dataclass(frozen=True)
class Career:
    """One candidate's story, before chance has its say."""

    number: int
    """Tells the lessons of one day apart."""
    candidate: Person
    rubric: str
    gift: Gift
    first: date
    """The day of the first practical."""
    keeps: float
    """The chance that a renewal is taken in time."""


def careers(candidates: Sequence[Person], chance: Random) -> list[Career]:
    """A story for everybody who was ever trained, in the order of the files."""
    found = []
    for number, candidate in enumerate(candidates):
        if not candidate.trained_by:
            continue
        trained = min(tie.since for tie in candidate.trained_by)
        found.append(
            Career(
                number,
                candidate,
                TUMBLING if number % 4 == 3 else TRAPEZE,  # noqa: PLR2004 - one in four tumbles
                _gift(number, chance),
                trained + timedelta(days=chance.randint(90, 260)),
                keeps=chance.choice((0.98, 0.98, 0.9, 0.2)),
            )
        )
    return found


WEAKNESSES: tuple[dict[str, float], ...] = (
    {},
    {"spotting-position": 0.12},
    {},
    {"steady-reference": 0.15, "demonstration-cueing": 0.2},
    {"waiting-students": 0.3},
    {},
    {"exit-recovery": 0.14, "failed-attempt": 0.1},
)


def _gift(number: int, chance: Random) -> Gift:
    return Gift(
        skill=min(chance.gauss(0.976, 0.016), 0.992),
        weak=WEAKNESSES[number % len(WEAKNESSES)],
        judges=chance.choice((0.9, 0.97, 0.995, 0.995, 1.0)),
        idle=chance.uniform(0.02, 0.1),
        stops=STOP if number % 13 == 5 else None,  # noqa: PLR2004 - about one in thirteen
    )


def live(career: Career, chance: Random) -> Life:
    """One career from the first practical on: take, re-take, be awarded, be renewed."""
    day, gift = career.first, career.gift
    for _ in range(TAKES):
        outcome, day = yield from _assessed(career, career.rubric, gift, day, chance)
        if outcome == "pass":
            day = yield from _awarded(career, career.rubric, day)
            yield from _renewals(career, gift, day, chance)
            return
        gift = replace(
            gift,
            skill=min(gift.skill + 0.02, 0.992),
            weak={name: shift / 3 for name, shift in gift.weak.items()},
            judges=max(gift.judges, 0.995),
            stops=None,
        )
        day += timedelta(days=chance.randint(45, 120))


def _assessed(
    career: Career, rubric: str, gift: Gift, day: date, chance: Random
) -> Generator[date, Desk, tuple[Outcome, date]]:
    """Practicals until the rule says pass, fail or stop, or nobody has time for more."""
    scored: set[str] = set()
    for lesson in range(1, LESSONS_AT_MOST + 1):
        desk = yield _weekday(day)
        texts = written(desk, rubric)
        now = gift if lesson == 1 else replace(gift, stops=None)
        scored |= _practical(desk, career, texts, now, chance, scored)
        day = desk.today + timedelta(days=chance.randint(8, 24))
        if lesson < texts.rubric.decision.practicals and not now.stops:
            continue
        decided = decide_for(desk, career.candidate.id, rubric)
        if decided.decision.outcome != "more" or lesson == LESSONS_AT_MOST:
            break
    if decided.decision.outcome != "pass":
        keep(desk, decided)  # a pass is entered with its award
    return decided.decision.outcome, desk.today


def _practical(
    desk: Desk,
    career: Career,
    texts: Texts,
    gift: Gift,
    chance: Random,
    before: set[str],
) -> set[str]:
    """One lesson, seen by one or two assessors; gives who."""
    assessors = _assessors(desk, career.candidate, texts.rubric.id, before, chance)
    site = career.candidate.site or "Sandhof hall"
    place = site.split()[0].lower()
    hour = datetime.combine(desk.today, time(chance.choice((10, 16, 18))))
    practical = Practical(
        f"{place}-{desk.today}-{career.number}",
        career.candidate.id,
        hour.replace(tzinfo=ZoneInfo(desk.school.zone)),
        site,
    )
    covers = ahead(desk, career.candidate.id, texts.rubric.id).covers
    happened = teach(texts.rubric, texts.syllabus, gift, chance.randint(4, 6), chance)
    for assessor in assessors:
        sheet = score(practical, texts.rubric, happened, EYES[assessor], chance, desk.new_key)
        take_sheet(desk, only(sheet, texts.rubric, covers))
    return set(assessors)


def _assessors(
    desk: Desk, candidate: Person, rubric: str, before: set[str], chance: Random
) -> list[str]:
    """One or two who may score; somebody new first, and nobody who trained the candidate alone."""
    able = [p for p in desk.book.people() if p.id in EYES and p.may_score(rubric, desk.today)]
    able = [p for p in able if not tied(p, candidate, desk.today)]
    chance.shuffle(able)
    able.sort(key=lambda p: (p.id in before, p.id in candidate.trainers()))
    wanted = 2 if chance.random() < TWICE_SCORED else 1
    return [person.id for person in able[:wanted]]


def _awarded(career: Career, rubric: str, day: date) -> Generator[date, Desk, date]:
    """Granted the next day; where something is missing, a second time a month later."""
    for wait in (1, 30):
        desk = yield day + timedelta(days=wait)
        if _grant(desk, career.candidate, rubric):
            break
    return desk.today


def _grant(desk: Desk, candidate: Person, rubric: str) -> bool:
    granting = next((full for full, short in REFRESHER.items() if short == rubric), rubric)
    trainers = candidate.trainers()
    scored = {one.sheet.assessor for one in desk.book.sheets(candidate.id)}
    for certifier in CERTIFIERS:
        known = desk.book.find_person(certifier)
        if known is None or tied(known, candidate, desk.today):
            continue
        able = known.may_certify(granting, desk.today)
        if not able or certifier in trainers | scored:
            continue
        try:
            grant(desk, candidate.id, rubric, certifier)
        except Refused:
            return False
        return True
    return False


def _renewals(career: Career, gift: Gift, day: date, chance: Random) -> Life:
    """Year after year: in time, late, or not at all."""
    rubric = REFRESHER[career.rubric]
    for _ in range(3):
        held = yield from _held(career, day)
        if held is None:
            return
        in_time = chance.random() < career.keeps
        days = -chance.randint(12, 50) if in_time else chance.choice((10, 20, 120, 900))
        begins = max(held + timedelta(days=days), day + timedelta(days=7))
        rested = replace(gift, stops=None, skill=min(gift.skill + 0.01, 0.992))
        outcome, day = yield from _assessed(career, rubric, rested, begins, chance)
        if outcome == "pass":
            day = yield from _awarded(career, rubric, day)


def _held(career: Career, day: date) -> Generator[date, Desk, date | None]:
    """The day by which the newest award wants a refresher, or ends; None without an award."""
    desk = yield day
    awards = desk.book.awards(career.candidate.id)
    if not awards:
        return None
    dates = awards[-1].award.dates
    return dates.refresher_due or dates.last_day


def _weekday(day: date) -> date:
    """The day itself, or the Monday after a weekend."""
    return day + timedelta(days=(0, 0, 0, 0, 0, 2, 1)[day.weekday()])


def lives(found: Sequence[Career], seed: int) -> Iterator[Life]:
    """Every career, each with chances of its own, so that one story does not change another."""
    for career in found:
        yield live(career, Random(f"{seed} {career.candidate.id}"))  # noqa: S311 - invented lessons
