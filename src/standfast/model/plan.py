"""A day of practicals as somebody wishes it: who could come when, and what the day must give."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import BeforeValidator

from standfast.model.base import Count, Day, Line, Noun, PersonId, Share, Slug, Whole, Yes

_CLOCK = re.compile(r"(?:[01][0-9]|2[0-3]):[0-5][0-9]")


def _time_of_day(value: object) -> str:
    if isinstance(value, str) and _CLOCK.fullmatch(value):
        return value
    raise ValueError(f"'{value}' is no time of day; write it as 09:00")


TimeOfDay = Annotated[str, BeforeValidator(_time_of_day)]
"""Hours and minutes where the school is, 00:00 to 23:59; sorts as time does."""


class Slot(Noun):
    """A stretch of the day that holds one lesson in each room."""

    slot: Slug
    begins: TimeOfDay
    ends: TimeOfDay


class AssessorThatDay(Noun):
    """Somebody who could score."""

    assessor: PersonId
    free: tuple[Slug, ...] | None = None
    """The slots in which this is possible; every one when left out."""
    most: Count | None = None
    """The most lessons; as many as fit when left out."""


class CandidateThatDay(Noun):
    """Somebody who is to teach one lesson."""

    candidate: PersonId
    free: tuple[Slug, ...] | None = None
    """The slots in which this is possible; every one when left out."""


class Apart(Noun):
    """An assessor who is not to score a candidate, for a reason of the day."""

    assessor: PersonId
    candidate: PersonId
    because: Line = "as the file asks"


class AskedDay(Noun):
    """A day of practicals as it is wished."""

    id: Slug
    day: Day
    rubric: Slug
    slots: tuple[Slot, ...]
    assessors: tuple[AssessorThatDay, ...]
    candidates: tuple[CandidateThatDay, ...]
    rooms: Count = 1
    """The most lessons at the same time."""
    double: Share = 0
    """At least this share of the candidates is scored by two assessors."""
    linked: Yes = True
    """Every assessor scores, and every two are linked through candidates whom both scored,
    directly or through others: only then can their severities be compared later."""
    spread: Whole | None = None
    """The most lessons that the busiest assessor scores more than the least busy; as few as
    can be when left out."""
    trainers: Literal["beside", "never"] = "beside"
    """Whether somebody who trained a candidate may score beside somebody who did not, or not."""
    apart: tuple[Apart, ...] = ()
