"""From the lines of a draft to what is known: one pure function, live and on resuming."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Generic, TypeVar

from standfast.cli.scoring.entries import (
    Answered,
    Begun,
    Chosen,
    Class,
    Completed,
    Entry,
    Happened,
    Joined,
    Left,
    Logged,
    Looked,
    Rated,
    Reopened,
    Repeated,
    Signed,
    Stopped,
    Taught,
    Timed,
    TimesAsked,
    Tried,
    Undone,
    Wrote,
    can_be_undone,
)
from standfast.model.base import Noun
from standfast.model.evidence import Answer, Choice

EventT = TypeVar("EventT", bound=Noun)


@dataclass(frozen=True)
class Try:
    """A try, and what has been answered about it."""

    n: int
    """The number of its entry."""
    student: str
    skill: str
    at: int | None
    completed: bool | None = None
    answers: dict[str, Answer] = field(default_factory=dict)


@dataclass(frozen=True)
class Numbered(Generic[EventT]):
    """Something that counts, with the number of its entry and its time."""

    n: int
    at: int | None
    event: EventT


@dataclass(frozen=True)
class State:
    """What is known after so many entries."""

    last: int = 0
    """The number of the last entry; 0 before the first."""
    in_effect: tuple[Entry, ...] = ()
    """The entries that count: not undone, and about nothing undone."""
    undone: int = 0
    count: int | None = None
    """How many students there were at the start."""
    joined: int = 0
    """How many came later."""
    taught: tuple[str, ...] | None = None
    logs: dict[tuple[str, str], int] = field(default_factory=dict)
    ratings: dict[str, Rated] = field(default_factory=dict)
    begun: datetime | None = None
    tries: tuple[Try, ...] = ()
    choices: tuple[Numbered[Chosen], ...] = ()
    repetitions: tuple[Numbered[Repeated], ...] = ()
    looks: dict[int, Numbered[Looked]] = field(default_factory=dict)
    incidents: tuple[Numbered[Happened], ...] = ()
    notes: tuple[Numbered[Wrote], ...] = ()
    stopped: Numbered[Stopped] | None = None
    untimed: tuple[Entry, ...] = ()
    """Entries of the lesson whose time is still to be asked."""
    left: frozenset[str] = frozenset()
    """What was left open and is not asked again until reopened."""
    times_asked: bool = False
    signed: Signed | None = None

    @property
    def clock_stood_at(self) -> int:
        """The latest second of the lesson in any entry."""
        times = [choice.at for choice in self.choices] + [r.at for r in self.repetitions]
        times += [incident.at for incident in self.incidents] + [note.at for note in self.notes]
        times += [look.at for look in self.looks.values()] + [t.at for t in self.tries]
        return max((at for at in times if at is not None), default=0)

    def choice_before(self, student: str, skill: str) -> tuple[Choice, int | None] | None:
        """The last choice made about that student and skill, and its time."""
        found = [c for c in self.choices if (c.event.student, c.event.skill) == (student, skill)]
        return (found[-1].event.choice, found[-1].at) if found else None


def replay(entries: Iterable[Entry]) -> State:
    """What is known after these entries; never raises, whatever their order."""
    given = tuple(entries)
    counting = _in_effect(given)
    times = {e.event.of: e.event.at for e in counting if isinstance(e.event, Timed)}
    state = State(
        last=given[-1].n if given else 0,
        in_effect=counting,
        undone=sum(isinstance(entry.event, Undone) for entry in given),
        count=next((e.count for e in reversed(_all(counting, Class))), None),
        joined=len(_all(counting, Joined)),
        taught=next((e.skills for e in reversed(_all(counting, Taught))), None),
        logs={(e.student, e.skill): e.times for e in _all(counting, Logged)},
        ratings={e.criterion: e for e in _all(counting, Rated)},
        begun=next((e.moment for e in _all(counting, Begun)), None),
        tries=_tries(counting, times),
        left=_left(counting),
        times_asked=bool(_all(counting, TimesAsked)),
        signed=next(iter(_all(counting, Signed)), None),
    )
    return _timed(state, counting, times)


def _timed(state: State, counting: tuple[Entry, ...], times: dict[int, int]) -> State:
    stops = _numbered(counting, Stopped, times)
    return replace(
        state,
        choices=_numbered(counting, Chosen, times),
        repetitions=_numbered(counting, Repeated, times),
        looks={look.event.look: look for look in reversed(_numbered(counting, Looked, times))},
        incidents=_numbered(counting, Happened, times),
        notes=_numbered(counting, Wrote, times),
        stopped=stops[-1] if stops else None,
        untimed=tuple(e for e in counting if _wants_time(e, times)),
    )


def _in_effect(entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Without what was undone, and without what is about an undone try or entry."""
    undone = {e.event.of for e in entries if isinstance(e.event, Undone)}
    kept: dict[int, Entry] = {}
    for entry in entries:
        of = getattr(entry.event, "of", None)
        gone = entry.n in undone and can_be_undone(entry.event)
        if not gone and not isinstance(entry.event, Undone) and (of is None or of in kept):
            kept[entry.n] = entry
    return tuple(kept.values())


def _all(entries: Iterable[Entry], kind: type[EventT]) -> list[EventT]:
    return [entry.event for entry in entries if isinstance(entry.event, kind)]


def _numbered(
    entries: Iterable[Entry], kind: type[EventT], times: dict[int, int]
) -> tuple[Numbered[EventT], ...]:
    return tuple(
        Numbered(e.n, times.get(e.n, getattr(e.event, "at", None)), e.event)
        for e in entries
        if isinstance(e.event, kind)
    )


def _tries(entries: tuple[Entry, ...], times: dict[int, int]) -> tuple[Try, ...]:
    completed = {e.of: e.completed for e in _all(entries, Completed)}
    answers: dict[int, dict[str, Answer]] = {}
    for answered in _all(entries, Answered):
        answers.setdefault(answered.of, {})[answered.criterion] = answered.answer
    return tuple(
        Try(
            n=e.n,
            student=e.event.student,
            skill=e.event.skill,
            at=times.get(e.n, e.event.at),
            completed=completed.get(e.n),
            answers=answers.get(e.n, {}),
        )
        for e in entries
        if isinstance(e.event, Tried)
    )


def _left(entries: tuple[Entry, ...]) -> frozenset[str]:
    """What was left open since the last time that everything was asked again."""
    left: set[str] = set()
    for entry in entries:
        if isinstance(entry.event, Left):
            left.add(entry.event.about)
        elif isinstance(entry.event, (Reopened, Stopped)):
            left.clear()
    return frozenset(left)


def _wants_time(entry: Entry, times: dict[int, int]) -> bool:
    timed = isinstance(entry.event, (Tried, Chosen, Repeated, Happened, Stopped))
    return timed and entry.n not in times and getattr(entry.event, "at", None) is None
