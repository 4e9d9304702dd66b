"""What is asked before the lesson: students, skills, logs, levels, and when it begins."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from standfast.cli.scoring import lines, named, words
from standfast.cli.scoring.asking import NotUnderstood, Now, Taken
from standfast.cli.scoring.entries import Begun, Class, Event, Left, Logged, Rated, Taught
from standfast.model.rubric import RatingCriterion

MOST_STUDENTS = 30


@dataclass(frozen=True)
class HowManyStudents:
    """How many students there are."""

    def shows(self, now: Now) -> tuple[str, ...]:  # noqa: ARG002 - every question has it
        """Codes only."""
        return ("1 BEFORE THE LESSON", "Students are codes, S1 and on; no names are kept.")

    def prompt(self, now: Now) -> str:  # noqa: ARG002
        """The range."""
        return f"How many students? [1-{MOST_STUDENTS}, x undo, ?] "

    def take(self, line: str, now: Now) -> Taken:  # noqa: ARG002
        """A number."""
        if not re.fullmatch(r"[0-9]{1,3}", line) or not 1 <= int(line) <= MOST_STUDENTS:
            raise NotUnderstood(f"'{line}': how many students, a number from 1 to {MOST_STUDENTS}")
        return Taken((Class(count=int(line)),))


@dataclass(frozen=True)
class WhichSkills:
    """Which skills the lesson is about."""

    def shows(self, now: Now) -> tuple[str, ...]:
        """All skills with their numbers."""
        items = [f"{i:>2}  {s.title}" for i, s in enumerate(now.lesson.syllabus.skills, 1)]
        head = ("1 BEFORE THE LESSON",) if now.lesson.opened.students else ("",)
        return (*head, "Skills of the syllabus:", *items)

    def prompt(self, now: Now) -> str:  # noqa: ARG002
        """Numbers, ranges, or all."""
        return "Which are in this lesson? [numbers: 1 4 9-12, or all, x undo, ?] "

    def take(self, line: str, now: Now) -> Taken:
        """Numbers, ranges, names, or `all`."""
        every = [skill.id for skill in now.lesson.syllabus.skills]
        if line.lower() == "all":
            return Taken((Taught(skills=tuple(every)),))
        wanted = {skill for word in re.split(r"[\s,]+", line) for skill in _range(word, now)}
        return Taken((Taught(skills=tuple(skill for skill in every if skill in wanted)),))


def _range(word: str, now: Now) -> Iterator[str]:
    ends = re.fullmatch(r"([0-9]{1,3})-([0-9]{1,3})", word)
    if not ends:
        yield named.skill_of(word, now)
        return
    first, last = int(ends.group(1)), int(ends.group(2))
    if first > last:
        raise NotUnderstood(f"'{word}' runs backwards; write {last}-{first}")
    for number in range(first, last + 1):
        yield named.skill_of(str(number), now)


@dataclass(frozen=True)
class LogOf:
    """How often one student had done one skill unassisted."""

    student: str
    skill: str

    def shows(self, now: Now) -> tuple[str, ...]:
        """At the student's first: all that will be asked."""
        wanted = [skill for code, skill in open_logs(now) if code == self.student]
        if any(code == self.student for code, _ in now.state.logs) or len(wanted) < 2:  # noqa: PLR2004
            return ()
        numbers = " ".join(str(now.lesson.number(skill)) for skill in wanted)
        head = f"{self.student} unassisted before this lesson, skills {numbers}"
        if now.state.logs:
            return (head,)
        return ("", "How often, a number for each; several on one line go in order.", head)

    def prompt(self, now: Now) -> str:
        """Which, and the keys."""
        title = f"{now.lesson.number(self.skill)} {now.lesson.title(self.skill)}"
        return f"{self.student}  {title} [times, z rest 0, l later, x, ?] "

    def take(self, line: str, now: Now) -> Taken:
        """Numbers for this log and those that follow it; `z` sets the student's others to 0."""
        wanted = [skill for code, skill in open_logs(now) if code == self.student]
        given = re.split(r"[\s,]+", line.lower())
        if len(given) > len(wanted):
            raise NotUnderstood(f"{len(given)} numbers for {len(wanted)} logs; none kept")
        events: list[Event] = []
        for place, word in enumerate(given):
            if word == "z" and place == len(given) - 1:
                events.extend(self._log(skill, 0) for skill in wanted[place:])
            elif word == "l":
                events.append(Left(about=f"log:{self.student}:{wanted[place]}"))
            else:
                events.append(self._log(wanted[place], _times(word)))
        return Taken(tuple(events))

    def _log(self, skill: str, times: int) -> Logged:
        return Logged(student=self.student, skill=skill, times=times)


def _times(word: str) -> int:
    try:
        return named.times_of(word)
    except NotUnderstood as told:
        raise NotUnderstood(f"{told}; z sets the rest to 0, l leaves it for later") from None


@dataclass(frozen=True)
class LevelOf:
    """A rating."""

    criterion: RatingCriterion

    def shows(self, now: Now) -> tuple[str, ...]:
        """All levels with their words."""
        competency = next(
            c.title for c in now.lesson.rubric.competencies if self.criterion in c.criteria
        )
        levels = (f"  {level.level}  {level.words}" for level in self.criterion.levels)
        return ("", f"{competency}:", self.criterion.title, *levels)

    def prompt(self, now: Now) -> str:  # noqa: ARG002
        """The levels, and the keys."""
        return f"Level? [{self._range()}, - not seen, l later, x undo, ? what to look for] "

    def _range(self) -> str:
        levels = [level.level for level in self.criterion.levels]
        return f"{min(levels)}-{max(levels)}"

    def take(self, line: str, now: Now) -> Taken:  # noqa: ARG002
        """A level, perhaps with words behind it; `-`; or `l`."""
        key, _, note = line.partition(" ")
        if key.lower() == "l" and not note:
            return Taken((Left(about=f"rating:{self.criterion.id}"),))
        levels = {str(level.level): level.level for level in self.criterion.levels}
        if key != "-" and key not in levels:
            raise NotUnderstood(f"'{key}' is none of {self._range()}, - not seen, l later")
        if len(note) > lines.LONGEST_NOTE:
            raise NotUnderstood(f"a note has at most {lines.LONGEST_NOTE} characters")
        level = levels.get(key)
        rated = Rated(criterion=self.criterion.id, level=level, note=note.strip() or None)
        return Taken((rated,))


@dataclass(frozen=True)
class Begin:
    """When the lesson begins or began."""

    def shows(self, now: Now) -> tuple[str, ...]:
        """Who is held back by the log, who may call stop, and how the lesson is recorded."""
        look_round = () if now.by_hand else (words.LOOK_ROUND,)
        return ("", "2 THE LESSON", *_not_ready(now), words.CAUTION, *look_round)

    def prompt(self, now: Now) -> str:
        """Enter for the usual case."""
        set_up = now.lesson.opened.began
        if now.by_hand:
            known = f"Enter {set_up:%Y-%m-%d %H:%M} as set up, or " if set_up else ""
            return f"The lesson began [{known}2026-03-01 10:00, x undo, ?] "
        known = f", = at {set_up:%H:%M} as set up" if set_up else ""
        return f"The lesson [Enter begins now{known}, 10:05 began then, x undo, ?] "

    def take(self, line: str, now: Now) -> Taken:
        """Enter, `=`, or a time of day."""
        set_up = now.lesson.opened.began
        if not line and not now.by_hand:
            return Taken((Begun(moment=now.moment.replace(microsecond=0)),))
        if set_up and ((not line and now.by_hand) or (line == "=" and not now.by_hand)):
            return self._at(set_up, now)
        return self._at(_moment(line, now), now)

    def _at(self, moment: datetime, now: Now) -> Taken:
        if moment > now.moment:
            raise NotUnderstood(
                f"{moment:%Y-%m-%d %H:%M} is still to come; it is {now.moment:%H:%M}"
            )
        if now.moment - moment > timedelta(hours=12) and not now.by_hand:
            raise NotUnderstood(
                f"{moment:%H:%M} is more than 12 hours ago; copy it from paper then"
            )
        if not now.lesson.rubric.in_force_on(moment.date()):
            raise NotUnderstood(
                f"{now.lesson.rubric.id} version {now.lesson.rubric.version} is not in force on"
                f" {moment.date()}; leave with q, and score it under the version that was"
            )
        return Taken((Begun(moment=moment),))


def _moment(line: str, now: Now) -> datetime:
    zone = (now.lesson.opened.began or now.moment).tzinfo
    form = r"(\d{4}-\d{2}-\d{2}) (\d{1,2}:\d{2})" if now.by_hand else r"()(\d{1,2}:\d{2})"
    found = re.fullmatch(form, line)
    expected = "2026-03-01 10:00" if now.by_hand else "Enter for now, or a time of day: 10:05"
    if not found:
        raise NotUnderstood(f"'{line}': when the lesson began: {expected}")
    day = found.group(1) or f"{now.moment:%Y-%m-%d}"
    try:
        return datetime.fromisoformat(f"{day} {found.group(2):0>5}").replace(tzinfo=zone)
    except ValueError:
        raise NotUnderstood(
            f"'{line}' is no time of the calendar; write it as {expected}"
        ) from None


def _not_ready(now: Now) -> tuple[str, ...]:
    """Who has not what must come before, by the log alone; who may is not said."""
    held = []
    for code in now.lesson.codes(now.state):
        numbers = [
            str(now.lesson.number(skill.id))
            for skill in now.lesson.taught(now.state)
            if any(
                _logged(code, needed.skill, now) < needed.times for needed in skill.prerequisites
            )
        ]
        if numbers:
            held.append(f"  {code}  {' '.join(numbers)}")
    if not held:
        return ()
    return ("By the log, not enough came before these skills:", *held)


def _logged(code: str, skill: str, now: Now) -> int:
    given = now.lesson.given(code)
    return now.state.logs.get((code, skill), given.log.get(skill, 0) if given else 0)


def open_logs(now: Now) -> Iterator[tuple[str, str]]:
    """Logs that matter for the skills named, and for those that were used all the same."""
    used = {choice.event.skill for choice in now.state.choices}
    skills = (*(now.state.taught or ()), *sorted(used))
    return (
        (code, skill)
        for code, skill in now.lesson.logs_to_ask(now.state, skills)
        if f"log:{code}:{skill}" not in now.state.left
    )
