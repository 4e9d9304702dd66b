"""A small invented school with a record book, for the tests of the store; nobody in it is real.

Clock and randomness are counted, so that every run makes the same book.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from random import Random

import psycopg
from tests.engine import made

from standfast.engine.decide import decide
from standfast.model.approval import ReferenceScore
from standfast.model.award import Award, AwardDates
from standfast.model.base import Reference
from standfast.model.decision import Decision
from standfast.model.keys import uuid7
from standfast.model.people import Person
from standfast.model.rubric import Rubric
from standfast.model.sheet import Correction, Sheet
from standfast.model.syllabus import Syllabus
from standfast.store.bodies import DecisionInputs
from standfast.store.book import Book
from standfast.store.connect import open_book
from standfast.store.journal import Entry, Stamp

BEGAN = datetime(2026, 3, 1, 9, tzinfo=timezone.utc)
ON = date(2026, 3, 1)
RUBRIC, SYLLABUS = made.rubric(), made.syllabus()


def people() -> tuple[Person, ...]:
    """Cato, whom zoe trained; ann and bo, who score; zoe, who certifies."""
    papers = {"first-aid": date(2028, 6, 30)}
    cato = made.person("cato", trained_by={"zoe": date(2025, 1, 1)}, documents=papers)
    contact = "cato.contact@example.org"
    return (
        cato.model_copy(update={"name": "Cato Quillfeather", "contact": contact}),
        made.person("ann", scores=["bar-1"]),
        made.person("bo", scores=["bar-1"]),
        made.person("zoe"),
    )


def reference(assessor: str, on: date = ON, **other: object) -> ReferenceScore:
    """That the assessor scored a reference practical in step on that day."""
    said = {"rubric": "bar-1", "practical": "hall-2025-05-05", "result": "in step", "by": "zoe"}
    because = "same marks in 11 of 12"
    return ReferenceScore.model_validate(
        {"assessor": assessor, "on": on, "because": because, **said, **other}
    )


@dataclass
class School:
    """A book, and what is needed to put things into it."""

    book: Book
    random: Random = field(default_factory=lambda: Random(7))
    seconds: int = 0
    server: Callable[[], psycopg.Connection] | None = None
    """For a book on a server: a connection of its superuser to the database."""

    def stamp(self, who: str = "office") -> Stamp:
        """A second later each time."""
        self.seconds += 1
        at = BEGAN + timedelta(seconds=self.seconds)
        return Stamp(uuid7(at, self.random.randbytes(10)), at, who)

    def key(self) -> str:
        return self.stamp().id

    @property
    def server_is_set_to(self) -> list[str]:
        """How remarks of an audit begin on the server of these tests: it is to be quick."""
        settings = () if self.server is None else ("fsync", "full_page_writes")
        return [f"the server runs with {one} = off" for one in settings]

    def keep_texts(
        self, rubric: Rubric = RUBRIC, syllabus: Syllabus = SYLLABUS
    ) -> tuple[Reference, Reference]:
        return (
            self.book.keep_text(rubric, self.stamp()),
            self.book.keep_text(syllabus, self.stamp()),
        )

    def take(self, sheet: Sheet) -> Entry:
        rubric, syllabus = self.keep_texts()
        return self.book.put_sheet(sheet, rubric, syllabus, self.stamp("ann"))

    def decide(self, sheets: Iterable[Sheet], corrects: Correction | None = None) -> Entry:
        sheets = tuple(sheets)
        candidate = self.book.find_person(sheets[0].candidate)
        assert candidate is not None
        made_now = decide(RUBRIC, SYLLABUS, sheets, candidate, ON)
        inputs = DecisionInputs.of(candidate, sheets)
        return self.book.put_decision(made_now, inputs, self.stamp(), corrects)

    def award(self, decision: str, number: str = "A-1", **other: object) -> Award:
        dates = AwardDates(
            counted_from=ON,
            first_day=ON,
            last_day=date(2028, 3, 1),
            refresher_due=date(2027, 3, 1),
        )
        reference = self.book.find_version("rubric", "bar-1")
        changes = {"id": self.key(), "number": number, "decision": decision, "rubric": reference}
        return made.award(dates).model_copy(update={**changes, **other})

    def fill(self) -> tuple[Decision, Award]:
        """One of everything: people, texts, sheets, a correction, a decision, an award."""
        self.book.put_people(people(), self.stamp)
        first = made.sheet(1)
        second = made.sheet(2, assessor="bo")
        corrected = made.sheet(3, assessor="bo", corrects=made.correcting(2))
        for sheet in (first, second, corrected):
            self.take(sheet)
        entry = self.decide((first, corrected))
        award = self.award(entry.id)
        self.book.put_award(award, self.stamp("zoe"))
        kept = self.book.find_decision(entry.id)
        assert kept is not None
        return kept.decision, award


def open_school(where: str | Path, *, create: bool = True, seed: int = 7) -> School:
    """The school whose book is in that folder or at that address."""
    random = Random(seed)
    return School(open_book(where, create=create, random=random.randbytes), Random(seed + 1))
