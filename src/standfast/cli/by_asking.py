"""Scoring a practical by asking in the terminal, from the first question to the record book."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import typer

from standfast.cli import options, show
from standfast.problems import Refused, StandfastError

if TYPE_CHECKING:
    from standfast.cli.scoring.setup import Setup
    from standfast.desk.opening import Desk
    from standfast.desk.sheets import Taken


@dataclass(frozen=True)
class Lesson:
    """What was said on the command line."""

    candidate: str | None
    rubric: str | None
    assessor: str | None
    practical: str | None
    minutes: int
    paper: bool
    top_up: bool = False


def score_by_asking(lesson: Lesson, folder: Path, by: str | None) -> Taken:
    """Asks until the sheet is signed, and takes it in; what was answered stays in a draft.

    Raises:
        StandfastError: something is not said, or names the candidate where it must not.
        Refused: the assessor is not approved on this day.
        BadInput: the sheet contradicts its rubric, the book or itself; the draft stays.
    """
    from standfast.cli.scoring import drafts, session
    from standfast.cli.scoring.terminal import Terminal
    from standfast.desk.people import enter_files
    from standfast.desk.sheets import take_sheet

    _all_said(lesson)
    who = by or lesson.assessor
    with options.desk(folder, by=who) as desk:
        enter_files(desk)
        setup = _setup(desk, lesson, folder)
        zone, face, kept = ZoneInfo(desk.school.zone), Terminal(), folder / "drafts"
        sheet = session.run(
            setup, kept, face.ask, face.say, lambda: datetime.now(zone), desk.new_key
        )
        if sheet is None:
            raise typer.Exit(show.COULD_NOT)
        taken = take_sheet(desk.at(options.moment(by=who)), sheet)  # the lesson took its time
        drafts.finish(drafts.draft_of(kept, sheet.id))
    return taken


def _all_said(lesson: Lesson) -> None:
    from standfast.engine.sheets import name_faults

    words = ("candidate", "rubric", "assessor", "practical")
    missing = [f"--{word}" for word in words if not getattr(lesson, word)]
    if missing:
        what = f"to score by asking, give {', '.join(missing)}"
        raise StandfastError(f"{what}; or name a sheet's file")
    for fault in name_faults(lesson.practical or "", lesson.candidate or ""):
        raise StandfastError(f"--practical {fault.what}; {fault.cure}")


def _setup(desk: Desk, lesson: Lesson, folder: Path) -> Setup:
    from standfast.cli.scoring.setup import Setup
    from standfast.desk.approvals import approval_of
    from standfast.desk.focusing import ahead
    from standfast.desk.people import person, tie_refused

    candidate, rubric = lesson.candidate or "", lesson.rubric or ""
    assessor, practical = lesson.assessor or "", lesson.practical or ""
    coming = ahead(desk, candidate, rubric, top_up=lesson.top_up)
    approval = approval_of(desk, person(desk, assessor), rubric, desk.today)
    if approval.state == "lapsed":
        cure = "add a 'scores' line in the people file, with its last day"
        raise Refused(
            f"{assessor} is not approved to score {rubric} on {desk.today}: {approval.because}",
            [approval.next_step if approval.by_reference else cure],
        )
    if tie_refused(desk, person(desk, assessor), person(desk, candidate)):
        raise Refused(
            f"{assessor} has a recorded conflict of interest with {candidate} on {desk.today}",
            ["somebody without one must score"],
        )
    return Setup(
        coming.texts.rubric,
        coming.texts.syllabus,
        candidate,
        person(desk, candidate).name,
        assessor,
        practical,
        minutes=lesson.minutes,
        paper=lesson.paper,
        covers=coming.covers,
        resume=_again(lesson, folder),
    )


def _again(lesson: Lesson, folder: Path) -> str:
    """The command that goes on where this one stops."""
    words = ("candidate", "rubric", "assessor", "practical")
    said = {word: str(getattr(lesson, word)) for word in words}
    if folder != options.HERE:
        said["school"] = str(folder)
    named = " ".join(f"--{word} {shlex.quote(value)}" for word, value in said.items())
    flags = " --paper" * lesson.paper + " --top-up" * lesson.top_up
    return f"standfast score {named}{flags}"
