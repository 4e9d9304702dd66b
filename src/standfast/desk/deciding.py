"""Who waits for a decision or an award: the work of whoever certifies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from standfast.desk.decisions import decide_for
from standfast.desk.opening import Desk
from standfast.desk.people import name_of
from standfast.model.decision import Outcome
from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.store.taught import Decided

Whose = tuple[str, str]
"""A candidate and a rubric."""


@dataclass(frozen=True)
class ToDecide:
    """A candidate whose practicals were not decided on yet, or whose pass was not awarded."""

    candidate: str
    name: str
    rubric: str
    practicals: int
    """Scored since the last decision."""
    newest: date
    outcome: Outcome | None
    """What the rule says of the evidence today; None when it cannot say."""
    because: str
    """The first reason that does not hold, or why it cannot say."""
    passed_on: date | None
    """The day of a pass in the book on which no award rests."""


def to_decide(desk: Desk) -> tuple[ToDecide, ...]:
    """Everybody who waits, passes first, then by how long the newest practical is ago."""
    last: dict[Whose, Decided] = {
        (one.candidate, one.rubric): one for one in desk.book.decided() if one.day <= desk.today
    }
    scored: Counter[Whose] = Counter()
    newest: dict[Whose, date] = {}
    for lesson in desk.book.lessons():
        whose = (lesson.candidate, lesson.rubric)
        before = last.get(whose)
        if lesson.day <= desk.today and (before is None or lesson.day > before.day):
            scored[whose] += 1
            newest[whose] = max(lesson.day, newest.get(whose, lesson.day))
    passed = _not_awarded(desk, last)
    found = [
        _told(desk, whose, scored[whose], newest.get(whose), passed.get(whose))
        for whose in {**newest, **passed}
    ]
    order = {"pass": 0, "stopped": 1, "fail": 2, "more": 3, None: 4}
    return tuple(sorted(found, key=lambda one: (order[one.outcome], one.newest, one.name)))


def _not_awarded(desk: Desk, last: Mapping[Whose, Decided]) -> dict[Whose, date]:
    """The last decisions that are a pass, and on which no award rests."""
    passes = {whose: one for whose, one in last.items() if one.outcome == "pass"}
    if not passes:
        return {}
    awarded = {one.award.decision for one in desk.book.awards(past=True)}
    return {whose: one.day for whose, one in passes.items() if one.entry not in awarded}


def _told(
    desk: Desk, whose: Whose, scored: int, newest: date | None, passed: date | None
) -> ToDecide:
    candidate, rubric = whose
    outcome: Outcome | None = None
    try:
        decision = decide_for(desk, candidate, rubric).decision
    except StandfastError as error:
        because = str(error).splitlines()[0]
    else:
        outcome = decision.outcome
        failing = [one.says for one in decision.reasons if one.state != "met"]
        because = failing[0] if failing else "every step of the rule holds"
    name, seen = name_of(desk, candidate), newest or passed or desk.today
    return ToDecide(candidate, name, rubric, scored, seen, outcome, because, passed)
