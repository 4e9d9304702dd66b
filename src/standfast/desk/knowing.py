"""What was known when: a question about a day, and the day whose knowledge answers it.

`on` is the day that a question is about; `as known` the day by whose evening the answer's entries
had been made.  Asked about a past day, the book answers as it stood then, so that an answer given
on that day can be given again.  An invented school lives by a calendar of its own: when its
entries were really made says nothing, and only a day that is named counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from standfast.desk.opening import Desk
from standfast.problems import StandfastError


@dataclass(frozen=True)
class Known:
    """The desk at which a question is answered."""

    desk: Desk
    until: date | None
    """What was entered after this day is left out; None when nothing is."""


@contextmanager
def as_known(desk: Desk, named: date | None, *, at_the_time: bool = True) -> Iterator[Known]:
    """The desk with what was known on the day `named`, or on the day asked about if it is past.

    `at_the_time` is false for what prepares an act, such as a decision: it goes by all that is
    known unless a day is named.

    Raises:
        StandfastError: the day has not come yet.
    """
    if named is not None and named > desk.calendar_day:
        raise StandfastError(
            f"--as-known {named}: has not come yet; today is {desk.calendar_day}, and nobody knows"
            " what will be entered until then"
        )
    day = named
    if day is None and at_the_time and not desk.school.invented:
        day = desk.today
    if day is None or day >= desk.calendar_day:
        yield Known(desk, None)
        return
    with desk.book.as_it_stood(_evening(day, ZoneInfo(desk.school.zone))) as past:
        yield Known(desk.on_past(past), day)


def _evening(day: date, zone: ZoneInfo) -> datetime:
    """The last instant of the day that the journal can tell from the next day's first.

    Midnight is asked of the zone, so a day on which clocks change has its 23 or 25 hours.
    """
    midnight = datetime.combine(day + timedelta(days=1), time(), zone)
    return midnight.astimezone(ZoneInfo("UTC")) - timedelta(milliseconds=1)
