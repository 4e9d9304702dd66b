"""Invented schools of any size, entered through the journal like any other, the same each time.

A candidate has a chain of lessons a year apart.  Two of eight assessors see each, with 15 tries
on a sheet, then somebody decides and grants an award that renews the one before: 30 tries for each
award.  Lessons are copies of a few that the engine really decided, under other names and days, so
that an audit finds nothing, also when it makes every decision again.  Nobody in it is real.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache, cached_property
from itertools import count, islice
from pathlib import Path
from random import Random
from uuid import UUID

from tests.engine import made
from tests.store.school import School, open_school

from standfast.engine.dates import award_dates, subtract
from standfast.engine.decide import decide
from standfast.model.base import Reference
from standfast.model.canonical import plain
from standfast.model.people import Person
from standfast.model.rubric import Refresher, Validity
from standfast.model.school import School as Settings
from standfast.model.sheet import Sheet
from standfast.store.bodies import AwardGranted, DecisionInputs, DecisionMade, SheetTaken
from standfast.store.journal import Draft, instant

ON = date(2026, 11, 20)
TRIES, EACH, LESSONS, AT_ONCE = 15, 4, 24, 250
ATTEMPTS = 2 * TRIES
"""For each award."""

SETTINGS = "school: {}\nname: Barn (invented)\nyear_starts: 9\n"
ASSESSORS = tuple(f"assessor-{n}" for n in range(8))
_SEEN, _DECIDED = date(2026, 2, 20), date(2026, 3, 1)
_KINDS = {"first-aid": 400, "insurance": 200}
"""Kinds of document, and for how many days after the decision they hold."""

VALIDITY = Validity(
    period="P2Y", refresher=Refresher(every="P1Y", window="P2M"), grace="P1M", lapse_limit="P1Y"
)
RUBRIC = made.rubric(
    made.attempts(critical=True, share=0.5, assurance=0.5, lapses=None),
    made.clearances(accuracy=0.5, assurance=0.5, least=4),
    made.samples(idle=0.6, assurance=0.5, least=4),
    made.rating(least=2, floor=1),
    validity=VALIDITY,
)
SYLLABUS = made.syllabus()


def founded(where: str | Path, seed: int = 7) -> School:
    """A school with settings, texts, assessors and whoever certifies; no candidate yet."""
    school = open_school(where, seed=seed)
    school.book.put_school(Settings(id="barn", name="Barn (invented)"), school.stamp())
    staff = [made.person(name, scores=["bar-1"]) for name in ASSESSORS]
    school.book.put_people([*staff, made.person("zoe")], school.stamp)
    school.keep_texts(RUBRIC, SYLLABUS)
    return school


def grow(school: School, awards: int, seed: int = 7) -> None:
    """Enters candidates until the book has so many awards; some hundred in memory at a time."""
    lessons, chance = Lessons(school, seed), Random(seed)
    for first in range(0, awards, AT_ONCE * EACH):
        some = min(AT_ONCE * EACH, awards - first)
        names = [f"candidate-{first // EACH + n}" for n in range(-(-some // EACH))]
        seen = {name: ON - timedelta(days=chance.randrange(700)) for name in names}
        with school.book.together():
            people = [_candidate(name, seen[name], n % 20) for n, name in enumerate(names)]
            school.book.put_people(people, school.stamp)
            with school.book._reading() as reading:
                refs = dict(reading.names.refs)
            school.book.append(
                draft
                for n, name in enumerate(names)
                for draft in lessons.of(refs, name, seen[name], min(EACH, some - n * EACH))
            )


def _candidate(name: str, decided: date, site: int) -> Person:
    ends = {kind: decided + timedelta(days=days) for kind, days in _KINDS.items()}
    return made.person(name, documents=ends).model_copy(update={"site": f"Hall {site}"})


@dataclass
class Lessons:
    """Lessons that were decided, to be copied for others."""

    school: School
    seed: int

    @cached_property
    def texts(self) -> tuple[Reference, Reference]:
        """Rubric and syllabus as the book keeps them."""
        return self.school.keep_texts(RUBRIC, SYLLABUS)

    @cached_property
    def made(self) -> tuple[tuple[str, str, str], ...]:
        """Of each lesson both sheets and the decision as JSON, people as slugs."""
        chance = Random(self.seed)
        drawn = (self._lesson(chance) for _ in count())
        passed = (one for one in drawn if one is not None)
        return tuple(islice(passed, LESSONS))

    def _lesson(self, chance: Random) -> tuple[str, str, str] | None:
        pair = tuple(_sheet(n, who, chance) for n, who in enumerate(chance.sample(ASSESSORS, 2), 1))
        candidate = _candidate("cato", _DECIDED, 0)
        decision = decide(RUBRIC, SYLLABUS, pair, candidate, _DECIDED)
        if decision.outcome != "pass":
            return None
        inputs = DecisionInputs.of(candidate, pair)
        rubric, syllabus = self.texts
        taken = [SheetTaken(sheet=one, rubric=rubric, syllabus=syllabus) for one in pair]
        bodies = (*taken, DecisionMade(decision=decision, inputs=inputs))
        first, second, decided = (json.dumps(plain(one)) for one in bodies)
        return first, second, decided

    @cached_property
    def award(self) -> str:
        """An award as JSON, people as slugs, with places for what differs."""
        rubric = self.texts[0]
        one = made.award(award_dates(VALIDITY, _DECIDED), tuple(_KINDS))
        body = plain(AwardGranted(award=one.model_copy(update={"rubric": rubric})))
        places = ("id", "number", "decision", "granted", "dates")
        body["award"] |= {name: f"@{name}" for name in places}
        return json.dumps(body)

    def of(self, refs: dict[str, str], name: str, last: date, many: int) -> Iterator[Draft]:
        """The entries of a candidate's lessons, a year apart, the last decided on that day."""
        ref, before = refs[name], None
        for number in range(many):
            decided = last - timedelta(days=365 * (many - 1 - number))
            key = self.school.key()
            lesson = int(key.replace("-", ""), 16) % LESSONS
            people = {"cato": ref, **{who: refs[who] for who in (*ASSESSORS, "zoe")}}
            own = {**people, "lesson-1": f"lesson-{key[-12:]}"}
            own |= {made.key(n): str(UUID(int=UUID(key).int & ~3 | n)) for n in (1, 2)}
            moved = _days(decided)
            first, second, decision = (_told(body, own, moved) for body in self.made[lesson])
            yield self._draft("sheet-taken", ref, first)
            yield self._draft("sheet-taken", ref, second)
            made_now = self._draft("decision-made", ref, decision)
            yield made_now
            yield self._award(people, key, decided, made_now.id, before)
            before = key

    def _award(
        self, people: dict[str, str], key: str, decided: date, decision: str, before: str | None
    ) -> Draft:
        own = {**people, "@id": key, "@number": f"B-{key}"}
        own |= {"@decision": decision, "@granted": str(decided)}
        body = _told(self.award, own, {}).replace('"@dates"', _dates(decided))
        draft = self._draft("award-granted", people["cato"], body)
        if before is not None:
            draft.body["award"]["renews"] = before
        return draft

    def _draft(self, kind: str, about: str, body: str) -> Draft:
        stamp = self.school.stamp()
        return Draft(stamp.id, instant(stamp.at), "office", kind, about, None, json.loads(body))


def _sheet(number: int, who: str, chance: Random) -> Sheet:
    """A lesson that went well; two who see it see it a little otherwise."""
    tries = ["no" if chance.random() < 0.1 else "yes" for _ in range(TRIES)]
    looks = [(int(chance.random() < 0.3), 3 + chance.randrange(2)) for _ in range(8)]
    return made.sheet(
        number,
        day=_SEEN,
        assessor=who,
        attempts=made.tries(tries),
        clearances=made.choices(["let-go"] * 5, skill="sit"),
        samples=made.looks(looks),
        ratings=made.marks(looks=2 + chance.randrange(3)),
    )


@cache
def _days(decided: date) -> dict[str, str]:
    """The days of the lessons that were decided, and what they are in a lesson decided then."""
    by = decided - _DECIDED
    ends = [_DECIDED + timedelta(days=days) for days in _KINDS.values()]
    moved = {str(day): str(day + by) for day in (_SEEN, _DECIDED, *ends)}
    return {**moved, _opens(_DECIDED): _opens(decided)}


def _opens(decided: date) -> str:
    """The day from which evidence counted."""
    return str(subtract(decided, RUBRIC.decision.window))


@cache
def _dates(decided: date) -> str:
    return json.dumps(plain(award_dates(VALIDITY, decided)))


def _told(body: str, own: dict[str, str], days: dict[str, str]) -> str:
    """The body with other names and days in it; no new one is taken for one to change."""
    for before, after in own.items():
        body = body.replace(f'"{before}"', f'"{after}"')
    for before in days:
        body = body.replace(before, f"@{before[2:]}")
    for before, after in days.items():
        body = body.replace(f"@{before[2:]}", after)
    return body
