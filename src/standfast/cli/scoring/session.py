"""Scoring one practical in the terminal, from the first question to the signature."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from standfast.cli.scoring import lines, words
from standfast.cli.scoring.asking import NotUnderstood, Now, Question, Taken
from standfast.cli.scoring.before import LevelOf
from standfast.cli.scoring.drafts import Draft, NotKept, opened_draft
from standfast.cli.scoring.entries import (
    Answered,
    Begun,
    Completed,
    Entry,
    Event,
    Left,
    Logged,
    Looked,
    Reopened,
    Signed,
    Stopped,
    TimesAsked,
    Tried,
    Undone,
    can_be_undone,
)
from standfast.cli.scoring.lesson import WRAP_UP, Lesson
from standfast.cli.scoring.questions import AboutTry, LessonLine, next_question
from standfast.cli.scoring.review import Review
from standfast.cli.scoring.setup import Ask, Clock, Say, Setup
from standfast.cli.scoring.sheet import made
from standfast.cli.scoring.state import State, replay
from standfast.engine.narrowing import asked
from standfast.model.rubric import Competency
from standfast.model.sheet import Sheet
from standfast.problems import Refused

LONGEST_LINE = 4000
_SILENT = (Undone, Reopened, Signed, Left, Answered, Completed, Tried)
FEW, MANY = 15, 400
SET_BACK = 5
"""Seconds by which a clock may run behind before it is said."""


class _Leave(Exception):  # noqa: N818 - what the person wants
    """Leave the sheet unfinished."""


def terminal_width() -> int:
    """The columns of the terminal; 80 when there is none."""
    return shutil.get_terminal_size((80, 24)).columns


def run(
    setup: Setup,
    drafts: Path,
    ask: Ask,
    say: Say,
    clock: Clock,
    new_key: Callable[[], str],
    width: Callable[[], int] = terminal_width,
) -> Sheet | None:
    """The signed sheet; None when it was left unfinished, and then its draft is kept.

    Begins a sheet, or goes on with the unfinished one of that practical and assessor.  Call
    `drafts.finish` once the sheet was taken; until then the same call offers the same sheet.

    Raises:
        Refused: the rubric is not in force, or the assessor is the candidate.
        StandfastError: another terminal has the draft, it belongs to other text of the rubric or
            to another candidate, or the folder cannot be written.
        BadInput: the draft was damaged in the middle.
    """
    _check(setup, clock())
    try:
        with opened_draft(setup, drafts, new_key) as draft:
            return _Session(setup, draft, ask, say, clock, width).go()
    except (KeyboardInterrupt, EOFError, _Leave):
        say(f"\nLeft unfinished; every answer is kept. To go on: {setup.resume}")
        return None


def _check(setup: Setup, now: datetime) -> None:
    rubric = setup.rubric
    day = (setup.began or now).date()
    if setup.assessor == setup.candidate:
        raise Refused(f"{setup.assessor} is the candidate; somebody else has to score her")
    if (setup.began or not setup.paper) and not rubric.in_force_on(day):
        until = f" until {rubric.in_force_until}" if rubric.in_force_until else ""
        raise Refused(
            f"{rubric.id} version {rubric.version} is in force from {rubric.in_force}{until}, not"
            f" on {day}; score under the version that is"
        )


def _asks(competency: Competency) -> bool:
    """Whether anything but incidents is asked about it."""
    return any(criterion.kind != "incident" for criterion in competency.criteria)


class _Session:
    """Asks, keeps, asks again.  What is known is always `replay` of what was kept."""

    def __init__(
        self, setup: Setup, draft: Draft, ask: Ask, say: Say, clock: Clock, width: Callable[[], int]
    ) -> None:
        self._draft, self._ask, self._clock, self._width = draft, ask, clock, width
        self._say_folded = say
        rubric = asked(setup.rubric, draft.opened.covers)
        self._lesson = Lesson(draft.opened, rubric, setup.syllabus, setup.candidate_name)
        self._shown: Question | None = None
        self._replayed: tuple[tuple[Entry, ...], State] | None = None
        self._set_back_said = self._listed = self._signed_now = False

    def go(self) -> Sheet:
        """Until signed."""
        self._welcome()
        while True:
            self._catch_up()
            now = self._now()
            if now.state.signed and (self._signed_now or self._hands_in(now)):
                return made(self._lesson, now.state).sheet
            if now.state.signed:
                continue
            question = next_question(now) or Review(now.state.last)
            self._take(question, self._listen(question))

    def _hands_in(self, now: Now) -> bool:
        """Whether a sheet signed in an earlier run is handed in again; its signature may go."""
        self._say("", "This sheet is signed and was not taken yet.")
        while True:
            line = self._ask("[Enter hands it in, x takes the signature back, q leave] ")
            match (line or "").strip().lower():
                case "":
                    return True
                case "x":
                    signed = next(e for e in now.state.in_effect if isinstance(e.event, Signed))
                    self._keep([Undone(of=signed.n)])
                    return False
                case "q":
                    raise _Leave
            self._say(f"'{line}' is none of Enter, x, q")

    def _welcome(self) -> None:
        opened = self._lesson.opened
        self._say(
            f"{self._lesson.rubric.title}, version {opened.rubric.version}",
            f"practical {opened.practical}: {self._lesson.candidate_name}, scored by"
            f" {opened.assessor}{', copied from paper' if opened.paper else ''}",
        )
        if opened.covers:
            titles = [one.title for one in self._lesson.rubric.competencies if _asks(one)]
            self._say("It covers:", *(f"  {title}" for title in titles), "and every incident.")
        if self._draft.new:
            self._say("Each answer is kept as you give it. ? helps, q leaves, x undoes.")
            return
        if self._draft.torn:
            self._say(
                "The last line of the draft was torn by a crash and is dropped; it had not been"
                " answered for."
            )
        state = self._state()
        if state.signed:
            return
        where = "after" if state.stopped else "in" if state.begun else "before"
        self._say(f"Going on after {len(self._draft.entries)} entries, {where} the lesson.")

    def _state(self) -> State:
        if self._replayed is None or self._replayed[0] is not self._draft.entries:
            self._replayed = (self._draft.entries, replay(self._draft.entries))
        return self._replayed[1]

    def _now(self) -> Now:
        state, moment = self._state(), self._clock()
        return Now(self._lesson, state, moment, self._second(state, moment))

    def _second(self, state: State, moment: datetime) -> int | None:
        """The second of the running lesson; stands still while the clock is set back."""
        off = self._lesson.opened.paper or state.times_asked or state.stopped
        if state.begun is None or off:
            return None
        second = int((moment - state.begun).total_seconds())
        if second < state.clock_stood_at - SET_BACK and not self._set_back_said:
            self._set_back_said = True
            stood = words.clock(state.clock_stood_at)
            self._say(
                f"The clock of this machine was set back; the lesson stays at {stood} until it"
                " has caught up. Give times with @ meanwhile."
            )
        return max(second, state.clock_stood_at)

    def _catch_up(self) -> None:
        """Enters what the clock alone decides: looks whose window has closed."""
        now = self._now()
        if now.by_hand or now.state.begun is None or now.state.signed:
            return
        limit = self._lesson.opened.minutes * 60 + WRAP_UP
        if now.second is not None and now.second > limit:
            self._keep([TimesAsked()])
            self._say(
                f"The lesson began at {now.state.begun:%H:%M} and is long over: from here on times"
                " are asked, and looks that were not answered are missed."
            )
            return
        self._enter_missed(now)

    def _enter_missed(self, now: Now) -> None:
        end = self._lesson.looks_end(now.state)
        if end is not None:
            closed = self._lesson.looks_due_by(end)
        else:
            closed = self._lesson.looks_closed_by(now.second or 0)
        every = self._lesson.every or 0
        missed = [n for n in range(1, closed + 1) if n not in now.state.looks]
        if missed:
            self._keep([Looked(look=n, at=n * every, by_clock=True) for n in missed])
            which = (
                f"look {missed[0]}" if len(missed) == 1 else f"{len(missed)} looks to {missed[-1]}"
            )
            self._say(f"{which} ({words.clock(missed[-1] * every)}) not answered: kept as missed")

    def _listen(self, question: Question) -> str:
        """The line typed; while it waits, says when a look falls due."""
        now = self._now()
        lists = isinstance(question, LessonLine)
        if not (lists and self._listed) and not _same_subject(question, self._shown):
            self._say(*question.shows(now))
        self._shown, self._listed = question, self._listed or lists
        while True:
            *above, prompt = words.folded(question.prompt(now), self._width()).split("\n")
            self._say(*above)
            line = self._ask(f"{prompt.rstrip()} ", self._until_next_look(now))
            if line is not None:
                return line
            self._catch_up()
            now = self._now()
            self._say_due(now)

    def _until_next_look(self, now: Now) -> float | None:
        every, begun = self._lesson.every, now.state.begun
        if every is None or begun is None or now.second is None:
            return None
        if self._lesson.looks_end(now.state) is not None:
            return None
        due = (self._lesson.looks_due_by(now.second) + 1) * every
        return max(due - (now.moment - begun).total_seconds(), 1.0)

    def _say_due(self, now: Now) -> None:
        every = self._lesson.every or 1
        due = self._lesson.looks_due_by(now.second or 0)
        if due and due not in now.state.looks:
            until = words.clock(due * every + self._lesson.window)
            self._say(f"\nLOOK {due} IS DUE, until {until}: w WAITING IDLE, or w - for missed")

    def _take(self, question: Question, typed: str) -> None:
        self._catch_up()
        now = self._now()
        line = typed
        try:
            line = _readable(typed)
            taken = self._understood(question, line, now)
            self._keep(taken.events)
        except NotUnderstood as told:
            text = str(told).replace("''", "Enter alone", 1) if not line else str(told)
            self._say(*text.split("\n"))
            return
        except NotKept as told:
            self._say(str(told))
            return
        self._say(*self._kept(taken.events), *taken.says)
        self._signed_now = any(isinstance(event, Signed) for event in taken.events)
        if any(isinstance(event, Stopped) for event in taken.events):
            self._say("", "3 AFTER THE LESSON")

    def _understood(self, question: Question, line: str, now: Now) -> Taken:
        command, *more = line.lower().split() or [""]
        if command == "q" and not more:
            raise _Leave
        if not line and isinstance(question, LessonLine):
            return Taken()
        if command in {"?", "??"}:
            return Taken(says=self._help(question, now, numbers=command == "??"))
        if command == "e" and len(more) <= 1:
            most = int(more[0]) if more and more[0].isdecimal() else FEW
            return Taken(says=words.entries(self._lesson, now.state, min(most, MANY)))
        if command == "x" and len(more) <= 1:
            return self._undo(more, now)
        reviewing = isinstance(question, Review)
        counts = line.startswith("+") or now.state.begun is not None
        if lines.is_lesson_line(line) and counts and not reviewing:
            return lines.read(line, now)
        return question.take(line, now)

    def _help(self, question: Question, now: Now, *, numbers: bool) -> tuple[str, ...]:
        if numbers:
            return LessonLine().shows(now)
        if isinstance(question, LevelOf):
            return ("What to look for:", *question.criterion.look_for.strip().split("\n"))
        self._shown = None
        return ("", *words.HELP, "")

    def _undo(self, more: list[str], now: Now) -> Taken:
        entry = self._to_undo(more, now)
        says = words.in_words(self._lesson, now.state, entry.event)
        self._shown = None
        return Taken((Undone(of=entry.n),), (f"undone {entry.n}: {says}",))

    def _to_undo(self, more: list[str], now: Now) -> Entry:
        can = [e for e in now.state.in_effect if can_be_undone(e.event)]
        begun = next((e.n for e in now.state.in_effect if isinstance(e.event, Begun)), 0)
        if more:
            if not more[0].isdecimal():
                raise NotUnderstood(
                    "x alone undoes the last entry; x 31 undoes entry 31; e lists them"
                )
            found = [e for e in can if e.n == int(more[0])]
            if not found:
                raise NotUnderstood(
                    f"entry {more[0]} is not there, or stays as it is; e lists them"
                )
            _not_the_frame(found[0], begun)
            return found[0]
        can = [e for e in can if e.n > begun]
        if not can:
            raise NotUnderstood("nothing is left to undo here; x 3 undoes entry 3, e lists them")
        return can[-1]

    def _kept(self, events: tuple[Event, ...]) -> tuple[str, ...]:
        """What was kept, in words; short for what was just asked."""
        state = self._state()
        small = [e for e in events if isinstance(e, (Answered, Completed, Left))]
        if events and len(small) == len(events):
            return self._kept_answers(state, events)
        logs = [e for e in events if isinstance(e, Logged)]
        if logs and len(logs) + len(small) == len(events):
            told = ", ".join(f"{self._lesson.number(log.skill)}: {log.times}" for log in logs)
            return (f"   kept: {logs[0].student} skill {told}",)
        return tuple(
            f"   kept: {words.in_words(self._lesson, state, event)}"
            for event in events
            if not isinstance(event, _SILENT)
        )

    def _kept_answers(self, state: State, events: tuple[Event, ...]) -> tuple[str, ...]:
        """Several at once are said again, and the last of a try says the whole try."""
        of = next((e.of for e in events if isinstance(e, (Answered, Completed))), None)
        a_try = next((t for t in state.tries if t.n == of), None)
        if a_try and not self._lesson.open_questions(a_try):
            told = [words.IN_WORDS[answer] for answer in a_try.answers.values()]
            done = "completed" if a_try.completed else "not completed"
            whose = words.the_try(self._lesson, state, a_try.n)
            return (f"   kept: {whose}: {', '.join([*told, done])}",)
        if len(events) == 1:
            return ()
        return ("   kept: " + ", ".join(_short(event) for event in events),)

    def _keep(self, events: tuple[Event, ...] | list[Event]) -> None:
        if events:
            self._draft.keep(events, self._clock())

    def _say(self, *texts: str) -> None:
        for text in texts:
            self._say_folded(words.folded(text, self._width()))


def _same_subject(question: Question, shown: Question | None) -> bool:
    """Whether what would be shown is on the screen already."""
    if isinstance(question, AboutTry) and isinstance(shown, AboutTry):
        return question.number == shown.number
    return question == shown


def _short(event: Event) -> str:
    match event:
        case Answered():
            return words.IN_WORDS[event.answer]
        case Completed():
            return "completed" if event.completed else "not completed"
        case _:
            return "later"


def _not_the_frame(entry: Entry, begun: int) -> None:
    if begun and entry.event.what in {"students", "skills"}:
        raise NotUnderstood("students and skills stay once the lesson has begun; a adds a student")


def _readable(typed: str) -> str:
    """The line without blanks around it.

    Raises:
        NotUnderstood: it has characters that are no text, or too many.
    """
    line = typed.strip()
    if len(line) > LONGEST_LINE:
        raise NotUnderstood(f"{len(line)} characters; a line has at most {LONGEST_LINE}")
    if not all(character.isprintable() for character in line):
        raise NotUnderstood("the line has keys in it that are no letters (arrows?); type it again")
    return line
