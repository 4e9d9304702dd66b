"""What is certain of one rubric: its awards, who has begun already, and what a try takes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from standfast.desk.coming import Ahead, Terms, due_day, last_month_for_refresher, term_of
from standfast.desk.habits import GIVEN_UP_AFTER, came_early, deadline
from standfast.desk.lived import Lived
from standfast.engine.dates import DAY, award_dates, subtract
from standfast.engine.planning.chances import Rate
from standfast.engine.planning.forecast import Course, Habits, Term, Trying
from standfast.model.award import Award
from standfast.model.rubric import Rubric, Validity


@dataclass(frozen=True)
class Wanted:
    """One rubric that grants, of whom it is asked, and what is known of its newcomers."""

    rubric: Rubric
    validity: Validity
    people: frozenset[str]
    """Of the site asked for, or all who have a name."""
    newcomers: Rate
    by_calendar_month: tuple[int, ...] | None = None
    unevenness: float = 1.0


class Certain:
    """Reads one rubric's part of the record book into months."""

    def __init__(self, history: Lived, habits: Habits, ahead: Ahead) -> None:
        self.history, self.habits, self.ahead = history, habits, ahead
        self.early = came_early(history)
        """Months before the due month in which holders come who are in time."""

    def course(self, wanted: Wanted) -> Course:
        """The rubric as plain months."""
        terms, holders = Terms(self.ahead, self.early), set[str]()
        late, trying = list[Term](), list[Trying]()
        for award in self._standing(wanted):
            holders.add(award.candidate)
            begun = self._begun_again(award)
            if begun:
                trying.append(begun)
            elif self.history.today <= deadline(award):
                terms.hold(
                    self.history.validities.get(award.rubric.hash, wanted.validity), award.dates
                )
            else:
                late.append(term_of(self.ahead, award.dates, self._due(award), None))
        for candidate in sorted(wanted.people - holders):
            trying.extend(self._begun(candidate, wanted.rubric.id))
        fresh = self._fresh(terms, wanted.validity)
        return Course(
            terms=terms.all(),
            fresh=fresh,
            late=tuple(replace(term, held=held) for term, held in Counter(late).items()),
            newcomers=wanted.newcomers,
            by_calendar_month=wanted.by_calendar_month,
            unevenness=wanted.unevenness,
            trying=tuple(trying),
            lessons={
                "practical": wanted.rubric.decision.practicals,
                "refresher": self._refresher_lessons(wanted.rubric),
            },
        )

    def _due(self, award: Award) -> int:
        return self.ahead.number(due_day(award.dates))

    def _fresh(self, terms: Terms, validity: Validity) -> tuple[int, ...]:
        """For each month the term of an award that is granted in its middle."""
        return tuple(
            terms.place(validity, award_dates(validity, self.ahead.middle(month)), month)
            for month in range(len(self.ahead.starts))
        )

    def _refresher_lessons(self, rubric: Rubric) -> int:
        shorts = (self.history.rubrics[short] for short in self.history.refreshers(rubric.id))
        return min((short.decision.practicals for short in shorts), default=1)

    def _standing(self, wanted: Wanted) -> Iterator[Award]:
        """Awards in whose place none has come, of people asked about; not withdrawn ones."""
        for award in self.history.awards:
            own = award.rubric.id == wanted.rubric.id and award.candidate in wanted.people
            over = award.id in self.history.follows or award.id in self.history.withdrawn
            if own and not over:
                yield award

    def _begun_again(self, award: Award) -> Trying | None:
        """What a holder does who has begun to keep the award, or to gain it anew."""
        rubrics = (award.rubric.id, *self.history.refreshers(award.rubric.id))
        for begun in self._of(award.candidate, rubrics, award.granted):
            suffices = last_month_for_refresher(self.ahead, award.dates)
            if begun.kind == "refresher" and begun.month > suffices:
                return replace(begun, kind="practical", lessons=None)
            return begun
        return None

    def _of(self, candidate: str, rubrics: Iterable[str], since: date) -> Iterator[Trying]:
        for rubric in rubrics:
            yield from self._begun(candidate, rubric, since)

    def _begun(self, candidate: str, rubric: str, since: date = date.min) -> Iterator[Trying]:
        """The try that somebody has begun, or the next one after a try that was not passed."""
        known, history = self.history.rubrics.get(rubric), self.history
        if known is None:
            return
        kind, least = history.kind(rubric), known.decision.practicals
        tries = [one for one in history.tries.get((candidate, rubric), ()) if one.on > since]
        ended = tries[-1].on if tries else date.min
        window = subtract(history.today, known.decision.window)
        opens = max(since + DAY, ended + DAY, window)
        lessons = sum(day >= opens for day in history.lessons.get((candidate, rubric), ()))
        if lessons:
            yield Trying(0, kind, lessons=max(least - lessons, 0))
        elif tries and not tries[-1].passed and ended >= subtract(history.today, GIVEN_UP_AFTER):
            again = self.ahead.number(ended) + self.habits.again_after[kind]
            yield Trying(max(again, 0), kind)
