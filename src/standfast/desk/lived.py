"""What happened at a school by a day, as far as a forecast can learn from it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property, partial
from typing import TYPE_CHECKING

from standfast.desk.honouring import rubric_text
from standfast.desk.opening import Desk
from standfast.engine.dates import DAY, standing, subtract
from standfast.engine.planning.forecast import Kind
from standfast.model.award import Award
from standfast.model.base import Period
from standfast.model.rubric import Rubric, Validity

if TYPE_CHECKING:
    from standfast.store.taught import Decided

Whose = tuple[str, str]
"""A candidate and a rubric."""


@dataclass(frozen=True)
class Try:
    """Lessons of one candidate under one rubric that ended in a pass, a fail or a stop."""

    rubric: str
    on: date
    passed: bool
    stopped: bool
    more: int
    """Lessons beyond the least number that the rubric asks for."""
    next_lesson: date | None
    """Under the same rubric, after a try that was not passed."""


@dataclass(frozen=True)
class Lived:
    """What happened at a school by a day, as far as a forecast can learn from it."""

    today: date
    awards: tuple[Award, ...]
    """All that were ever granted, but for corrected ones."""
    withdrawn: frozenset[str]
    rubrics: Mapping[str, Rubric]
    """The newest text of each."""
    validities: Mapping[str, Validity]
    """Under which awards run, by the hash of their rubric."""
    lessons: Mapping[Whose, tuple[date, ...]]
    tries: Mapping[Whose, tuple[Try, ...]]

    @cached_property
    def follows(self) -> Mapping[str, Award]:
        """For an award's id the one that took its place."""
        return {award.renews: award for award in self.awards if award.renews}

    @cached_property
    def granting(self) -> tuple[str, ...]:
        """Rubrics that grant something, by id."""
        return tuple(sorted(rubric.id for rubric in self.rubrics.values() if rubric.grants))

    def refreshers(self, rubric: str) -> tuple[str, ...]:
        """The rubrics whose pass keeps an award under that rubric."""
        found = (short.id for short in self.rubrics.values() if short.refreshes == rubric)
        return tuple(sorted(found))

    def kind(self, rubric: str) -> Kind:
        """Whether its lessons are refreshers or practicals."""
        known = self.rubrics.get(rubric)
        return "refresher" if known and known.refreshes else "practical"

    def lessons_for(self, award: Award) -> list[date]:
        """Lessons after the award was granted that were to keep it or to gain it anew, by day."""
        wanted = (award.rubric.id, *self.refreshers(award.rubric.id))
        days = (day for rubric in wanted for day in self.lessons.get((award.candidate, rubric), ()))
        return sorted(day for day in days if day > award.granted)


def lived(desk: Desk) -> Lived:
    """What happened by the desk's day."""
    today = desk.today
    kept = [one for one in desk.book.awards(past=True) if one.superseded_by is None]
    awards = tuple(one.award for one in kept if one.award.granted <= today)
    lessons: defaultdict[Whose, list[date]] = defaultdict(list)
    for one in desk.book.lessons():
        if one.day <= today:
            lessons[one.candidate, one.rubric].append(one.day)
    decided: defaultdict[Whose, list[Decided]] = defaultdict(list)
    for made in desk.book.decided():
        if made.day <= today:
            decided[made.candidate, made.rubric].append(made)
    ruled = desk.book.ruled()
    return Lived(
        today,
        awards,
        frozenset(a.id for a in awards if a.id in ruled and _withdrawn(desk, a)),
        _newest_of_each(desk),
        {award.rubric.hash: found for award in awards if (found := _validity(desk, award))},
        {whose: tuple(sorted(days)) for whose, days in lessons.items()},
        {
            whose: tuple(tries_of(made, lessons[whose], partial(rubric_text, desk)))
            for whose, made in decided.items()
        },
    )


def _withdrawn(desk: Desk, award: Award) -> bool:
    return standing(award, {}, desk.today, desk.book.rulings(award.id)).state == "withdrawn"


def _newest_of_each(desk: Desk) -> dict[str, Rubric]:
    """The newest text of each rubric, files before what the book keeps."""
    kept = (rubric_text(desk, reference.hash) for reference in desk.book.texts("rubric"))
    newest = {text.id: text for text in kept if text}
    written = sorted((placed.noun for placed in desk.definitions.rubrics), key=lambda r: r.version)
    return newest | {rubric.id: rubric for rubric in written}


def _validity(desk: Desk, award: Award) -> Validity | None:
    """What the award runs under: its rubric's, as it was kept."""
    text = rubric_text(desk, award.rubric.hash)
    return text.validity if text else None


def tries_of(
    made: Iterable[Decided], lessons: Sequence[date], rubric_of: Callable[[str], Rubric | None]
) -> Iterator[Try]:
    """The tries of one candidate under one rubric, in order, from decisions and days of lessons.

    A decision without a new lesson is the one before it, entered again; more evidence needed ends
    no try.
    """
    before: date | None = None
    for one in made:
        rubric = rubric_of(one.rubric_hash)
        if one.outcome == "more" or rubric is None:
            continue
        opens = _opens(one.day, rubric.decision.window, before)
        own = [day for day in lessons if opens <= day <= one.day]
        if not own:
            continue
        passed = one.outcome == "pass"
        later = min((day for day in lessons if day > one.day), default=None)
        yield Try(
            one.rubric,
            one.day,
            passed,
            one.outcome == "stopped",
            max(len(own) - rubric.decision.practicals, 0),
            None if passed else later,
        )
        before = one.day


def _opens(day: date, window: Period, before: date | None) -> date:
    """The first day whose lessons counted: what came by an earlier decision belongs to it."""
    opens = subtract(day, window)
    return max(opens, before + DAY) if before else opens
