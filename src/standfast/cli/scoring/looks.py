"""Looks at the waiting students: answered while they are due, or copied from paper."""

from __future__ import annotations

from standfast.cli.scoring.asking import NotUnderstood, Now, Taken
from standfast.cli.scoring.entries import Looked
from standfast.cli.scoring.words import clock


def read_look(words: list[str], at: str | None, now: Now) -> Taken:
    """What `w 4 1` gives."""
    if not now.lesson.every:
        raise NotUnderstood("this rubric asks for no looks at the waiting students")
    if at is not None:
        raise NotUnderstood("a look has the time at which it was due; leave the @ out")
    number, words = _which_look(words, now)
    due = number * now.lesson.every
    return Taken((look(number, words, now, due if now.second is None else now.second),))


def _which_look(words: list[str], now: Now) -> tuple[int, list[str]]:
    if now.by_hand:
        return _copied_look(words, now)
    if now.second is None:
        raise NotUnderstood("a look is answered when it is due; it is never filled in later")
    end = now.lesson.looks_end(now.state)
    if end is not None:
        raise NotUnderstood(f"an incident stopped the practical at {clock(end)}; the looks pause")
    due = now.lesson.looks_due_by(now.second)
    if due == 0 or due in now.state.looks:
        following = (due + 1) * (now.lesson.every or 0)
        raise NotUnderstood(
            f"look {due + 1} is due at {clock(following)}; it is {clock(now.second)}"
        )
    return due, words


def _copied_look(words: list[str], now: Now) -> tuple[int, list[str]]:
    free = looks_to_copy(now)
    if words and words[0].startswith("#") and words[0][1:].isdecimal():
        number = int(words[0][1:])
        if number not in free:
            raise NotUnderstood(f"look {number} is copied already, or there is none; x undoes one")
        return number, words[1:]
    if not free:
        raise NotUnderstood("all looks are copied")
    return free[0], words


def looks_to_copy(now: Now) -> list[int]:
    """The looks on the paper that are not copied yet."""
    ended = now.lesson.looks_end(now.state)
    last = now.lesson.looks_due_by(now.lesson.opened.minutes * 60 if ended is None else ended)
    return [n for n in range(1, last + 1) if n not in now.state.looks]


def look(number: int, words: list[str], now: Now, at: int) -> Looked:
    """A look with its two numbers, or missed."""
    if words == ["-"]:
        return Looked(look=number, at=at)
    if len(words) != 2 or not all(word.isdecimal() and len(word) < 3 for word in words):  # noqa: PLR2004
        raise NotUnderstood("say how many wait and how many of them are idle: 4 1; or - for missed")
    waiting, idle = (int(word) for word in words)
    students = len(now.lesson.codes(now.state))
    if waiting > students:
        raise NotUnderstood(f"{waiting} waiting, but {students} students in the lesson")
    if idle > waiting:
        raise NotUnderstood(f"{idle} idle, but {waiting} waiting")
    return Looked(look=number, at=at, waiting=waiting, idle=idle)
