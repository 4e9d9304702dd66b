"""The school's own settings."""

from __future__ import annotations

from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, Field

from standfast.model.base import Count, Line, Noun, Period, Share, Slug, Text, Yes
from standfast.model.people import ConflictPolicy


def _zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise ValueError(f"'{name}' is no time zone; write for example Europe/Vienna") from None
    return name


class Forecast(Noun):
    """What a forecast supposes before the school's own history says otherwise.

    All of it is common practice, no source: every school writes its own.
    """

    comes_back: Share = 0.8
    """Of awards that fall due, how many holders come by the end of grace."""
    comes_late: Share = 0.03
    """Of holders past grace, how many come in a month."""
    second_try: Share = 0.25
    """Of tries, practicals and refreshers alike, how many are not passed and need another."""
    gives_up: Share = 0.1
    """Of those, how many nobody comes back to."""
    one_more: Annotated[float, Field(ge=0, le=10)] = 0.25
    """Lessons that a try takes beyond the least number of its rubric."""
    newcomers: Annotated[float, Field(ge=0, le=1000)] = 0.5
    """First practicals in a month, under each rubric."""
    weight: Count = 10
    """How many observations each of these is worth; for newcomers `newcomers_weight` months."""
    newcomers_weight: Count = 3


class Keep(Noun):
    """How long the school keeps what may go; for ever where no period is said.

    Which periods are right, and whether there must be any: ask your own counsel.
    """

    names: Period | None = None
    """Name, contact and site, after the last day on which the person mattered to the school."""
    accounts: Period | None = None
    """Logins, after they were closed."""
    sessions: Period | None = None
    """Who is signed in, after it was used last."""
    failures: Period | None = None
    """Failures to sign in, after the last of them."""
    held: Period | None = None
    """Records that could not be taken, after the office settled them."""


class School(Noun):
    """One training organisation: what its papers say and by which calendar it lives."""

    id: Slug
    name: Line
    address: Line | None = None
    check_address: Line | None = None
    """Where an outsider asks whether a certificate is valid."""
    invented: Yes = False
    """A demonstration: everything printed says so."""
    language: str = "en"
    zone: Annotated[str, AfterValidator(_zone)] = "UTC"
    """Decides what today is."""
    year_starts: Annotated[int, Field(strict=True, ge=1, le=12)] = 1
    """The month in which the school's own year begins."""
    year_named_by: Literal["end", "start"] = "end"
    """The calendar year that names the school's year: the one it ends or starts in."""
    paper: Literal["A4", "Letter"] = "A4"
    certifier_may_have_taken_part: Yes = False
    """Whether somebody who trained or assessed the candidate may confirm the decision."""
    conflict_of_interest: ConflictPolicy = "refused"
    """Whether somebody tied to the candidate may score, confirm or rule, and the paper says so."""
    appeal_days: Count = 30
    """Within how many days an appeal or a complaint is answered; common practice, no source."""
    reference_every: Period | None = None
    """How often an assessor must score a reference practical in step; never when left out."""
    forecast: Forecast = Forecast()
    """What a forecast supposes, and how firmly."""
    keep: Keep = Keep()
    """How long what may go is kept."""
    caution: Text | None = None
    """Added to the cautions that every permission carries; it can never replace them."""
