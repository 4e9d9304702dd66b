"""Which award falls due in which month: days by the engine, months for the forecast.

Every day comes from `engine.dates`; here it is only looked up in which month it lies.  Whoever is
in time comes in the month of the due day, or as many months before it as people of this school
did, but not before the refresher opens; counting that starts anew starts in the middle of a month.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from standfast.desk.habits import GONE_AFTER, month_number
from standfast.engine.dates import Span, award_dates, renewed_dates
from standfast.engine.planning.forecast import Months, Term
from standfast.model.award import AwardDates
from standfast.model.rubric import Validity

MIDDLE = 15


@dataclass(frozen=True)
class Ahead:
    """The days of a forecast: from `first` to the end of a month, both included."""

    first: date
    last: date

    @cached_property
    def starts(self) -> tuple[date, ...]:
        """The first day of each month, of the first month the first day asked about."""
        count = month_number(self.last) - month_number(self.first) + 1
        begins = self.first.replace(day=1)
        return (self.first, *(Span(n).after(begins) for n in range(1, count)))

    @cached_property
    def months(self) -> Months:
        """The months, each with how much of it lies ahead."""
        parts = []
        for start in self.starts:
            begins = start.replace(day=1)
            end = Span(1).after(begins)
            parts.append((end - start).days / (end - begins).days)
        return Months(tuple(start.month for start in self.starts), tuple(parts))

    def number(self, day: date) -> int:
        """The month in which the day lies: 0 for the first, less before it."""
        return month_number(day) - month_number(self.first)

    def middle(self, month: int) -> date:
        """The day on which counting starts anew in that month."""
        start = self.starts[month]
        return max(start, start.replace(day=MIDDLE))


class Terms:
    """Terms by place; what falls due in the same months is one term, however many hold it."""

    def __init__(self, ahead: Ahead, early: int = 0) -> None:
        self.ahead, self.early = ahead, early
        self.found: list[Term] = []
        self._places: dict[Term, int] = {}
        self._known: dict[tuple[Validity, AwardDates], int] = {}
        self._held: Counter[int] = Counter()

    def hold(self, validity: Validity, dates: AwardDates) -> None:
        """One more award stands that can still be kept in time; in grace, it falls due now."""
        today = self.ahead.first
        if today <= due_day(dates):
            place = self.place(validity, dates)
        else:
            kept = self.place(validity, kept_dates(validity, dates, today), 0)
            place = self._put(term_of(self.ahead, dates, 0, kept))
        self._held[place] += 1

    def all(self) -> tuple[Term, ...]:
        """Every term, with the awards that stand in it."""
        return tuple(replace(term, held=self._held[place]) for place, term in enumerate(self.found))

    def place(self, validity: Validity, dates: AwardDates, after: int = -1) -> int:
        """The place of the term with these dates, and of what follows it when kept in time.

        It falls due later than in the month `after`, in which the one before it was kept.
        """
        key = (validity, dates)
        if key not in self._known:
            due = max(self._comes(dates), after + 1)
            kept = None
            if due < len(self.ahead.starts):
                kept = self.place(validity, kept_dates(validity, dates, due_day(dates)), due)
            self._known[key] = self._put(term_of(self.ahead, dates, due, kept))
        return self._known[key]

    def _comes(self, dates: AwardDates) -> int:
        """The month in which a holder comes who is in time."""
        due = self.ahead.number(due_day(dates))
        opens = dates.refresher_opens
        return max(due - self.early, self.ahead.number(opens)) if opens else due

    def _put(self, term: Term) -> int:
        if term not in self._places:
            self._places[term] = len(self.found)
            self.found.append(term)
        return self._places[term]


def due_day(dates: AwardDates) -> date:
    """The last day for a refresher; without one, the award's own last day."""
    return dates.refresher_due or dates.last_day


def kept_dates(validity: Validity, dates: AwardDates, on: date) -> AwardDates:
    """The dates of the award that follows when it is kept on that day."""
    if dates.refresher_due and validity.refresher:
        return renewed_dates(validity, dates, on)
    return award_dates(validity, on)


def term_of(ahead: Ahead, dates: AwardDates, due: int, kept: int | None) -> Term:
    """The months of these dates."""
    grace = max(ahead.number(dates.grace_until or due_day(dates)), due)
    return Term(
        due=due,
        takes="refresher" if dates.refresher_due else "practical",
        kept=kept,
        late_from=grace + 1,
        gone_from=grace + 1 + GONE_AFTER,
        suffices=last_month_for_refresher(ahead, dates),
    )


def last_month_for_refresher(ahead: Ahead, dates: AwardDates) -> int:
    """The last month in whose middle a refresher suffices; -1 or less when it never does."""
    if not dates.refresher_due:
        return -1
    final = dates.full_practical_after or dates.grace_until or dates.refresher_due
    month = ahead.number(final)
    too_soon = 0 <= month < len(ahead.starts) and final < ahead.middle(month)
    return month - too_soon
