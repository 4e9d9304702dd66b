"""Which sheets count on a day, and why the others do not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from standfast.engine.dates import subtract
from standfast.model.decision import LeftOut
from standfast.model.focus import Focus
from standfast.model.people import ConflictPolicy, Person
from standfast.model.rubric import IncidentCriterion, Rubric
from standfast.model.sheet import Sheet
from standfast.problems import Refused


@dataclass(frozen=True)
class Evidence:
    """The sheets that count, sorted by when the lesson began, and those that do not."""

    sheets: tuple[Sheet, ...]
    left_out: tuple[LeftOut, ...]
    opens: date
    """The first day of the rubric's window."""

    def practicals(self) -> tuple[tuple[Sheet, ...], ...]:
        """The sheets of each practical together, in the order in which the lessons began."""
        by_practical = sorted(self.sheets, key=lambda sheet: sheet.practical)
        groups = [
            tuple(sorted(group, key=_order))
            for _, group in groupby(by_practical, key=lambda sheet: sheet.practical)
        ]
        return tuple(sorted(groups, key=lambda group: (_order(group[0]), group[0].practical)))

    def days(self) -> tuple[date, ...]:
        """The days on which practicals were taught, earliest first."""
        return tuple(sorted({sheet.on for sheet in self.sheets}))


def sort_out(
    rubric: Rubric,
    sheets: Iterable[Sheet],
    candidate: Person,
    on: date,
    since: date | None,
    conflicts: ConflictPolicy = "refused",
    focus: Focus | None = None,
) -> Evidence:
    """The evidence that counts for that candidate under that rubric on that day.

    `since` is the day of the last decision that ended in fail or stopped: what came up to then
    does not count again.  Under the policy `refused` no sheet counts whose assessor had a conflict
    of interest with the candidate on the day of the lesson.  Without a `focus` no sheet counts that
    covers only a part of the rubric.

    Raises:
        Refused: the same sheet id is there twice with different content.
    """
    by_id = _each_once(sheets)
    corrected = {sheet.corrects.of for sheet in by_id.values() if sheet.corrects}
    opens = subtract(on, rubric.decision.window)
    case = _Case(rubric, candidate, on, since, opens, corrected, conflicts, focus)
    counted, left_out = [], []
    for sheet in sorted(by_id.values(), key=_order):
        because = next(case.against(sheet), None)
        if because is None:
            counted.append(sheet)
        else:
            left_out.append(LeftOut(sheet=sheet.id, because=because + case.stop_on(sheet)))
    return Evidence(tuple(counted), tuple(left_out), opens)


def _order(sheet: Sheet) -> tuple[object, ...]:
    return (sheet.began, sheet.id)


def _each_once(sheets: Iterable[Sheet]) -> dict[str, Sheet]:
    found: dict[str, Sheet] = {}
    for sheet in sheets:
        if found.setdefault(sheet.id, sheet) != sheet:
            raise Refused(f"sheet {sheet.id} is there twice with different content")
    return found


@dataclass(frozen=True)
class _Case:
    rubric: Rubric
    candidate: Person
    on: date
    since: date | None
    opens: date
    corrected: set[str]
    conflicts: ConflictPolicy
    focus: Focus | None

    def against(self, sheet: Sheet) -> Iterator[str]:
        """Every reason why the sheet does not count, the plainest first."""
        if sheet.candidate != self.candidate.id:
            yield "it is about another candidate"
        if sheet.id in self.corrected:
            yield "a corrected sheet has taken its place"
        if sheet.rubric != self.rubric.id:
            yield f"it was scored under {sheet.rubric}, not {self.rubric.id}"
        if sheet.rubric_version != self.rubric.version:
            yield (
                f"it was scored under version {sheet.rubric_version};"
                f" this decision is under version {self.rubric.version}"
            )
        if sheet.assessor == self.candidate.id:
            yield "the candidate scored it"
        if sheet.covers and self.focus is None:
            yield "it covers only a part of the rubric, and this decision is on the whole of it"
        if self.conflicts == "refused" and self.candidate.tied_to(sheet.assessor, sheet.on):
            yield "its assessor had a conflict of interest with the candidate on that day"
        yield from self._days_against(sheet)

    def _days_against(self, sheet: Sheet) -> Iterator[str]:
        if sheet.on > self.on:
            yield f"the lesson was on {sheet.on}, after the day of the decision"
        if self.since is not None and sheet.on <= self.since:
            yield f"a decision on {self.since} has used the evidence up to that day"
        if sheet.on < self.opens:
            yield (
                f"the lesson was on {sheet.on}; only lessons from {self.opens} on count"
                f" ({self.rubric.decision.window} before the decision)"
            )

    def stop_on(self, sheet: Sheet) -> str:
        """Said of a sheet that does not count but tells of a stop, so that nobody misses it."""
        stops = {
            criterion.id
            for criterion in self.rubric.criteria()
            if isinstance(criterion, IncidentCriterion) and criterion.standard.effect == "stops"
        }
        if sheet.candidate == self.candidate.id and any(
            incident.criterion in stops for incident in sheet.incidents
        ):
            return "; it records an incident that stopped the lesson"
        return ""
