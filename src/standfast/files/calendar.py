"""Days that matter as a calendar file, which goes on from what it said before.

Source: RFC 5545 (2009): all-day events (3.6.1, a DATE start and no end), UID (3.8.4.7), SEQUENCE
(3.8.7.4), STATUS (3.8.1.11), TRANSP (3.8.2.7).  No METHOD: it is a file, not a message.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from standfast.in_place import put_in_place
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from icalendar import Calendar

PRODUCT = "-//Standfast//due list//EN"


@dataclass(frozen=True)
class Day:
    """One day that matters."""

    uid: str
    """The same for the same thing, whatever is said of it."""
    on: date
    summary: str
    description: str


NOTHING_DUE = "Nothing is due any more"
"""All that is said of what is cancelled: whoever it was about may be erased by now."""


def days_in(file: Path) -> dict[str, date]:
    """The day of every event of the file that stands, by UID; none when there is no file yet.

    Raises:
        StandfastError: the file is no calendar of ours.
    """
    return {
        uid: event["dtstart"].dt
        for uid, event in _before(file).items()
        if str(event.get("status")) != "CANCELLED"
    }


def write_calendar(file: Path, days: Iterable[Day], name: str, now: datetime) -> None:
    """Writes the days, beside the file's place first.

    What the file said before goes on under its UID: with a higher SEQUENCE when it changed, as
    cancelled, and without its words, when it is not among the days.

    Raises:
        StandfastError: the file is no calendar of ours, or cannot be written.
    """
    before = _before(file)
    calendar = _empty(name)
    wanted = {day.uid: day for day in days}
    for uid, day in wanted.items():
        calendar.add_component(_event(day, before.get(uid), now))
    for uid, event in before.items():
        if uid not in wanted:
            calendar.add_component(_cancelled(event, now))
    put_in_place(file, calendar.to_ical())


def _empty(name: str) -> Calendar:
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", name)
    return calendar


def _before(file: Path) -> Mapping[str, Any]:
    """The events of the file by UID; none when there is no file yet."""
    from icalendar import Calendar

    if not file.exists():
        return {}
    told = f"{file}: is no calendar that a due list wrote; name a new file"
    try:
        calendar = Calendar.from_ical(file.read_bytes())
    except (OSError, ValueError, IndexError):
        raise StandfastError(told) from None
    if not isinstance(calendar, Calendar) or str(calendar.get("prodid")) != PRODUCT:
        raise StandfastError(told)
    return {str(event["uid"]): event for event in calendar.walk("VEVENT")}


def _event(day: Day, before: Any, now: datetime) -> Any:  # noqa: ANN401 - an icalendar event
    from icalendar import Event

    event = Event()
    event.add("uid", day.uid)
    event.add("dtstart", day.on)
    event.add("summary", day.summary)
    event.add("description", day.description)
    event.add("transp", "TRANSPARENT")
    event.add("status", "CONFIRMED")
    if before is not None and _said(before) == _said(event):
        return before
    event.add("dtstamp", now)
    event.add("sequence", 0 if before is None else int(before.get("sequence", 0)) + 1)
    return event


def _said(event: Any) -> tuple[str, ...]:  # noqa: ANN401 - an icalendar event
    """What a reader sees of it."""
    seen = (str(event.get(key)) for key in ("summary", "description", "status"))
    return (str(event["dtstart"].dt), *seen)


def _cancelled(before: Any, now: datetime) -> Any:  # noqa: ANN401 - icalendar events
    """The event as cancelled; of what it said only its day stays."""
    from icalendar import Event

    event = Event()
    event.add("uid", str(before["uid"]))
    event.add("dtstart", before["dtstart"].dt)
    event.add("summary", NOTHING_DUE)
    event.add("transp", "TRANSPARENT")
    event.add("status", "CANCELLED")
    if _said(before) == _said(event):
        return before
    event.add("dtstamp", now)
    event.add("sequence", int(before.get("sequence", 0)) + 1)
    return event
