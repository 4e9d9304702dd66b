"""How long the version of an award is honoured, and entering the rubric texts that say so."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from standfast.desk.opening import Desk
from standfast.engine.definitions import faults_across, faults_in_rubric
from standfast.engine.transition import honoured
from standfast.model.award import Award, Honoured
from standfast.model.rubric import Rubric
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.store.transitions import KeptTransition


def honoured_of(
    desk: Desk, award: Award, known: Sequence[KeptTransition] | None = None
) -> Honoured | None:
    """Until when the award's version is honoured, by what the book knows; None without an end.

    `known` are the book's transitions, for who asks about many awards.
    """
    said = desk.book.transitions() if known is None else known
    later = [
        one.rubric
        for one in said
        if one.rubric.id == award.rubric.id and one.rubric.version > award.rubric.version
    ]
    if not later:
        return None
    asked = (award.rubric.hash, *(reference.hash for reference in later), str(desk.today))
    if asked not in desk.told:
        own = rubric_text(desk, award.rubric.hash)
        texts = [text for one in later if (text := rubric_text(desk, one.hash))]
        desk.told[asked] = honoured(own, texts, desk.today) if own else None
    return desk.told[asked]


def rubric_text(desk: Desk, wanted: str) -> Rubric | None:
    """The rubric's text of that hash, as the book keeps it, read once; None when it does not."""
    if wanted not in desk.read:
        text = desk.book.find_text(wanted)
        if not isinstance(text, Rubric):
            return None
        desk.read[wanted] = text
    return desk.read[wanted]


def newest_text(desk: Desk, rubric: str) -> Rubric | None:
    """The rubric's text as the book has it last; None when it keeps none."""
    newest = desk.book.find_version("rubric", rubric)
    return rubric_text(desk, newest.hash) if newest else None


def enter_transitions(desk: Desk) -> tuple[str, ...]:
    """Enters the rubric versions of the files that say what becomes of awards; gives the new ones.

    One with a fault is left out: `standfast check` says it.  One that differs from the text under
    which sheets were scored stays as it was.
    """
    rubrics = [placed.noun for placed in desk.definitions.rubrics]
    syllabuses = [placed.noun for placed in desk.definitions.syllabuses]
    faulty = [noun for noun, _ in faults_across(rubrics, syllabuses)]
    known = {(one.rubric.id, one.rubric.version) for one in desk.book.transitions()}
    entered = []
    for rubric in rubrics:
        syllabus = next((one for one in syllabuses if one.id == rubric.syllabus), None)
        said = rubric.transition or (rubric.id, rubric.version) in known  # said, or taken back
        if not said or any(rubric is noun for noun in faulty):
            continue
        if faults_in_rubric(rubric, syllabus):
            continue
        before = desk.book.size()
        try:
            desk.book.keep_text(rubric, desk.stamp())
        except Refused:
            continue
        if desk.book.size() > before:
            entered.append(f"{rubric.id} version {rubric.version}")
    return tuple(entered)
