"""Checking what a school has written down, and finding the text that a question is about."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from standfast.desk.opening import SCHOOL_FILE, Desk
from standfast.engine.definitions import faults_across, faults_in_rubric, faults_in_syllabus
from standfast.engine.impartiality import conflict_faults
from standfast.engine.people import faults_in_person
from standfast.engine.sheets import (
    approval_faults,
    faults_in,
    faults_of_people,
    unknown_rubric,
)
from standfast.model.base import NounT
from standfast.model.people import ConflictPolicy, Person
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus
from standfast.problems import BadInput, Fault, NotFound, Problem, StandfastError

if TYPE_CHECKING:
    from standfast.files.folder import Definitions
    from standfast.files.read import Placed


@dataclass(frozen=True)
class Checked:
    """What a check found."""

    files: int
    rubrics: tuple[str, ...]
    syllabuses: tuple[str, ...]
    people: int
    sheets: int
    problems: tuple[Problem, ...]


def check(paths: Sequence[Path], school: Path) -> Checked:
    """Every fault of every file named, and of those in the folders named, across files too.

    A file that is named alone is held against what stands beside it in its folder, and a sheet
    against the texts and people of the school as well.
    """
    from standfast.files.folder import Definitions, read_definitions, read_paths

    found = read_paths(paths)
    beside = read_paths(sorted({path.parent for path in paths if path.is_file()}))
    at_home = found.sheets and (school / SCHOOL_FILE).is_file()
    home = read_definitions(school) if at_home else Definitions()
    return Checked(
        files=found.files,
        rubrics=tuple(f"{p.noun.id} version {p.noun.version}" for p in found.rubrics),
        syllabuses=tuple(f"{p.noun.id} version {p.noun.version}" for p in found.syllabuses),
        people=len(found.people),
        sheets=len(found.sheets),
        problems=tuple(sorted({*found.problems, *_meaning(found, beside, home)})),
    )


def _meaning(found: Definitions, beside: Definitions, home: Definitions) -> Iterator[Problem]:
    """What the files say that cannot be, each file alone and all together."""
    from standfast.engine.planning.faults import faults_in_day
    from standfast.files.read import problems_at

    for plan in found.plans:
        yield from problems_at(plan, faults_in_day(plan.noun))
    syllabuses = _with(found.syllabuses, beside.syllabuses)
    rubrics = _with(found.rubrics, beside.rubrics)
    for syllabus in found.syllabuses:
        yield from problems_at(syllabus, faults_in_syllabus(syllabus.noun))
    for who in found.people:
        yield from problems_at(who, faults_in_person(who.noun, rubrics))
    for rubric in found.rubrics:
        yield from problems_at(rubric, faults_in_rubric(rubric.noun, _of(rubric.noun, syllabuses)))
    texts: list[Placed[Any]] = [*found.rubrics, *found.syllabuses]
    for noun, fault in faults_across(rubrics, syllabuses):
        for placed in texts:
            if placed.noun is noun:
                yield from problems_at(placed, [fault])
    known = _Known.of((found, beside, home))
    for sheet in found.sheets:
        yield from problems_at(sheet, _sheet_faults(sheet.noun, known))


def _with(named: Sequence[Placed[NounT]], beside: Sequence[Placed[NounT]]) -> list[NounT]:
    """The nouns of the files named, and those of the files beside them."""
    files = {placed.file for placed in named}
    return [p.noun for p in (*named, *(p for p in beside if p.file not in files))]


@dataclass(frozen=True)
class _Known:
    """What sheets are held against: of what is there twice, the nearest."""

    people: Mapping[str, Person]
    rubrics: Mapping[tuple[str, int], Rubric]
    syllabuses: Sequence[Syllabus]
    policy: ConflictPolicy
    unread: Collection[str]
    """What files with faults may hold as well: nothing is called unknown for want of it."""

    @classmethod
    def of(cls, nearest_first: Sequence[Definitions]) -> _Known:
        """What these hold together."""
        people: dict[str, Person] = {}
        rubrics: dict[tuple[str, int], Rubric] = {}
        for one in nearest_first:
            for who in one.people:
                people.setdefault(who.noun.id, who.noun)
            for text in one.rubrics:
                rubrics.setdefault((text.noun.id, text.noun.version), text.noun)
        schools = (placed.noun for one in nearest_first for placed in one.schools)
        return cls(
            people,
            rubrics,
            [placed.noun for one in nearest_first for placed in one.syllabuses],
            next((school.conflict_of_interest for school in schools), "refused"),
            {kind for one in nearest_first for kind in one.unread},
        )


def _sheet_faults(sheet: Sheet, known: _Known) -> Iterator[Fault]:
    """What a sheet says against the texts and the people that are there."""
    if known.people and "people" not in known.unread:
        yield from faults_of_people(sheet, known.people)
    if known.rubrics and "rubric" not in known.unread:
        yield from unknown_rubric(sheet, known.rubrics.values())
    assessor, candidate = known.people.get(sheet.assessor), known.people.get(sheet.candidate)
    yield from conflict_faults(sheet, assessor, candidate, known.policy)
    rubric = known.rubrics.get((sheet.rubric, sheet.rubric_version))
    syllabus = _of(rubric, known.syllabuses) if rubric else None
    if rubric and assessor:
        yield from approval_faults(sheet, assessor)
    if rubric and syllabus:
        yield from faults_in(sheet, rubric, syllabus)


def _of(rubric: Rubric, syllabuses: Sequence[Syllabus]) -> Syllabus | None:
    """The newest version of the rubric's syllabus."""
    fitting = [syllabus for syllabus in syllabuses if syllabus.id == rubric.syllabus]
    return max(fitting, key=lambda syllabus: syllabus.version, default=None)


@dataclass(frozen=True)
class Texts:
    """A rubric with its syllabus."""

    rubric: Rubric
    syllabus: Syllabus


def written(desk: Desk, rubric: str, version: int | None = None) -> Texts:
    """The rubric as the school's files have it now: that version, or the newest.

    The newest of those in force on the desk's day, when any is.

    Raises:
        BadInput: there is none, and files that may hold it have faults.
        NotFound: the files have no such rubric, or no such syllabus for it.
    """
    rubrics = [placed.noun for placed in desk.definitions.rubrics]
    fitting = [r for r in rubrics if r.id == rubric and version in {None, r.version}]
    if not fitting:
        wanted = rubric if version is None else f"{rubric} version {version}"
        known = [r.id if version is None else f"{r.id} version {r.version}" for r in rubrics]
        raise _not_there(desk, NotFound("rubric", wanted, known))
    in_force = [r for r in fitting if r.in_force_on(desk.today)]
    newest = max(in_force or fitting, key=lambda r: r.version)
    syllabuses = [placed.noun for placed in desk.definitions.syllabuses]
    syllabus = _of(newest, syllabuses)
    if syllabus is None:
        known = [s.id for s in syllabuses]
        raise _not_there(desk, NotFound("syllabus", newest.syllabus, known))
    return Texts(newest, syllabus)


def _not_there(desk: Desk, not_found: NotFound) -> StandfastError:
    """The faults of the school's files when there are some: the text may stand in one of them."""
    problems = desk.definitions.problems
    return BadInput(sorted(problems)) if problems else not_found


def kept(desk: Desk, rubric_hash: str, syllabus_hash: str) -> Texts:
    """The texts of those hashes, as the record book keeps them.

    Raises:
        NotFound: the book has no such text.
    """
    rubric, syllabus = desk.book.find_text(rubric_hash), desk.book.find_text(syllabus_hash)
    if not isinstance(rubric, Rubric) or not isinstance(syllabus, Syllabus):
        raise NotFound("kept text", f"{rubric_hash[:12]} with {syllabus_hash[:12]}", [])
    return Texts(rubric, syllabus)


def standards_of(texts: Texts) -> dict[str, str]:
    """For each criterion of the rubric its standard, in the words of a decision."""
    from standfast.engine.findings import finding
    from standfast.engine.joining import joined

    nothing = joined(texts.rubric, texts.syllabus, [])
    return {
        criterion.id: finding(criterion, competency, nothing[criterion.id].tally).standard
        for competency in texts.rubric.competencies
        for criterion in competency.criteria
    }
