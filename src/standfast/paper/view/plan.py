"""What a printed plan of a day says: a table to hang on the door."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from standfast.model.school import School
from standfast.paper.view.words import INVENTED, cautions, day


@dataclass(frozen=True)
class PlanLine:
    """One lesson."""

    time: str
    slot: str
    candidate: str
    first: str
    second: str


@dataclass(frozen=True)
class PartLine:
    """What the day asks of one assessor."""

    assessor: str
    lessons: str
    candidates: tuple[str, ...]
    """Each on a line of its own, so that names of all scripts keep their time before them."""


@dataclass(frozen=True)
class PlanView:
    """A planned day, in words."""

    title: str
    language: str
    paper: str
    school: str
    when: str
    lines: tuple[PlanLine, ...]
    parts: tuple[PartLine, ...]
    said: tuple[str, ...]
    caution: tuple[str, ...]
    invented: str


def plan_view(
    title: str,
    on: date,
    lines: Iterable[tuple[str, str, str, str, str]],
    parts: Iterable[tuple[str, str, tuple[str, ...]]],
    said: Iterable[str],
    school: School,
) -> PlanView:
    """What the page of a planned day says.

    Lines in the order of `PlanLine`, parts in that of `PartLine`; `said` are sentences about the
    whole.
    """
    first, *others = cautions(school)
    seen = "records what was seen on the days it names"
    return PlanView(
        title=title,
        language=school.language,
        paper=school.paper,
        school=school.name,
        when=f"{on:%A}, {day(on)} ({school.zone})",
        lines=tuple(PlanLine(*line) for line in lines),
        parts=tuple(PartLine(*part) for part in parts),
        said=tuple(said),
        caution=(first.replace(seen, "says who sees whom; it lets nobody teach"), *others),
        invented=INVENTED if school.invented else "",
    )
