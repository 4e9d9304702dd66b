"""What a typed word names: a time, a student, a skill, a count."""

from __future__ import annotations

import re

from standfast.cli.scoring.asking import NotUnderstood, Now
from standfast.cli.scoring.words import clock
from standfast.problems import nearest

MOST_LOGGED = 9999
_TIME = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d)")


def second_of(text: str, now: Now) -> int:
    """The second of the lesson that `12:30` or `1:02:30` names; not one to come."""
    found = _TIME.fullmatch(text)
    if not found:
        raise NotUnderstood(f"'{text}' is no time; write minutes:seconds since the begin, 12:30")
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    at = hours * 3600 + minutes * 60 + seconds
    stopped = now.state.stopped.at if now.state.stopped else None
    end = now.second if now.second is not None else stopped
    if end is not None and at > end:
        what = "it is" if now.second is not None else "the lesson ended at"
        raise NotUnderstood(f"{clock(at)} is later than {clock(end)}: {what} {clock(end)}")
    if at >= 86_400:  # noqa: PLR2004 - a day, the most an entry can hold
        raise NotUnderstood(f"{clock(at)} is more than a day into the lesson")
    return at


def student_of(word: str, now: Now) -> str:
    """The code that `2`, `s2` or `S2` names."""
    codes = now.lesson.codes(now.state)
    code = f"S{word.upper().removeprefix('S')}"
    if code not in codes:
        raise NotUnderstood(
            f"no student '{word}' in this lesson; there are {', '.join(codes) or 'none'}"
            " (a adds another)"
        )
    return code


def skill_of(word: str, now: Now) -> str:
    """The skill that a number, a name or the beginning of one names."""
    known = [skill.id for skill in now.lesson.syllabus.skills]
    if re.fullmatch(r"[0-9]{1,4}", word):
        if not 1 <= int(word) <= len(known):
            raise NotUnderstood(f"no skill {word}; they are numbered 1 to {len(known)}")
        return known[int(word) - 1]
    wanted = word.lower()
    begin = [skill for skill in known if skill.startswith(wanted)]
    if wanted in known or len(begin) == 1:
        return wanted if wanted in known else begin[0]
    cure = f"it may be {' or '.join(begin)}" if begin else nearest(wanted, known)
    raise NotUnderstood(f"no skill '{word}'; {cure}")


def student_and_skill(words: list[str], now: Now, example: str) -> tuple[str, str]:
    """The two that most lines begin with; `example` is shown when they are not there."""
    if len(words) != 2:  # noqa: PLR2004 - a student and a skill
        raise NotUnderstood(f"say the student and the skill: {example}")
    return student_of(words[0], now), skill_of(words[1], now)


def times_of(word: str) -> int:
    """A count of repetitions."""
    if not re.fullmatch(r"[0-9]{1,4}", word):
        raise NotUnderstood(f"'{word}' is no count from 0 to {MOST_LOGGED}")
    return int(word)
