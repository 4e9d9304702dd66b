"""When an award begins, is due, ends: why the paper says this day.

Years and months are added first and pinned to the month's last day, then weeks and days.  Every
day of an award is counted in one step from the day it is counted from: adding to a day that was
pinned before would drift (31 January, three times a month, is 29 April; three months is 30 April).

Source: W3C XML Schema Part 2, appendix E.
Checked against: python-dateutil, pandas (tests/engine/test_dates.py).
"""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from standfast.engine.ahead import next_coming
from standfast.engine.honouring import FULL_AGAIN, Told, still_matters, with_version
from standfast.model.award import COUNTING, Award, AwardDates, Honoured, Ruling, Standing
from standfast.model.base import Period
from standfast.model.rubric import Refresher, Validity
from standfast.problems import Refused

DAY = timedelta(days=1)
MONTHS = 12
_PARTS = re.compile(r"(\d+)([YMWD])")


@dataclass(frozen=True)
class Span:
    """A period as whole months and whole days, so that several can be added before counting."""

    months: int = 0
    days: int = 0

    @classmethod
    def of(cls, period: Period) -> Span:
        """The span that an ISO 8601 period names."""
        parts = {unit: int(number) for number, unit in _PARTS.findall(period)}
        return cls(
            parts.get("Y", 0) * MONTHS + parts.get("M", 0),
            parts.get("W", 0) * 7 + parts.get("D", 0),
        )

    def __add__(self, other: Span) -> Span:
        return Span(self.months + other.months, self.days + other.days)

    def __sub__(self, other: Span) -> Span:
        return self + other * -1

    def __mul__(self, times: int) -> Span:
        return Span(self.months * times, self.days * times)

    def after(self, day: date) -> date:
        """The day that lies this span after `day`.

        Raises:
            Refused: it lies outside the years 1 to 9999.
        """
        month = day.year * MONTHS + day.month - 1 + self.months
        year, month = month // MONTHS, month % MONTHS + 1
        try:
            pinned = date(year, month, min(day.day, monthrange(year, month)[1]))
            return pinned + timedelta(days=self.days)
        except (ValueError, OverflowError):
            raise Refused(
                f"{self.months} months and {self.days} days from {day} lie outside the calendar's"
                " years 1 to 9999; write a shorter period"
            ) from None


def add(day: date, period: Period) -> date:
    """The day that lies a period after `day`, pinned to the month's end.

    >>> add(date(2024, 2, 29), "P2Y")
    datetime.date(2026, 2, 28)
    """
    return Span.of(period).after(day)


def subtract(day: date, period: Period) -> date:
    """The day that lies a period before `day`, pinned to the month's end; used for windows.

    >>> subtract(date(2024, 3, 31), "P1M")
    datetime.date(2024, 2, 29)
    """
    return (Span.of(period) * -1).after(day)


def last_day(start: date, span: Span, rule: Literal["same-date", "day-before"]) -> date:
    """The inclusive last day of a span that begins on `start`.

    `same-date`: the corresponding date, the first day not counted (EU Regulation 1182/71,
    article 3; UK corresponding-date rule; both from memory).  `day-before`: the first day
    counted, so the day before; where the corresponding date does not exist, the month's last
    day (German Civil Code, 187(2), 188(2), 188(3); from memory).
    """
    end = span.after(start)
    pinned = span.days == 0 and end.day != start.day
    return end if rule == "same-date" or pinned else end - DAY


def award_dates(validity: Validity, granted: date) -> AwardDates:
    """The days of an award granted on that day."""
    return _dates(validity, granted, granted, Span())


def renewed_dates(validity: Validity, old: AwardDates, passed_on: date) -> AwardDates:
    """The days of the award that a refresher passed on that day makes.

    From the day the refresher opens until it is due, the anniversary is kept: the next due day
    is counted from the day that the old award counts from, and the last day runs from the
    anniversary.  After it, in grace or lapsed no longer than the rubric says, counting starts
    anew on `passed_on`.

    Raises:
        Refused: the rubric knows no refresher, the refresher has not opened yet, or the award
            lapsed too long ago and needs a full practical.
    """
    refresher = validity.refresher
    if refresher is None or old.refresher_due is None or old.refresher_opens is None:
        raise Refused("this award has no refresher; a full practical renews it")
    if passed_on < old.refresher_opens:
        raise Refused(
            f"the refresher opens on {old.refresher_opens}, and {passed_on} is before it;"
            " it counts when taken from that day on"
        )
    if passed_on <= old.refresher_due:
        start, done = _anniversary(refresher, old.counted_from, old.refresher_due)
        return _dates(validity, start, passed_on, done)
    final = old.full_practical_after or old.grace_until or old.refresher_due
    if passed_on > final:
        raise Refused(
            f"a refresher sufficed until {final}, and {passed_on} is after it;"
            " a full practical is needed again"
        )
    return award_dates(validity, passed_on)


def topped_up_dates(old: AwardDates, passed_on: date) -> AwardDates:
    """The days of the award that a top-up passed on that day makes: all as they were.

    A top-up is no refresher: a missed one is still missed.

    Raises:
        Refused: the award lapsed too long ago and needs a full practical.
    """
    final = old.full_practical_after
    if final is not None and passed_on > final:
        raise Refused(f"a top-up sufficed until {final}, and {passed_on} is after it; {FULL_AGAIN}")
    return old.model_copy(update={"first_day": passed_on})


def _anniversary(refresher: Refresher, counted_from: date, due: date) -> tuple[date, Span]:
    """The day to count from, and how far the anniversary lies from it.

    Where the rubric's refresher period was changed meanwhile, no whole number of them leads to
    the due day, and counting goes on from the due day itself.
    """
    every = Span.of(refresher.every)
    times = 1
    while (day := (every * times).after(counted_from)) < due:
        times += 1
    if day in {due, due + DAY}:  # the day after: due was kept within a last day of 'day-before'
        return counted_from, every * times
    return due, Span()


def _dates(validity: Validity, start: date, first_day: date, done: Span) -> AwardDates:
    """Every day counted from `start`, of which `done` has passed at the last anniversary."""
    lasts = done + Span.of(validity.period)
    end = last_day(start, lasts, validity.last_day)
    refresher = validity.refresher
    if refresher is None:
        return AwardDates(
            counted_from=start, first_day=first_day, last_day=end, full_practical_after=end
        )
    due_span = done + Span.of(refresher.every)
    within = due_span.after(start) <= end
    due = due_span.after(start) if within else end
    final, grace = due, None
    base = due_span if within else lasts
    if validity.grace:
        base += Span.of(validity.grace)
        final = grace = _ends(validity, start, base, within=within)
    if validity.lapse_limit:
        base += Span.of(validity.lapse_limit)
        final = _ends(validity, start, base, within=within)
    opens = (due_span - Span.of(refresher.window)).after(start)
    return AwardDates(
        counted_from=start,
        first_day=first_day,
        last_day=end,
        refresher_opens=min(max(opens, start), due),
        refresher_due=due,
        grace_until=grace,
        full_practical_after=final,
    )


def _ends(validity: Validity, start: date, span: Span, *, within: bool) -> date:
    """The last day of what follows the due day, or the award's own last day when that is it."""
    return span.after(start) if within else last_day(start, span, validity.last_day)


def standing(
    award: Award,
    documents: Mapping[str, date | None],
    on: date,
    rulings: Sequence[Ruling] = (),
    honoured: Honoured | None = None,
) -> Standing:
    """How an award stands on a day, why, until when, and what comes next.

    What was ruled last by that day counts before dates and documents: withdrawn is for good,
    suspended holds until reinstated.
    `documents` gives the last day of each document that the holder has on that day, None where
    there is none.  `honoured` says how long the award's version of its rubric counts, when a later
    one has set an end.  Every day named is inclusive.
    """
    held = {kind: documents.get(kind) for kind in award.documents}
    version = still_matters(honoured, award.dates)
    ends, ends_by = _ends_by(award.dates.last_day, held, on, version)
    told = _coming_state(award.dates, on) or _ruled_state(award, rulings, on)
    if told is None:
        told = _own_or_document_state(award.dates, held, on)
        told = with_version(told, version, on) if version else told
    state, because, until, step = told
    if until is not None and on >= award.dates.first_day:
        until = min([until, *(last for last in held.values() if last)])
    last = award.dates.grace_until or award.dates.refresher_due or award.dates.last_day
    if state == "current" and ends_by in held and ends < (award.dates.refresher_opens or last):
        step = "; ".join(filter(None, (f"renew {ends_by} by {ends}", step)))
    coming = None if state == "withdrawn" else next_coming(award.dates, held, on, version)
    return Standing(
        state=state,
        because=because,
        until=until,
        next_step=step,
        next_day=coming.day if coming else None,
        next_because=coming.why if coming else "",
        ends=ends,
        ends_by=ends_by,
        counts_until=min(ends, last) if state in COUNTING else None,
    )


def _coming_state(dates: AwardDates, on: date) -> Told | None:
    first = dates.first_day
    if on >= first:
        return None
    return "lapsed", f"not begun: its first day is {first}", first - DAY, f"wait until {first}"


def _ruled_state(award: Award, rulings: Sequence[Ruling], on: date) -> Told | None:
    """What the last ruling by that day makes of the award; None when it does not stop it."""
    last = None
    for ruling in rulings:
        if ruling.kind in {"reduced", "restored"}:
            continue  # these change what the award covers, not whether it counts
        if ruling.award == award.id and ruling.on <= on and (last is None or ruling.on >= last.on):
            last = ruling
    if last is None or last.kind == "reinstated":
        return None
    because = f"{last.kind} on {last.on}"  # why is for the school's eyes: it stands in the history
    if last.kind == "withdrawn":
        return "withdrawn", because, None, "a full practical is needed for a new award"
    return "suspended", because, None, "it must be reinstated before it counts again"


def _ends_by(
    own: date, held: Mapping[str, date | None], on: date, honoured: Honoured | None
) -> tuple[date, str]:
    """The earliest last day, and whose it is; a missing document ended no later than yesterday."""
    ends = [(own, 0, "award")]
    if honoured:
        ends.append((honoured.until, 1, f"version {honoured.version} of the rubric"))
    for kind, last in held.items():
        missing = max(on, date.min + DAY) - DAY
        ends.append((last, 1, kind) if last else (missing, 1, f"{kind}, of which none is recorded"))
    day, _, whose = min(ends)
    return day, whose


def _own_or_document_state(dates: AwardDates, held: Mapping[str, date | None], on: date) -> Told:
    """A document that ended or is missing stops an award; one that is late already needs both."""
    own, document = _own_state(dates, on), _document_state(held, on)
    if document is None:
        return own
    if own[0] not in {"in grace", "lapsed"}:
        return document
    state, because, until, step = document
    return state, f"{because}; {own[1]}", until, f"{step}; then {own[3]}"


def _document_state(held: Mapping[str, date | None], on: date) -> Told | None:
    missing = sorted(kind for kind, last in held.items() if last is None)
    ended = sorted((last, kind) for kind, last in held.items() if last and last < on)
    told = [f"{kind}: none is recorded" for kind in missing]
    told += [f"{kind} ended on {last}" for last, kind in ended]
    if not told:
        return None
    kinds = " and ".join([*missing, *(kind for _, kind in ended)])
    last_days = ", with its last day" if len(told) == 1 else ", each with its last day"
    return "lapsed", "; ".join(told), None, f"hand in the renewed {kinds}{last_days}"


def _own_state(dates: AwardDates, on: date) -> Told:
    due, opens = dates.refresher_due, dates.refresher_opens
    if due is None:
        if on <= dates.last_day:
            return "current", f"runs until {dates.last_day}", dates.last_day, ""
        return "lapsed", f"ended on {dates.last_day}", None, FULL_AGAIN
    if on <= due:
        if opens is None or on < opens:
            until = due if opens is None else opens - DAY
            return "current", f"refresher due by {due}", until, f"refresher, from {opens or due} on"
        return (
            "refresher due",
            f"refresher due by {due}",
            due,
            f"pass a refresher by {due}: the anniversary is kept",
        )
    return _late_state(dates, due, on)


def _late_state(dates: AwardDates, due: date, on: date) -> Told:
    grace, final = dates.grace_until, dates.full_practical_after
    missed = f"refresher was due on {due}"
    if grace is not None and on <= grace:
        return "in grace", f"{missed}; grace runs until {grace}", grace, "pass a refresher now"
    if final is None or on <= final:
        suffices = f"pass a refresher by {final}" if final else "pass a refresher"
        return "lapsed", missed, None, f"{suffices}; counting starts anew on that day"
    because = f"{missed}, and a refresher sufficed until {final}"
    return "lapsed", because, None, FULL_AGAIN
