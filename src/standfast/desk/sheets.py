"""Taking a score sheet into the record book."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from standfast.desk.approvals import approval_of
from standfast.desk.definitions import Texts, written
from standfast.desk.opening import Desk
from standfast.engine.impartiality import conflict_faults
from standfast.engine.naming import naming_faults
from standfast.engine.sheets import approval_faults, faults_in, faults_of_people, unknown_rubric
from standfast.engine.together import faults_beside
from standfast.model.base import Reference
from standfast.model.canonical import content_hash
from standfast.model.sheet import Sheet
from standfast.problems import BadInput, Fault, NotFound, Path, Place, Problem

if TYPE_CHECKING:
    from standfast.files.read import Placed


@dataclass(frozen=True)
class Taken:
    """A sheet that is in the book."""

    sheet: Sheet
    entry: str
    again: bool
    """It was in the book before, with the same content."""


def take_file(desk: Desk, placed: Placed[Sheet]) -> Taken:
    """Takes in the sheet of a file.

    Raises:
        BadInput: every contradiction with the rubric, the people, the book or itself, at its line.
        Refused: the id is in the book with other content, or the rubric's text was changed.
        NotFound: the rubric's syllabus is missing.
    """
    from standfast.files.read import problems_at

    return _take(desk, placed.noun, lambda faults: tuple(sorted(problems_at(placed, faults))))


def take_sheet(desk: Desk, sheet: Sheet) -> Taken:
    """Takes in a sheet that was scored in the terminal; as `take_file`."""
    place = Place(f"sheet {sheet.id}")

    def problems(faults: Iterable[Fault]) -> tuple[Problem, ...]:
        return tuple(
            Problem(place, f"{_in_words(fault.path)}: {fault.what}", fault.cure) for fault in faults
        )

    return _take(desk, sheet, problems)


_WORDS = {
    "practical": "name of the lesson",
    "began": "start of the lesson",
    "rubric_version": "version of the rubric",
    "attempts": "try",
    "clearances": "choice",
    "samples": "look",
    "ratings": "rating",
    "incidents": "incident",
    "notes": "note",
    "students": "student",
    "at": "time",
    "corrects": "correction",
}


def _in_words(path: Path) -> str:
    """Where in a sheet something stands, for somebody who never saw a sheet as a file."""
    words: list[str] = []
    for part in path:
        if isinstance(part, int):
            words[-1] += f" {part + 1}"
        elif part != "text":
            words.append(_WORDS.get(part, part))
    return ", ".join(words)


def _take(
    desk: Desk, sheet: Sheet, problems: Callable[[Iterable[Fault]], tuple[Problem, ...]]
) -> Taken:
    with desk.book.together():  # nobody else's sheet may come between looking and entering
        known = desk.book.find_sheet(sheet.id)
        if known is not None:
            entry = desk.book.put_sheet(sheet, known.rubric, known.syllabus, desk.stamp())
            return Taken(sheet, entry.id, again=True)
        texts, unknown = _texts(desk, sheet)
        faults = [*unknown, *faults_of(desk, sheet, texts)]
        if faults or texts is None:
            raise BadInput(problems(faults))
        rubric, syllabus = keep_texts(desk, texts)
        entry = desk.book.put_sheet(sheet, rubric, syllabus, desk.stamp())
    return Taken(sheet, entry.id, again=False)


def _texts(desk: Desk, sheet: Sheet) -> tuple[Texts | None, list[Fault]]:
    """The rubric under which it was scored, or that the school's files have none such."""
    try:
        return written(desk, sheet.rubric, sheet.rubric_version), []
    except NotFound:
        faults = [*unknown_rubric(sheet, (placed.noun for placed in desk.definitions.rubrics))]
        if not faults:
            raise
        return None, faults


def faults_of(desk: Desk, sheet: Sheet, texts: Texts | None) -> Iterator[Fault]:
    """What contradicts the people and sheets of the book, the rubric if there is one, or itself."""
    candidate = desk.book.find_person(sheet.candidate)
    assessor = desk.book.find_person(sheet.assessor)
    assessor = assessor if assessor and assessor.id == sheet.assessor else None
    known = {sheet.candidate: candidate, sheet.assessor: assessor}
    if None in known.values():
        everybody = {one.id for one in desk.book.people()}
        yield from faults_of_people(sheet, everybody | {i for i, who in known.items() if who})
    else:
        yield from faults_of_people(sheet, known)
    if assessor and texts:
        approval = approval_of(desk, assessor, sheet.rubric, sheet.on)
        yield from approval_faults(sheet, assessor, approval)
    if texts:
        yield from faults_in(sheet, texts.rubric, texts.syllabus)
    yield from conflict_faults(sheet, assessor, candidate, desk.school.conflict_of_interest)
    yield from faults_beside(sheet, _beside(desk, sheet))
    yield from _replaced(desk, sheet)
    yield from _not_come(desk, sheet)
    yield from naming_faults(sheet, desk.book.people)


def _replaced(desk: Desk, sheet: Sheet) -> Iterator[Fault]:
    """That a later version, which says what becomes of the earlier one, was in force that day."""
    for placed in desk.definitions.rubrics:
        later = placed.noun
        if later.id != sheet.rubric or later.version <= sheet.rubric_version:
            continue
        if later.transition and later.in_force_on(sheet.on):
            yield Fault(
                ("rubric_version",),
                f"version {sheet.rubric_version}, but on {sheet.on} version {later.version} was in"
                " force",
                f"score it under version {later.version}, or mend the day",
            )


AHEAD = timedelta(minutes=10)
"""So far a device's clock may be ahead of ours; no source."""


def _not_come(desk: Desk, sheet: Sheet) -> Iterator[Fault]:
    """That the lesson begins later than now; an invented school has a calendar of its own."""
    if sheet.began > desk.moment.now + AHEAD and not desk.school.invented:
        yield Fault(
            ("began",),
            f"{sheet.began:%Y-%m-%d %H:%M} has not come yet",
            "say when the lesson began; it is scored while it is taught, or after it",
        )


def _beside(desk: Desk, sheet: Sheet) -> list[Sheet]:
    """The sheets that stand in the book for the same practical, and the one it corrects."""
    beside = {one.sheet.id: one.sheet for one in desk.book.sheets(practical=sheet.practical)}
    corrected = desk.book.find_sheet(sheet.corrects.of) if sheet.corrects else None
    if corrected and corrected.superseded_by is None:
        beside[corrected.sheet.id] = corrected.sheet
    return list(beside.values())


def keep_texts(desk: Desk, texts: Texts) -> tuple[Reference, Reference]:
    """Keeps rubric and syllabus by their content, if they are not kept yet.

    Raises:
        Refused: sheets were scored under another text of the same version; shows the difference.
    """
    kept = [
        Reference(id=text.id, version=text.version, hash=content_hash(text))
        if desk.book.find_text(content_hash(text))
        else desk.book.keep_text(text, desk.stamp())
        for text in (texts.rubric, texts.syllabus)
    ]
    return kept[0], kept[1]
