"""The next day that matters to an award, and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import NamedTuple

from standfast.model.award import AwardDates, Honoured


class Coming(NamedTuple):
    """A day, inclusive, and what happens on it or with it."""

    day: date
    why: str


def next_coming(
    dates: AwardDates,
    held: Mapping[str, date | None],
    on: date,
    honoured: Honoured | None = None,
) -> Coming | None:
    """The first day from `on` on that changes how the award stands; None when none is left.

    `held` gives the last day of each document that the award depends on, `honoured` that of its
    version.  A last day is named while it runs, a first day before it has come.
    """
    found = [*_of_award(dates, on), *_of_documents(dates, held, on)]
    if honoured:
        why = f"version {honoured.version} of the rubric is honoured until then"
        found.append(Coming(honoured.until, why))
    return min((coming for coming in found if coming.day >= on), default=None)


def _of_documents(dates: AwardDates, held: Mapping[str, date | None], on: date) -> Iterator[Coming]:
    for kind, last in held.items():
        if last is not None and last < dates.last_day:
            yield Coming(last, f"{kind} ends, before the award does")
        elif last == dates.last_day:
            yield Coming(last, f"{kind} ends, with the award")
        elif last is not None and on > dates.last_day:
            yield Coming(last, f"{kind} ends; the award has ended before it")


def _of_award(dates: AwardDates, on: date) -> Iterator[Coming]:
    if on < dates.first_day:
        yield Coming(dates.first_day, "the award begins")
    due = dates.refresher_due
    if due is not None:
        yield Coming(due, f"the refresher is due{_which(dates, on)}")
        if dates.refresher_opens and on < dates.refresher_opens:
            yield Coming(dates.refresher_opens, "the refresher opens")
    if dates.grace_until:
        yield Coming(dates.grace_until, "grace ends")
    if due is None or due == dates.last_day or on <= due:
        yield Coming(dates.last_day, "the award's last day")
    if dates.full_practical_after and dates.full_practical_after != dates.last_day:
        yield Coming(
            dates.full_practical_after, "a refresher suffices until then, a full practical after"
        )


def _which(dates: AwardDates, on: date) -> str:
    """Whether a refresher can be taken on that day already."""
    opened = dates.refresher_opens is not None and dates.refresher_opens <= on
    return ", and can be taken now" if opened else ""
