"""What falls due between two days, and what is late already."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from standfast.engine.dates import standing
from standfast.engine.honouring import still_matters
from standfast.model.award import Award, Honoured, Ruling, Standing

What = Literal["refresher", "award ends", "document ends", "version ends", "in grace", "late"]
"""A refresher is due; the last day of the award, of a document, and on which the award's version
of its rubric is honoured; its refresher was missed and grace runs; past its day already."""


SUSPENDED = ": nobody teaches under it and no refresher counts until it is reinstated"


@dataclass(frozen=True, order=True)
class Due:
    """One thing that must be done by a day so that an award goes on."""

    day: date
    what: What
    candidate: str
    number: str
    """Of the award."""
    scope: str
    says: str
    document: str = ""
    """Which one ends."""


def due_between(
    award: Award,
    documents: Mapping[str, date | None],
    first: date,
    last: date,
    on: date,
    rulings: Sequence[Ruling] = (),
    honoured: Honoured | None = None,
) -> list[Due]:
    """What this award needs from `first` to `last`, seen from `on`.

    Something whose day is past on `on` is `late`, or `in grace` with the day on which grace ends.
    While a refresher or a renewed document still mends it, it is listed whatever the days asked
    for, so that nobody slips between two quarters; once only a full practical does, it is listed
    with the days in which it ended.  A withdrawn award has nothing due; a suspended one has its
    own days still, and says that it is.
    """
    honoured = still_matters(honoured, award.dates)
    now = standing(award, documents, on, rulings, honoured)
    if now.state == "withdrawn":
        return []
    found = [
        item
        for item in _days(award, documents, honoured)
        if first <= item.day <= last and item.day >= on
    ]
    late = _late(award, now, first, last, on, honoured)
    found = sorted([late, *found] if late else found)
    if now.state != "suspended":
        return found
    return [replace(item, says=f"{now.because}{SUSPENDED}; {item.says}") for item in found]


def _days(
    award: Award, documents: Mapping[str, date | None], honoured: Honoured | None
) -> Iterable[Due]:
    def item(day: date, what: What, says: str, document: str = "") -> Due:
        return Due(day, what, award.candidate, award.number, award.scope.title, says, document)

    dates = award.dates
    if dates.refresher_due and dates.refresher_due < dates.last_day:
        opens = dates.refresher_opens or dates.refresher_due
        yield item(dates.refresher_due, "refresher", f"can be taken from {opens} on")
    yield item(dates.last_day, "award ends", "the award's last day: renew it before")
    for kind, until in documents.items():
        if until is not None and until < dates.last_day:
            yield item(until, "document ends", f"renew {kind}: it ends before the award", kind)
    if honoured and honoured.until < dates.last_day:
        says = f"version {honoured.version} is honoured until then: {honoured.step}"
        yield item(honoured.until, "version ends", says)


def _late(
    award: Award,
    now: Standing,
    first: date,
    last: date,
    on: date,
    honoured: Honoured | None,
) -> Due | None:
    dates = award.dates
    if now.state not in {"in grace", "lapsed"} or on < dates.first_day:
        return None
    if now.state == "in grace" and dates.grace_until:
        says = f"pass a refresher now: it was due on {dates.refresher_due}"
        return Due(
            dates.grace_until, "in grace", award.candidate, award.number, award.scope.title, says
        )
    day = min(now.ends, dates.refresher_due or now.ends)
    mendable = dates.full_practical_after is None or on <= dates.full_practical_after
    mendable = mendable and (honoured is None or on <= honoured.until or honoured.top_up)
    if not mendable and not first <= day <= last:
        return None
    says = f"{now.next_step} ({now.because})"
    return Due(day, "late", award.candidate, award.number, award.scope.title, says)
