"""Decisions that would have come out otherwise from assessors of average severity.

A list for a person to look at: nothing that was decided is changed, here or by anything that reads
it.  The rule says `engine/otherwise.py`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from standfast.desk.opening import Desk
from standfast.desk.severities import Severity
from standfast.engine.otherwise import ChangedLevel, MadeFrom, Shifts, tipped
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.store.replay import Case
    from standfast.store.taught import Rests

AT_A_TIME = 200
"""Decisions whose sheets are held at once."""


@dataclass(frozen=True)
class Otherwise:
    """A decision that an assessor of average severity would have tipped."""

    entry: str
    candidate: str
    name: str
    rubric: str
    on: date
    practicals: tuple[str, ...]
    outcome: str
    would_be: str
    criteria: tuple[str, ...]
    changed: tuple[ChangedLevel, ...]
    certain: bool
    """Whether the severity of an assessor whose levels would have been others is beyond doubt."""


@dataclass(frozen=True)
class Asked:
    """Which decisions were asked about."""

    found: tuple[Otherwise, ...]
    """In the order of the journal."""
    decisions: int
    """How many decisions stand by the day."""
    touched: int
    """Those with a lesson on which some assessor is half a level or more off on a criterion."""
    left_out: tuple[str, ...] = ()
    """What could not be decided again, and why."""


def decided_otherwise(desk: Desk, severity: Severity, rubric: str | None = None) -> Asked:
    """Every decision that stands whose word would have been another.

    Those up to the desk's day, under that rubric or all.  Only lessons that the severities are
    counted from can tip anything; a decision that the engine refuses now is named.
    """
    shifts = {
        (lesson, who, criterion): shift
        for _, found in severity.told()
        for lesson, who, criterion, shift in found.shifts
    }
    kept = [one for one in desk.book.rests(rubric) if one.day <= desk.today]
    far = {key[:2] for key in shifts}
    touched = _touched(desk, kept, far) if far else []
    found: list[Otherwise] = []
    left_out: list[str] = []
    certain = _certain(severity)
    for case in _cases(desk, touched):
        try:
            one = _asked(desk, case, shifts, certain)
        except Refused as why:
            left_out.append(f"decision {case.entry} cannot be made again: {why.what}")
        else:
            found += [one] if one else []
    return Asked(tuple(found), len(kept), len(touched), tuple(left_out))


def _touched(desk: Desk, kept: Sequence[Rests], far: Collection[tuple[str, str]]) -> list[str]:
    """The entries of the decisions that rest on such sheets, by practical and assessor."""
    keys = desk.book.sheet_keys()
    return [one.entry for one in kept if any(keys[sheet] in far for sheet in one.sheets)]


def _cases(desk: Desk, entries: Sequence[str]) -> Iterator[Case]:
    for start in range(0, len(entries), AT_A_TIME):
        yield from desk.book.cases(entries[start : start + AT_A_TIME])


def _asked(
    desk: Desk, case: Case, shifts: Shifts, certain: Mapping[tuple[str, str], bool]
) -> Otherwise | None:
    from standfast.desk.people import name_of

    made_from = MadeFrom(
        *(case.rubric, case.syllabus, case.sheets, case.candidate, case.on),
        *(case.since, case.conflicts, case.focus),
    )
    tip = tipped(made_from, shifts)
    decided = str(case.kept["outcome"])
    if tip is None or tip.would_be == decided:
        return None
    return Otherwise(
        case.entry,
        *(case.candidate.id, name_of(desk, case.candidate.id), case.rubric.id, case.on),
        tuple(dict.fromkeys(one.practical for one in tip.changed)),
        *(decided, tip.would_be, tip.criteria, tip.changed),
        any(certain.get((one.practical, one.assessor), False) for one in tip.changed),
    )


def _certain(severity: Severity) -> Mapping[tuple[str, str], bool]:
    """For each lesson and assessor whether that severity is certain in the lesson's part."""
    found = {}
    for _, said in severity.told():
        certain = {one.assessor: one.certain for one in said.assessors}
        for lesson, who, _, _ in said.shifts:
            found[lesson, who] = certain[who]
    return found
