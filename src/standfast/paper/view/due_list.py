"""What a printed due list says."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from standfast.model.school import School
from standfast.paper.view.words import INVENTED, cautions, day, in_words


@dataclass(frozen=True)
class DueLine:
    """One thing that falls due."""

    by: str
    what: str
    name: str
    award: str
    number: str
    says: str


@dataclass(frozen=True)
class DueView:
    """A due list, in words."""

    title: str
    language: str
    paper: str
    school: str
    counts: str
    seen_on: str
    lines: tuple[DueLine, ...]
    caution: tuple[str, ...]
    invented: str


def due_view(
    lines: Iterable[tuple[str, ...]], title: str, counts: str, seen_on: date, school: School
) -> DueView:
    """What the due list of a quarter says; each line in the order of `DueLine`."""
    rows = tuple(DueLine(*map(in_words, line)) for line in lines)
    return DueView(
        title=f"Due in {in_words(title)}",
        language=school.language,
        paper=school.paper,
        school=school.name,
        counts=counts,
        seen_on=day(seen_on),
        lines=rows,
        caution=cautions(school),
        invented=INVENTED if school.invented else "",
    )
