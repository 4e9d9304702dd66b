"""Whether a decision would have come out otherwise from assessors of average severity.

A question, never a ruling: nothing that was decided changes by it.

The rule for a level: to the level that was given is added what an assessor of average severity
gives more, or less, to the same lesson on the same criterion; of the levels of the criterion the
nearest counts, between two the one nearer to what was given; beyond the ends of the scale, its end.
So a severity that is worth less than half a level on a criterion changes no level of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from standfast.engine.decide import decide
from standfast.model.decision import Decision, Outcome, State
from standfast.model.focus import Focus
from standfast.model.people import ConflictPolicy, Person
from standfast.model.rubric import RatingCriterion, Rubric
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus

Shifts = Mapping[tuple[str, str, str], float]
"""Practical, assessor and criterion to what an assessor of average severity gives more."""


@dataclass(frozen=True)
class MadeFrom:
    """Everything that a decision was made from; see `engine.decide.decide`."""

    rubric: Rubric
    syllabus: Syllabus
    sheets: tuple[Sheet, ...]
    candidate: Person
    on: date
    since: date | None
    conflicts: ConflictPolicy
    focus: Focus | None

    def decided(self, sheets: Sequence[Sheet]) -> Decision:
        """The decision from these sheets in place of its own."""
        return decide(
            *(self.rubric, self.syllabus, sheets, self.candidate, self.on),
            *(self.since, self.conflicts, self.focus),
        )


@dataclass(frozen=True)
class ChangedLevel:
    """A level that would have been another."""

    sheet: str
    practical: str
    assessor: str
    criterion: str
    given: int
    fair: int


@dataclass(frozen=True)
class Tipped:
    """A decision whose word would have been another."""

    outcome: Outcome
    would_be: Outcome
    criteria: tuple[str, ...]
    """Whose finding would have been another."""
    changed: tuple[ChangedLevel, ...]
    """The levels of these criteria that would have been others."""


def tipped(made_from: MadeFrom, shifts: Shifts) -> Tipped | None:
    """How the decision would have come out otherwise; None when it would not.

    Both decisions are made anew by the same engine.  Levels that `shifts` does not name stay.

    Raises:
        Refused: what the engine refuses.
    """
    both = [rescored(sheet, made_from.rubric, shifts) for sheet in made_from.sheets]
    sheets = [sheet for sheet, _ in both]
    changed = [one for _, levels in both for one in levels]
    if not changed or not _turned(made_from, _levels_only(made_from.sheets), _levels_only(sheets)):
        return None
    before, after = made_from.decided(made_from.sheets), made_from.decided(sheets)
    if before.outcome == after.outcome:
        return None
    was, would_be = _states(before), _states(after)
    names = dict.fromkeys((*was, *would_be))
    criteria = tuple(name for name in names if was.get(name) != would_be.get(name))
    used = {*before.sheets}
    return Tipped(
        before.outcome,
        after.outcome,
        criteria,
        tuple(one for one in changed if one.criterion in criteria and one.sheet in used),
    )


def rescored(
    sheet: Sheet, rubric: Rubric, shifts: Shifts
) -> tuple[Sheet, tuple[ChangedLevel, ...]]:
    """The sheet with the levels that an assessor of average severity would have given."""
    ratings, changed = [], []
    for rating in sheet.ratings:
        shift = shifts.get((sheet.practical, sheet.assessor, rating.criterion))
        criterion = rubric.criterion(rating.criterion)
        if shift is None or rating.level is None or not isinstance(criterion, RatingCriterion):
            ratings.append(rating)
            continue
        level = fair_level(criterion, rating.level, shift)
        ratings.append(rating.model_copy(update={"level": level}))
        if level != rating.level:
            where = (sheet.id, sheet.practical, sheet.assessor, rating.criterion)
            changed.append(ChangedLevel(*where, rating.level, level))
    return sheet.model_copy(update={"ratings": tuple(ratings)}), tuple(changed)


def fair_level(criterion: RatingCriterion, given: int, shift: float) -> int:
    """The level of the criterion nearest to what was given and `shift` more."""
    wanted = given + shift
    levels = [one.level for one in criterion.levels]
    return min(levels, key=lambda level: (abs(level - wanted), abs(level - given)))


def _levels_only(sheets: Sequence[Sheet]) -> list[Sheet]:
    """The sheets without what is counted: findings on ratings come from levels alone."""
    bare = {"attempts": (), "clearances": (), "samples": ()}
    return [sheet.model_copy(update=bare) for sheet in sheets]


def _turned(made_from: MadeFrom, before: Sequence[Sheet], after: Sequence[Sheet]) -> bool:
    """Whether any finding turns; without one the outcome cannot.  Quick, as little is counted."""
    return _states(made_from.decided(before)) != _states(made_from.decided(after))


def _states(decision: Decision) -> dict[str, State]:
    return {finding.criterion: finding.state for finding in decision.findings}
