"""Practicals as the office sees them: who has scored, who is awaited, where assessors part."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from standfast.desk.definitions import kept
from standfast.desk.opening import Desk
from standfast.desk.people import name_of
from standfast.engine.joining import joined
from standfast.engine.replaying import named_last
from standfast.model.decision import Disagreement
from standfast.model.mat import Begin
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet
from standfast.problems import NotFound

if TYPE_CHECKING:
    from standfast.store.sheets import KeptSheet
    from standfast.store.taught import Decided, Lesson

RECENT = timedelta(days=90)
"""Decided practicals are listed for so long; those that wait for a decision always."""


@dataclass(frozen=True)
class Begun:
    """A sheet that somebody began beside the mat, and that is not signed yet."""

    practical: str
    assessor: str
    """Name."""
    records: int
    last: str
    """When the newest of them came in, ISO 8601."""


@dataclass(frozen=True)
class Practical:
    """One lesson, and who scored it."""

    practical: str
    on: date
    site: str
    candidate: str
    """Slug."""
    name: str
    rubric: str
    assessors: tuple[str, ...]
    """Slugs, by name."""
    names: tuple[str, ...]
    begun: tuple[Begun, ...]
    decided: bool
    """Whether a decision came on its day or later."""
    waits: bool
    """Whether a second sheet may still come: one is there, it is recent, nothing is decided."""
    differences: int
    """Marks on which its sheets differ."""


@dataclass(frozen=True)
class Differing:
    """The marks of one criterion that differ, and the one that counts."""

    title: str
    rule: str
    """How marks of several sheets become one."""
    critical: bool
    found: tuple[Disagreement, ...]


@dataclass(frozen=True)
class SideBySide:
    """The sheets of one practical beside each other."""

    practical: str
    on: date
    site: str
    candidate: str
    name: str
    rubric: Rubric
    sheets: tuple[Sheet, ...]
    names: tuple[str, ...]
    """Of the assessors, in the order of the sheets."""
    differing: tuple[Differing, ...]

    def mark(self, of: Disagreement, sheet: Sheet) -> str:
        """What the sheet says of that; empty when it says nothing."""
        return next((one.mark for one in of.marks if one.sheet == sheet.id), "")


def practicals(desk: Desk, assessor: str | None = None) -> tuple[Practical, ...]:
    """Those without a decision, and those of the last 90 days; newest first.

    With an assessor only those that she scored.
    """
    begun = begun_beside_the_mat(desk)
    last = _last_decided(desk.book.decided(), desk.today)
    wanted = [
        one
        for one in desk.book.lessons()
        if one.day <= desk.today and (desk.today - one.day <= RECENT or not _decided(one, last))
    ]
    found = [
        _practical(desk, one, begun.get(one.practical, ()), decided=_decided(one, last))
        for one in wanted
    ]
    mine = [one for one in found if assessor is None or assessor in one.assessors]
    return tuple(sorted(mine, key=lambda one: (one.on, one.practical), reverse=True))


def _last_decided(decided: Iterable[Decided], by: date) -> dict[tuple[str, str], date]:
    """For each candidate and rubric the day of the last decision."""
    return {(one.candidate, one.rubric): one.day for one in decided if one.day <= by}


def _decided(lesson: Lesson, last: Mapping[tuple[str, str], date]) -> bool:
    return lesson.day <= last.get((lesson.candidate, lesson.rubric), date.min)


def _practical(desk: Desk, of: Lesson, begun: Sequence[Begun], *, decided: bool) -> Practical:
    taken = _sheets(desk, of.practical)
    sheets = [one.sheet for one in taken]
    recent = desk.today - of.day <= RECENT
    return Practical(
        of.practical,
        of.day,
        next((one.site for one in sheets if one.site), ""),
        of.candidate,
        name_of(desk, of.candidate),
        of.rubric,
        tuple(one.assessor for one in sheets),
        tuple(name_of(desk, one.assessor) for one in sheets),
        tuple(begun),
        decided,
        len(sheets) == 1 and recent and not decided,
        sum(len(one.found) for one in _differing(desk, taken)),
    )


def _sheets(desk: Desk, practical: str) -> list[KeptSheet]:
    found = [one for one in desk.book.sheets(practical=practical) if one.sheet.on <= desk.today]
    return sorted(found, key=lambda one: name_of(desk, one.sheet.assessor))


def begun_beside_the_mat(desk: Desk) -> dict[str, list[Begun]]:
    """For each practical the sheets that were begun on a device and are not in the book."""
    found: dict[str, list[Begun]] = defaultdict(list)
    for one in desk.book.records.unfinished():
        begin = one.begin.record.body
        if isinstance(begin, Begin):
            kept = desk.book.records.of_sheet(one.begin.record.sheet)
            practical = named_last(each.record for each in kept) or begin.practical
            who = name_of(desk, begin.assessor)
            found[practical].append(Begun(practical, who, one.records, one.last))
    return found


def side_by_side(desk: Desk, practical: str) -> SideBySide:
    """The sheets of a practical, and every mark on which they differ, by criterion.

    Raises:
        NotFound: there is no such practical.
    """
    taken = _sheets(desk, practical)
    if not taken:
        known = [one.practical for one in desk.book.lessons()]
        raise NotFound("practical", practical, known)
    sheets = tuple(one.sheet for one in taken)
    first = sheets[0]
    return SideBySide(
        practical,
        first.on,
        next((one.site for one in sheets if one.site), ""),
        first.candidate,
        name_of(desk, first.candidate),
        kept(desk, taken[0].rubric.hash, taken[0].syllabus.hash).rubric,
        sheets,
        tuple(name_of(desk, one.assessor) for one in sheets),
        tuple(_differing(desk, taken)),
    )


def _differing(desk: Desk, taken: Sequence[KeptSheet]) -> Iterator[Differing]:
    """By criterion in the order of the rubric; only those with a difference."""
    if len(taken) == 1:
        return
    texts = kept(desk, taken[0].rubric.hash, taken[0].syllabus.hash)
    policy = texts.rubric.joining
    every = joined(texts.rubric, texts.syllabus, [[one.sheet for one in taken]])
    for criterion in texts.rubric.criteria():
        found = every[criterion.id].disagreements
        if found:
            rule = policy.critical if criterion.critical else policy.other
            yield Differing(criterion.title, rule, criterion.critical, found)
