"""What a sheet says of when things happened that cannot be: order, end, stop, looks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

from standfast.engine.lesson import Lesson, clock, nothing_asks
from standfast.model.evidence import Sample
from standfast.model.rubric import SamplesCriterion
from standfast.model.sheet import Sheet
from standfast.problems import Fault, Path


class _Timed(Protocol):
    @property
    def at(self) -> int: ...


def _lists(sheet: Sheet) -> Iterator[tuple[Path, Sequence[_Timed]]]:
    yield ("attempts",), sheet.attempts
    yield ("clearances",), sheet.clearances
    yield ("samples",), sheet.samples
    yield ("incidents",), sheet.incidents
    for n, student in enumerate(sheet.students):
        yield ("students", n, "repetitions"), student.repetitions


def times(lesson: Lesson) -> Iterator[Fault]:
    """Times in the order of each list, none after the lesson's end."""
    end = lesson.sheet.minutes * 60
    for path, records in _lists(lesson.sheet):
        before = 0
        for n, record in enumerate(records):
            here = (*path, n, "at")
            if record.at < before:
                yield Fault(
                    here,
                    f"{clock(record.at)} comes after {clock(before)} in the list",
                    "mend the time, or put the records in the order in which they happened",
                )
            if record.at > end:
                yield _too_late(here, record.at, end)
            before = max(before, record.at)
    for n, note in enumerate(lesson.sheet.notes):
        if note.at is not None and note.at > end:
            yield _too_late(("notes", n, "at"), note.at, end)


def _too_late(path: Path, at: int, end: int) -> Fault:
    return Fault(
        path,
        f"{clock(at)} is after the lesson's end at {clock(end)}",
        "mend the time, or the lesson's minutes",
    )


def after_a_stop(lesson: Lesson) -> Iterator[Fault]:
    """Nothing is scored once an incident has stopped the lesson."""
    stop = lesson.stopped_at
    if stop is None:
        return
    for path, records in _lists(lesson.sheet):
        for n, record in enumerate(records):
            if record.at > stop and path != ("incidents",):
                yield Fault(
                    (*path, n, "at"),
                    f"{clock(record.at)} is after the incident that stopped the lesson at"
                    f" {clock(stop)}",
                    "mend the time, or leave out what was not part of the practical any more",
                )


# Looks at the waiting students


def looks(lesson: Lesson) -> Iterator[Fault]:
    """Looks that can be: each once, near when it was due, no more idle than waiting."""
    criteria = [c for c in lesson.rubric.criteria() if isinstance(c, SamplesCriterion)]
    if lesson.sheet.samples and not criteria:
        yield nothing_asks(("samples",), "looks at waiting students")
        return
    seen: set[int] = set()
    for n, sample in enumerate(lesson.sheet.samples):
        path: Path = ("samples", n)
        yield from _look_counts(lesson, path, sample)
        if sample.look in seen:
            yield Fault(
                (*path, "look"), f"look {sample.look} is there twice", "number it as it was due"
            )
        seen.add(sample.look)
        yield from _look_time(path, sample, criteria[0].standard.every)


def _look_counts(lesson: Lesson, path: Path, sample: Sample) -> Iterator[Fault]:
    waiting, idle = sample.waiting, sample.idle
    if (waiting is None) is not (idle is None):
        given, lacking = ("idle", "waiting") if waiting is None else ("waiting", "idle")
        yield Fault(
            (*path, given),
            f"'{given}' is there without '{lacking}'",
            f"add '{lacking}', or leave both empty when the look was missed",
        )
    if waiting is not None and idle is not None and idle > waiting:
        yield Fault(
            (*path, "idle"),
            f"{idle} idle of {waiting} waiting",
            f"at most {waiting} can be idle; mend one of the two",
        )
    if waiting is not None and waiting > len(lesson.students):
        yield Fault(
            (*path, "waiting"),
            f"{waiting} waiting, but {len(lesson.students)} students in the lesson",
            "mend the count, or add the missing students",
        )


def _look_time(path: Path, sample: Sample, every: int) -> Iterator[Fault]:
    """A look belongs to the nearest due time: half an interval away it is another look."""
    due = sample.look * every
    off = sample.at - due
    if abs(off) * 2 > every:
        side = "after" if off > 0 else "before"
        yield Fault(
            (*path, "at"),
            f"look {sample.look} at {clock(sample.at)} is {clock(abs(off))} {side} it was due, at"
            f" {clock(due)}",
            f"mend the time or the number; looks are {clock(every)} apart, the first at"
            f" {clock(every)}",
        )
