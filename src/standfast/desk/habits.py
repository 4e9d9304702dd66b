"""What a school's own history says of who comes back, who passes and who begins.

Counted by a day: what came later is left out.  Each number becomes a share or a rate with the
prior that the school's settings state.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from statistics import median

from standfast.desk.lived import Lived, Try
from standfast.engine.dates import MONTHS, subtract
from standfast.engine.planning.chances import Rate, Share, unevenness
from standfast.engine.planning.forecast import KINDS, Habits, Kind
from standfast.model.award import Award
from standfast.model.school import Forecast

GONE_AFTER = 24
"""Months past grace after which nobody expects a holder any more: common practice, no source."""
AGAIN_AFTER = 2
"""Months to the next try where a school has not lived through one: common practice, no source."""
FEWEST_YEARS = 3
"""With fewer whole years nothing can be told about calendar months: common practice, no source."""
GIVEN_UP_AFTER = "P6M"
"""After a try that was not passed, and nothing since: common practice, no source."""
MONTH_DAYS = 365.25 / 12


def month_number(day: date) -> int:
    """Months since the year 0, so that two can be subtracted."""
    return day.year * MONTHS + day.month - 1


def habits(history: Lived, prior: Forecast) -> Habits:
    """Shares and rates of the whole school, under whichever rubric."""
    tries = {kind: _of_kind(history, kind) for kind in KINDS}
    ended = {kind: [one for one in tries[kind] if not one.stopped] for kind in KINDS}
    return Habits(
        came_back(history, Share(prior.comes_back, prior.weight)),
        came_late(history, Share(prior.comes_late, prior.weight)),
        {
            kind: Share(
                *(prior.second_try, prior.weight),
                *(sum(not one.passed for one in tries[kind]), len(tries[kind])),
            )
            for kind in KINDS
        },
        _gave_up(tries, history.today, Share(prior.gives_up, prior.weight)),
        {
            kind: Rate(
                *(prior.one_more, prior.weight),
                *(sum(one.more for one in ended[kind]), float(len(ended[kind]))),
            )
            for kind in KINDS
        },
        {kind: _again_after(tries[kind]) for kind in KINDS},
        prior.weight,
    )


def _of_kind(history: Lived, kind: Kind) -> list[Try]:
    every = (one for tries in history.tries.values() for one in tries)
    return [one for one in every if history.kind(one.rubric) == kind]


def _gave_up(tries: Mapping[Kind, Sequence[Try]], today: date, prior: Share) -> Share:
    """Of tries not passed, those that nobody came back to; the newest ones may still be open."""
    until = subtract(today, GIVEN_UP_AFTER)
    missed = [one for every in tries.values() for one in every if not one.passed]
    known = [one for one in missed if one.next_lesson or one.on < until]
    count = sum(one.next_lesson is None for one in known)
    return Share(prior.prior, prior.weight, count, len(known))


def _again_after(tries: Sequence[Try]) -> int:
    """The middle wait from a try that was not passed to the next lesson, in whole months."""
    waits = [(one.next_lesson - one.on).days / MONTH_DAYS for one in tries if one.next_lesson]
    return max(round(median(waits)), 1) if waits else AGAIN_AFTER


def due_by(award: Award) -> date:
    """The last day for a refresher; without one, the award's own last day."""
    return award.dates.refresher_due or award.dates.last_day


def deadline(award: Award) -> date:
    """The last day on which its holder comes in time: grace included."""
    return award.dates.grace_until or due_by(award)


def _came(history: Lived, award: Award) -> date | None:
    """The day of the first lesson that was to keep the award, or of what took its place."""
    days = history.lessons_for(award)
    if award.id in history.follows:
        days.append(history.follows[award.id].granted)
    return min(days, default=None)


def _kept_or_not(history: Lived) -> Iterator[Award]:
    """Every award but those that a top-up took the place of: its dates are theirs, and go on."""
    for award in history.awards:
        later = history.follows.get(award.id)
        if later is None or due_by(later) != due_by(award):
            yield award


def _ran_out(history: Lived) -> Iterator[tuple[Award, date | None]]:
    """Awards past grace by now, and when their holders came; withdrawn ones left out."""
    for award in _kept_or_not(history):
        if deadline(award) < history.today and award.id not in history.withdrawn:
            yield award, _came(history, award)


def came_back(history: Lived, prior: Share) -> Share:
    """Of awards past grace by now, however they stand: those whose holder came in time."""
    found = [came is not None and came <= deadline(award) for award, came in _ran_out(history)]
    return Share(prior.prior, prior.weight, sum(found), len(found))


def came_early(history: Lived) -> int:
    """The middle number of months before the due month in which those came who kept an award.

    0 while nobody came.
    """
    leads = []
    for award in _kept_or_not(history):
        due, came = award.dates.refresher_due, _came(history, award)
        if due and came and came <= due:
            leads.append(month_number(due) - month_number(came))
    return round(median(leads)) if leads else 0


def came_late(history: Lived, prior: Share) -> Share:
    """Of months in which a holder past grace could have come: those in which one did.

    The month in which one came is the last of hers; the month that is not over yet is none.
    """
    came_in, months = 0, 0
    for award, came in _ran_out(history):
        ran_out = month_number(deadline(award))
        if came is not None and came <= deadline(award):
            continue
        if came is None:
            waited = max(month_number(history.today) - 1 - ran_out, 0)
        else:  # still in the month in which grace ended counts as in the next
            waited = max(month_number(came) - ran_out, 1)
        months += min(waited, GONE_AFTER)
        came_in += came is not None and waited <= GONE_AFTER
    return Share(prior.prior, prior.weight, came_in, months)


def newcomers(history: Lived, rubric: str, people: Iterable[str] | None, prior: Rate) -> Rate:
    """First practicals under the rubric, of these people or everybody, per month.

    Counted after the very first one, whose day alone says when the school began with the rubric.
    """
    first = _first_lessons(history, rubric)
    if not first:
        return prior
    begun = min(first.values())
    starter = min(whose for whose, day in first.items() if day == begun)
    wanted = first.keys() if people is None else set(people)
    count = sum(whose in wanted and whose != starter for whose in first)
    return Rate(prior.prior, prior.weight, count, (history.today - begun).days / MONTH_DAYS)


def by_calendar_month(
    history: Lived, rubric: str, people: Iterable[str] | None
) -> tuple[int, ...] | None:
    """Newcomers by calendar month over whole years; None while these are too few."""
    first = _first_lessons(history, rubric)
    if not first:
        return None
    this = month_number(history.today)
    years = (this - month_number(min(first.values())) - 1) // MONTHS
    if years < FEWEST_YEARS:
        return None
    wanted = first.keys() if people is None else set(people)
    counts = [0] * MONTHS
    for whose, day in first.items():
        if whose in wanted and this - years * MONTHS <= month_number(day) < this:
            counts[day.month - 1] += 1
    return tuple(counts)


def _first_lessons(history: Lived, rubric: str) -> dict[str, date]:
    return {who: days[0] for (who, under), days in history.lessons.items() if under == rubric}


def months_vary(history: Lived, rubric: str, seasons: Sequence[int] | None, weight: float) -> float:
    """How many times as much months of newcomers varied as if each had come alone; 1 by chance.

    Over the whole months since the one in which the school began with the rubric, of everybody.
    With `seasons`, newcomers by calendar month, each month is held against its season.
    """
    days = _first_lessons(history, rubric).values()
    numbers = [month_number(day) for day in days]
    first, this = min(numbers, default=0), month_number(history.today)
    whole = range(first + 1, this) if numbers else range(0)
    counts = [numbers.count(number) for number in whole]
    known = [count + weight for count in seasons or [0] * MONTHS]
    parts = [known[number % MONTHS] / sum(known) for number in whole]
    every = sum(parts) or 1
    return unevenness(counts, [sum(counts) * part / every for part in parts])
