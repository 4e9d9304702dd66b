"""What the lines about a person say that can never count."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable, Iterator
from datetime import date
from typing import Protocol

from standfast.model.people import Person
from standfast.model.rubric import Rubric
from standfast.problems import Fault, Path


class _Days(Protocol):
    """Something that runs from a day until a day."""

    @property
    def since(self) -> date: ...

    @property
    def until(self) -> date | None: ...


def faults_in_person(person: Person, rubrics: Collection[Rubric]) -> Iterator[Fault]:
    """A tie with oneself, what ends before it begins, and what is almost a name of the rubrics.

    Each with its path and cure.
    """
    yield from _with_oneself(person)
    yield from _misspelt(person, rubrics)
    for n, document in enumerate(person.documents):
        if document.last_day < document.issued:
            path = ("documents", n, "last_day")
            what = f"its last day is {document.last_day}, and it is issued on {document.issued}"
            yield Fault(path, what, "mend one of the days")
    yield from _turned("trained_by", person.trained_by)
    yield from _turned("scores", person.scores)
    yield from _turned("certifies", person.certifies)
    yield from _turned("conflicts", person.conflicts)
    yield from _turned("hears_appeals", person.hears_appeals)


def _misspelt(person: Person, rubrics: Collection[Rubric]) -> Iterator[Fault]:
    """A rubric or a document that is written almost like one that there is, and so never counts.

    Another name altogether is no fault: a rubric may be past, and a school may note any document.
    """
    known = {rubric.id for rubric in rubrics}
    asked = {document for rubric in rubrics for document in rubric.documents}
    for key in ("scores", "certifies"):
        for n, one in enumerate(getattr(person, key)):
            yield from _almost((key, n, "rubric"), "rubric", one.rubric, known)
    for n, document in enumerate(person.documents):
        yield from _almost(("documents", n, "document"), "document", document.document, asked)


def _almost(path: Path, what: str, wanted: str, known: set[str]) -> Iterator[Fault]:
    close = difflib.get_close_matches(wanted, known, n=1, cutoff=_ALMOST)
    numbered = {re.sub("[0-9]", "", one) for one in known}
    if wanted not in known and close and re.sub("[0-9]", "", wanted) not in numbered:
        yield Fault(path, f"no {what} is '{wanted}'", f"did you mean '{close[0]}'?")


_ALMOST = 0.85
"""Of the letters of two names, how many are the same and in order (Ratcliff and Metzener, 1988)."""


def _with_oneself(person: Person) -> Iterator[Fault]:
    trainers = [(("trained_by", n, "trainer"), t.trainer) for n, t in enumerate(person.trained_by)]
    others = [(("conflicts", n, "person"), c.person) for n, c in enumerate(person.conflicts)]
    paths: list[tuple[Path, str]] = [*trainers, *others]
    for path, who in paths:
        if who == person.id:
            yield Fault(path, f"{person.id} is the same person", "name the other one")


def _turned(key: str, lines: Iterable[_Days]) -> Iterator[Fault]:
    for n, line in enumerate(lines):
        if line.until is not None and line.until < line.since:
            what = f"it ends on {line.until}, before it begins on {line.since}"
            yield Fault((key, n, "until"), what, "mend one of the days")
