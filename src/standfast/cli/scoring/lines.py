"""The short lines of the lesson: what each means, and what is wrong with one that means nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from standfast.cli.scoring.asking import NotUnderstood, Now, Taken
from standfast.cli.scoring.entries import (
    Answered,
    Chosen,
    Completed,
    Event,
    Happened,
    Joined,
    Left,
    Logged,
    Reopened,
    Repeated,
    Stopped,
    Tried,
    Wrote,
)
from standfast.cli.scoring.lesson import COMPLETED
from standfast.cli.scoring.looks import read_look
from standfast.cli.scoring.named import (
    second_of,
    student_and_skill,
    student_of,
    times_of,
)
from standfast.cli.scoring.state import Try
from standfast.cli.scoring.words import clock, question, title
from standfast.model.evidence import Answer, Choice

ANSWERS: dict[str, Answer] = {"y": "yes", "n": "no", "-": "unseen"}
LONGEST_NOTE = 2000
_HAS_MORE = {"gt", "t", "g", "h", "u", "w", "i", "l"}
_ALONE = {"gt", "t", "g", "h", "u", "w", "i", "a", "s", "o"}


def is_lesson_line(line: str) -> bool:
    """Whether a line is one of the lesson's, wherever it is typed."""
    first, *more = line.split() or [""]
    return line.startswith("+") or first.lower() in (_HAS_MORE if more else _ALONE)


def read(line: str, now: Now) -> Taken:
    """What a line of the lesson gives.

    Raises:
        NotUnderstood: it means nothing here; the text says what would.
    """
    if line.startswith("+"):
        return _note(line[1:].strip(), now)
    words, at = _without_time(line.split())
    command = words[0].lower() if words else ""
    reader = _READERS.get(command)
    if reader is None:
        raise NotUnderstood(
            f"'{line}' begins with none of t g gt h u w i + a l o x e s q; ? says more"
        )
    return reader(words[1:], at, now)


def _without_time(words: list[str]) -> tuple[list[str], str | None]:
    if words and words[-1].startswith("@"):
        return words[:-1], words[-1][1:]
    return words, None


def _when(at: str | None, now: Now) -> int | None:
    return second_of(at, now) if at is not None else now.second


def _let_go_and_try(words: list[str], at: str | None, now: Now) -> Taken:
    _choices_are_asked(now)
    student, skill = student_and_skill(words[:2], now, "gt 2 9")
    chosen = Chosen(student=student, skill=skill, choice="let-go", at=_when(at, now))
    tried = _try(words, at, replace(now, state=replace(now.state, last=now.state.last + 1)))
    careful = tuple(text for text in tried.says if not text.startswith("CAREFUL"))
    return Taken((chosen, *tried.events), careful)


def _choices_are_asked(now: Now) -> None:
    if not now.lesson.judges_choices:
        raise NotUnderstood("this rubric does not ask who was let go or held back")


def _try(words: list[str], at: str | None, now: Now) -> Taken:
    keys = words[2:3]
    student, skill = student_and_skill(words[:2] if len(words) <= 3 else words, now, "t 2 9")  # noqa: PLR2004
    left = tuple(
        Left(about=f"try:{a_try.n}:{open_id}")
        for a_try in now.state.tries
        for open_id in now.lesson.open_questions(a_try)
        if f"try:{a_try.n}:{open_id}" not in now.state.left
    )
    number = now.state.last + len(left) + 1
    second = _when(at, now)
    answered = answers(keys[0], Try(number, student, skill, second), now) if keys else ()
    says = _warnings(student, skill, now)
    if left:
        says += (f"left open before: {len(left)}, asked again after the lesson (o now)",)
    return Taken((*left, Tried(student=student, skill=skill, at=second), *answered), says)


def _warnings(student: str, skill: str, now: Now) -> tuple[str, ...]:
    says: tuple[str, ...] = ()
    before = now.state.choice_before(student, skill)
    if before and before[0] == "held-back":
        says += (_held_back(student, skill, before[1], now),)
    elif before is None and _wants_choice(skill, now):
        says += (_not_let_go(student, skill, now),)
    if now.state.taught is not None and skill not in now.state.taught:
        says += (f"{now.lesson.title(skill)} is not among the skills named before; kept",)
    return says


def _held_back(student: str, skill: str, at: int | None, now: Now) -> str:
    return (
        f"CAREFUL: {student} was held back from {now.lesson.title(skill)} at {clock(at)}. If the"
        f" student was let go since: g {student[1:]} {now.lesson.number(skill)} @ and the time;"
        " if this try was typed by mistake: x"
    )


def _not_let_go(student: str, skill: str, now: Now) -> str:
    return (
        f"CAREFUL: no mark yet that {student} was let go on to {now.lesson.title(skill)}. If so:"
        f" g {student[1:]} {now.lesson.number(skill)} @ and the time; gt marks both at once"
    )


def _wants_choice(skill: str, now: Now) -> bool:
    known = now.lesson.syllabus.skill(skill)
    return now.lesson.judges_choices and known is not None and bool(known.prerequisites)


def answers(keys: str, a_try: Try, now: Now) -> tuple[Event, ...]:
    """The answers that `yyn-l` gives to the open questions of a try, in order."""
    given: list[Event] = []
    completed, known, left = a_try.completed, dict(a_try.answers), set(now.state.left)
    for key in keys.lower():
        open_now = [
            open_id
            for open_id in now.lesson.open_questions(
                Try(a_try.n, a_try.student, a_try.skill, a_try.at, completed, known)
            )
            if f"try:{a_try.n}:{open_id}" not in left
        ]
        if not open_now:
            raise NotUnderstood(f"'{keys}' has more answers than there are questions; none kept")
        event = _answer(key, a_try.n, open_now[0], now)
        given.append(event)
        match event:
            case Answered():
                known[event.criterion] = event.answer
            case Completed():
                completed = event.completed
            case Left():
                left.add(event.about)
    return tuple(given)


def _answer(key: str, number: int, criterion: str, now: Now) -> Answered | Completed | Left:
    if key == "l":
        return Left(about=f"try:{number}:{criterion}")
    if criterion == COMPLETED:
        if key not in {"y", "n"}:
            raise NotUnderstood(
                f"{question(now.lesson, COMPLETED)} y yes, n no, or l later; nothing kept"
            )
        return Completed(of=number, completed=key == "y")
    if key not in ANSWERS:
        raise NotUnderstood(f"'{key}' is none of y yes, n no, - not seen, l later; nothing kept")
    return Answered(of=number, criterion=criterion, answer=ANSWERS[key])


def _choice(choice: Choice) -> Callable[[list[str], str | None, Now], Taken]:
    def read_choice(words: list[str], at: str | None, now: Now) -> Taken:
        _choices_are_asked(now)
        student, skill = student_and_skill(words, now, "g 2 9" if choice == "let-go" else "h 2 9")
        chosen = Chosen(student=student, skill=skill, choice=choice, at=_when(at, now))
        return Taken((chosen,))

    return read_choice


def _unassisted(words: list[str], at: str | None, now: Now) -> Taken:
    student, skill = student_and_skill(words, now, "u 2 9")
    return Taken((Repeated(student=student, skill=skill, at=_when(at, now)),))


def _log(words: list[str], at: str | None, now: Now) -> Taken:
    if at is not None or len(words) != 3:  # noqa: PLR2004 - student, skill, times
        raise NotUnderstood("say the student, the skill and how often before this lesson: l 2 9 4")
    student, skill = student_and_skill(words[:2], now, "l 2 9 4")
    return Taken((Logged(student=student, skill=skill, times=times_of(words[2])),))


def _incident(words: list[str], at: str | None, now: Now) -> Taken:
    known = now.lesson.incidents
    if not words or not words[0].isdecimal() or not 1 <= int(words[0]) <= len(known):
        raise NotUnderstood("\n".join(("say the number of the incident: i 1", *incident_list(now))))
    criterion = known[int(words[0]) - 1].id
    rest = words[1:]
    student = student_of(rest.pop(0), now) if rest and _is_student(rest[0]) else None
    event = Happened(criterion=criterion, student=student, note=_note_text(rest), at=_when(at, now))
    return Taken((event,), _after_incident(criterion, now))


def _is_student(word: str) -> bool:
    return re.fullmatch(r"[sS]?[0-9]{1,2}", word) is not None


def _note_text(words: list[str]) -> str | None:
    text = " ".join(words)
    if len(text) > LONGEST_NOTE:
        raise NotUnderstood(f"{len(text)} characters; a note has at most {LONGEST_NOTE}")
    return text or None


def incident_list(now: Now) -> tuple[str, ...]:
    """The incidents with their numbers."""
    return tuple(
        f"  {i}  {c.title}{' (stops the practical)' if now.lesson.stops(c.id) else ''}"
        for i, c in enumerate(now.lesson.incidents, 1)
    )


def _after_incident(criterion: str, now: Now) -> tuple[str, ...]:
    if not now.lesson.stops(criterion):
        return ()
    text = "stops the practical. Voice and hands first: this only records. The looks pause."
    return (f"{title(now.lesson, criterion)} {text} s ends the lesson; x if typed by mistake.",)


def _note(text: str, now: Now) -> Taken:
    if not text:
        raise NotUnderstood("write the note behind the plus: + words; students by code only")
    words, at = _without_time(text.split())
    said = _note_text(words) if at is not None else _note_text([text])
    if said is None:
        raise NotUnderstood("write the note behind the plus: + words; students by code only")
    return Taken((Wrote(text=said, at=second_of(at, now) if at else now.second),))


def _another(words: list[str], at: str | None, now: Now) -> Taken:
    if words or at is not None:
        raise NotUnderstood("a alone adds a student: the next code")
    code = f"S{max((int(code[1:]) for code in now.lesson.codes(now.state)), default=0) + 1}"
    return Taken((Joined(),), (f"{code} has come; the log is asked after the lesson",))


def _stop(words: list[str], at: str | None, now: Now) -> Taken:
    if words:
        raise NotUnderstood("s alone ends the lesson; s @55:00 says when it was")
    if now.state.stopped:
        raise NotUnderstood("the lesson has ended already; x takes that back")
    second = _when(at, now)
    if second is not None:
        not_before_the_last(second, now)
    return Taken((Stopped(at=second),))


def not_before_the_last(end: int, now: Now) -> None:
    """Refuses an end of the lesson that lies before something in it."""
    if end < now.state.clock_stood_at:
        last = clock(now.state.clock_stood_at)
        raise NotUnderstood(f"the lesson cannot end at {clock(end)}: an entry is at {last}")


def _open_again(words: list[str], at: str | None, now: Now) -> Taken:
    if words or at is not None:
        raise NotUnderstood("o alone asks again what was left open")
    if not now.state.left:
        raise NotUnderstood("nothing was left open")
    return Taken((Reopened(),))


_READERS: dict[str, Callable[[list[str], str | None, Now], Taken]] = {
    "t": _try,
    "gt": _let_go_and_try,
    "g": _choice("let-go"),
    "h": _choice("held-back"),
    "u": _unassisted,
    "w": read_look,
    "i": _incident,
    "l": _log,
    "a": _another,
    "s": _stop,
    "o": _open_again,
}
