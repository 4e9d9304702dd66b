"""From the records of a lesson to its score sheet; the same rules as the page beside the mat.

Pure, and whatever the order in which records arrived: they count in that of their numbers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, TypeVar

import rfc8785

from standfast.model import mat
from standfast.model.evidence import (
    Attempt,
    Clearance,
    Incident,
    Note,
    Rating,
    Repetition,
    Sample,
    Student,
)
from standfast.model.sheet import Sheet

KindT = TypeVar("KindT")
TimedT = TypeVar("TimedT", mat.Cleared, mat.Unassisted)

SIGNED_OPEN = "Signed with points open: "


@dataclass(frozen=True)
class Signature:
    """How a sheet's signature stands."""

    missing: tuple[int, ...] = ()
    """Numbers of records that have not come yet."""
    fault: str = ""
    """Why it does not hold; empty when it does."""


def digest(records: Iterable[dict[str, Any]]) -> str:
    """SHA-256 over the records by number, each canonical (RFC 8785) and in a line of its own."""
    ordered = sorted(records, key=lambda record: record["n"])
    return sha256(b"".join(rfc8785.dumps(record) + b"\n" for record in ordered)).hexdigest()


def signature(raw: Iterable[dict[str, Any]], sign: mat.Sign, n: int) -> Signature:
    """Whether the records before number `n`, as they were sent, are those that were signed."""
    before = [record for record in raw if record["n"] < n]
    there = {record["n"] for record in before}
    missing = tuple(number for number in range(1, n) if number not in there)
    if missing:
        return Signature(missing)
    if sign.count != len(before):
        return Signature((), f"{sign.count} records were signed, and there are {len(before)}")
    if sign.sha256 != digest(before):
        return Signature((), "what was signed is not what came: the contents differ")
    return Signature()


def in_effect(records: Iterable[mat.Record]) -> list[mat.Record]:
    """In the order of their numbers, without what was taken back; nobody takes back the begin."""
    ordered = sorted(records, key=lambda record: record.n)
    undone = {one.body.of for one in ordered if isinstance(one.body, mat.Undo)}
    return [
        one
        for one in ordered
        if one.id not in undone or isinstance(one.body, mat.Begin | mat.Sign | mat.Reopen)
    ]


def named_last(records: Iterable[mat.Record]) -> str | None:
    """The name of the lesson as it was said last; None without a begin."""
    said = [one.body for one in in_effect(records)]
    named = [one.practical for one in said if isinstance(one, mat.Begin | mat.Mended)]
    return named[-1] if named else None


def sheet_of(records: Iterable[mat.Record]) -> Sheet | None:
    """The score sheet that the records come to; None without a begin."""
    counting = in_effect(records)
    begin = next((one for one in counting if isinstance(one.body, mat.Begin)), None)
    if begin is None or not isinstance(begin.body, mat.Begin):
        return None
    head, taps = begin.body, [one.body for one in counting]
    said: list[mat.Begin | mat.Mended] = [head, *_of(taps, mat.Mended)]
    where = said[-1]
    ends = [one.t for one in _of(taps, mat.End)]
    times = [t for tap in taps if isinstance(t := getattr(tap, "t", None), int)]
    last = ends[-1] if ends else max(times, default=0)
    return Sheet(
        id=begin.sheet,
        practical=where.practical,
        rubric=head.rubric,
        rubric_version=head.rubric_version,
        candidate=head.candidate,
        assessor=head.assessor,
        began=where.began,
        minutes=max(1, -(-last // 60)),
        site=where.site,
        source="web",
        students=_students(head, taps),
        attempts=_attempts(taps),
        clearances=tuple(
            Clearance(at=one.t, student=one.student, skill=one.skill, choice=one.choice)
            for one in _in_time(_of(taps, mat.Cleared))
        ),
        samples=_samples(taps),
        ratings=_ratings(taps),
        incidents=_incidents(taps),
        notes=_notes(taps),
        covers=head.covers,
    )


def _of(taps: Iterable[object], kind: type[KindT]) -> list[KindT]:
    return [tap for tap in taps if isinstance(tap, kind)]


def _in_time(taps: list[TimedT]) -> list[TimedT]:
    """As it happened: the lines of a paper sheet are typed in any order."""
    return sorted(taps, key=lambda one: one.t)


def _students(head: mat.Begin, taps: list[mat.Tap]) -> tuple[Student, ...]:
    done = _in_time(_of(taps, mat.Unassisted))
    return tuple(
        Student(
            student=one.student,
            log=one.log,
            repetitions=tuple(
                Repetition(at=r.t, skill=r.skill) for r in done if r.student == one.student
            ),
        )
        for one in head.students
    )


def _attempts(taps: list[mat.Tap]) -> tuple[Attempt, ...]:
    """One for each try with a mark, at the time of its first."""
    failed = {one.try_ for one in _of(taps, mat.Failed)}
    tries: dict[int, list[mat.Mark]] = {}
    for mark in _of(taps, mat.Mark):
        tries.setdefault(mark.try_, []).append(mark)
    found = [
        Attempt(
            at=marks[0].t,
            student=marks[-1].student,
            skill=marks[-1].skill,
            failed=number in failed,
            answers={mark.criterion: mark.answer for mark in marks},
        )
        for number, marks in tries.items()
    ]
    return tuple(sorted(found, key=lambda one: one.at))


def _samples(taps: list[mat.Tap]) -> tuple[Sample, ...]:
    """The first record of each look: a missed one is never filled in later."""
    looks: dict[int, mat.Look] = {}
    for one in _of(taps, mat.Look):
        looks.setdefault(one.look, one)
    return tuple(
        Sample(look=one.look, at=one.t, waiting=one.waiting, idle=one.idle)
        for _, one in sorted(looks.items())
    )


def _ratings(taps: list[mat.Tap]) -> tuple[Rating, ...]:
    last = {one.criterion: one for one in _of(taps, mat.Rated)}
    return tuple(
        Rating(criterion=one.criterion, level=one.level, note=one.note) for one in last.values()
    )


def _incidents(taps: list[mat.Tap]) -> tuple[Incident, ...]:
    found = [
        Incident(at=one.t, criterion=one.criterion, student=one.student, note=one.note)
        for one in taps
        if isinstance(one, mat.Happened | mat.Stop) and one.criterion
    ]
    return tuple(sorted(found, key=lambda one: one.at))


def _notes(taps: list[mat.Tap]) -> tuple[Note, ...]:
    notes = [Note(at=one.t, text=one.text) for one in _of(taps, mat.Written)]
    notes += [Note(text=f"{SIGNED_OPEN}{one.text}"[:4000]) for one in _of(taps, mat.Reason)[-1:]]
    return tuple(notes)
