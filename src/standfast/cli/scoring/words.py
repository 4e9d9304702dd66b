"""What is shown: times, entries in words, the help, and lines folded to the terminal's width."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable
from typing import Any

from standfast.cli.scoring.entries import (
    Answered,
    Begun,
    Chosen,
    Class,
    Completed,
    Entry,
    Event,
    Happened,
    Joined,
    Left,
    Logged,
    Looked,
    Rated,
    Repeated,
    Stopped,
    Taught,
    Timed,
    Tried,
    Wrote,
)
from standfast.cli.scoring.lesson import COMPLETED, Lesson
from standfast.cli.scoring.state import State
from standfast.model.caution import caution
from standfast.model.evidence import Answer

NARROWEST, WIDEST = 40, 96
_HANG = re.compile(r"^( *(?:\S{1,12} {2,})?)")

IN_WORDS: dict[Answer, str] = {"yes": "yes", "no": "no", "unseen": "not seen"}
IS_COMPLETED = "Did the student complete the skill?"

LESSON_KEYS = "t try, g let go, h held back, w look, i incident, + note, x undo, s stop, ?"
CAUTION = (
    f"{caution('A score sheet records what was seen on one day.')} Anybody may call stop: voice and"
    " hands first, the sheet afterwards."
)
LOOK_ROUND = "Before it begins: where are first aid and a phone, and does everybody know the stop?"
HELP = (
    "Students are 2 or S2; skills 9 or the beginning of a name, tuck-inv.",
    "t 2 9        S2 tries skill 9, questions follow; with answers: t 2 9 yyn-y",
    "g 2 9        S2 was let go on to skill 9;  gt 2 9  let go and tries at once",
    "h 2 9        S2 was held back from it",
    "u 2 9        S2 did it unassisted: one more in the log",
    "w 4 1        a look: 4 waiting, 1 of them idle;  w -  the look was missed",
    "i 3 2 words  incident 3, student S2, words if you like;  i alone lists them",
    "+ words      a note; students by code only",
    "l 2 9 4      the log of S2 said 4 times before this lesson",
    "a            another student comes",
    "x            undo the last entry, again and again;  x 31  undo entry 31",
    "e            the last entries with their numbers;  e 40  so many",
    "o            ask again what was left open",
    "s            the lesson ends (x takes it back)",
    "q            leave; everything is kept, the same command goes on here",
    "@12:30       at a line's end: when it was, minutes:seconds since the begin",
    "y n - l      about a try: yes, no, could not be seen, later",
    "??           the skills with their numbers",
)


def clock(second: int | None) -> str:
    """Minutes and seconds since the lesson began."""
    if second is None:
        return "no time yet"
    hours, rest = divmod(second, 3600)
    return f"{hours}:{rest // 60:02}:{rest % 60:02}" if hours else f"{rest // 60}:{rest % 60:02}"


def folded(text: str, width: int) -> str:
    """The text with each line folded to the width, hanging under its own beginning."""
    room = max(min(width, WIDEST), NARROWEST) - 1
    return "\n".join(_folded(line, room) for line in text.split("\n"))


def _folded(line: str, room: int) -> str:
    if len(line) <= room:
        return line
    hang = _HANG.match(line)
    indent = hang.group(1) if hang else ""
    return textwrap.fill(
        line[len(indent) :],
        room,
        initial_indent=indent,
        subsequent_indent=" " * len(indent),
        break_on_hyphens=False,
    )


def in_words(lesson: Lesson, state: State, event: Event) -> str:
    """One entry as a person would say it."""
    say = _SAYS.get(type(event))
    return say(lesson, state, event) if say else event.what


def _completed(_: Lesson, __: State, event: Completed) -> str:
    return f"of {event.of}: {'completed' if event.completed else 'not completed'}"


def _answered(lesson: Lesson, _: State, event: Answered) -> str:
    return f"of {event.of}: {question(lesson, event.criterion)} {IN_WORDS[event.answer]}"


def _chosen(lesson: Lesson, _: State, event: Chosen) -> str:
    choice = "let go" if event.choice == "let-go" else "held back"
    return f"{event.student} {choice}: {lesson.title(event.skill)}"


def _happened(lesson: Lesson, _: State, event: Happened) -> str:
    who = f" ({event.student})" if event.student else ""
    note = f" - {event.note}" if event.note else ""
    return f"incident{who}: {title(lesson, event.criterion)}{note}"


def _rated(lesson: Lesson, _: State, event: Rated) -> str:
    level = event.level if event.level is not None else "not seen"
    return f"{title(lesson, event.criterion)}: {level}{' + note' if event.note else ''}"


_SAYS: dict[type, Callable[[Lesson, State, Any], str]] = {
    Tried: lambda lesson, _, e: f"{e.student} {lesson.title(e.skill)}",
    Completed: _completed,
    Answered: _answered,
    Chosen: _chosen,
    Repeated: lambda lesson, _, e: f"{e.student} unassisted: {lesson.title(e.skill)}",
    Looked: lambda _, __, e: f"look {e.look}: {_seen(e)}",
    Happened: _happened,
    Class: lambda _, __, e: f"{e.count} students",
    Joined: lambda _, __, ___: "another student",
    Taught: lambda lesson, _, e: f"skills {', '.join(str(lesson.number(s)) for s in e.skills)}",
    Logged: lambda lesson, _, e: f"log of {e.student}, {lesson.title(e.skill)}: {e.times}",
    Rated: _rated,
    Begun: lambda _, __, e: f"lesson began {e.moment:%Y-%m-%d %H:%M}",
    Wrote: lambda _, __, e: f"note: {e.text}",
    Stopped: lambda _, __, ___: "lesson ended",
    Timed: lambda _, __, e: f"entry {e.of} was at {clock(e.at)}",
    Left: lambda lesson, state, e: f"left open: {about(lesson, state, e.about)}",
}


def _seen(look: Looked) -> str:
    return "missed" if look.waiting is None else f"{look.waiting} waiting, {look.idle} idle"


def question(lesson: Lesson, criterion: str) -> str:
    """The words of a question about a try."""
    if criterion == COMPLETED:
        return IS_COMPLETED
    return next((c.question for c in lesson.attempts if c.id == criterion), criterion)


def title(lesson: Lesson, criterion: str) -> str:
    """The title of a criterion."""
    found = lesson.rubric.criterion(criterion)
    return found.title if found else criterion


def the_try(lesson: Lesson, state: State, number: int) -> str:
    """Whose try at what, and when."""
    found = next((a_try for a_try in state.tries if a_try.n == number), None)
    if not found:
        return f"try {number}"
    return f"{found.student} {lesson.title(found.skill)} {clock(found.at)}"


def about(lesson: Lesson, state: State, mark: str) -> str:
    """What was left open, in words."""
    kind, _, rest = mark.partition(":")
    if kind == "try":
        number, _, criterion = rest.partition(":")
        return f"{the_try(lesson, state, int(number))}: {question(lesson, criterion)}"
    if kind == "log":
        student, _, skill = rest.partition(":")
        return f"log of {student}: {lesson.title(skill)}"
    return f"look {rest}" if kind == "look" else title(lesson, rest)


def entry_time(state: State, entry: Entry) -> str:
    """When in the lesson an entry was, or nothing."""
    times = {e.event.of: e.event.at for e in state.in_effect if isinstance(e.event, Timed)}
    at = times.get(entry.n, getattr(entry.event, "at", None))
    return clock(at) if isinstance(at, int) else ""


def entries(lesson: Lesson, state: State, most: int) -> tuple[str, ...]:
    """The last entries in effect, with their numbers."""
    shown = [e for e in state.in_effect if not isinstance(e.event, Timed)][-most:]
    if not shown:
        return ("no entries yet",)
    return tuple(
        f"{e.n:>5}  {entry_time(state, e):>6}  {in_words(lesson, state, e.event)}" for e in shown
    )
