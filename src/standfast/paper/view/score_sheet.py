"""What a blank score sheet asks: one page, in the order in which the terminal asks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from string import ascii_uppercase

from standfast.model.focus import Focus
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Competency,
    IncidentCriterion,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
)
from standfast.model.school import School
from standfast.model.syllabus import Skill, Syllabus
from standfast.paper.view.words import INVENTED, cautions

LOOKS_IN_A_ROW = 15


@dataclass(frozen=True)
class Lesson:
    """What is known of the lesson before it begins."""

    candidate: str = ""
    assessor: str = ""
    practical: str = ""
    students: int = 6
    minutes: int = 45
    skills: tuple[str, ...] = ()
    """The skills to be taught; all of the syllabus when empty."""
    focus: Focus | None = None
    """What the practical covers, and why; the whole rubric when empty."""


@dataclass(frozen=True)
class Numbered:
    """Something that is called by its number or letter."""

    number: str
    words: str


@dataclass(frozen=True)
class RatingBox:
    """A rating with its levels."""

    title: str
    levels: tuple[Numbered, ...]


@dataclass(frozen=True)
class ScoreSheetView:
    """A blank score sheet, in words."""

    title: str
    language: str
    paper: str
    school: str
    rubric: str
    candidate: str
    assessor: str
    practical: str
    minutes: int
    covers: tuple[str, ...]
    """What it covers and why, when it is not the whole rubric."""
    skills: tuple[Numbered, ...]
    log_skills: tuple[Numbered, ...]
    students: tuple[str, ...]
    choices: bool
    questions: tuple[Numbered, ...]
    tries: tuple[int, ...]
    looks: tuple[tuple[Numbered, ...], ...]
    incidents: tuple[Numbered, ...]
    ratings_before: tuple[RatingBox, ...]
    ratings: tuple[RatingBox, ...]
    caution: tuple[str, ...]
    invented: str


def score_sheet_view(
    rubric: Rubric, syllabus: Syllabus, school: School, lesson: Lesson, tries: int
) -> ScoreSheetView:
    """What the blank sheet asks, with so many rows for tries, two of which stand side by side.

    `rubric` is without what the practical does not cover (`engine.narrowing.asked`).
    Skills and incidents carry the numbers by which the terminal calls them.
    """
    skills = [s for s in syllabus.skills if not lesson.skills or s.id in lesson.skills]
    before = _before_lesson(rubric)
    criteria = list(rubric.criteria())
    choices = any(isinstance(c, ClearancesCriterion) for c in criteria)
    return ScoreSheetView(
        title=f"Score sheet: {rubric.title}",
        language=school.language,
        paper=school.paper,
        school=school.name,
        rubric=f"{rubric.id}, version {rubric.version}",
        candidate=lesson.candidate,
        assessor=lesson.assessor,
        practical=lesson.practical,
        minutes=lesson.minutes,
        covers=tuple(_covers(rubric, lesson.focus)),
        skills=tuple(Numbered(_number(s.id, syllabus), s.title) for s in skills),
        log_skills=tuple(_log_skills(skills, syllabus)) if choices else (),
        students=tuple(f"S{n}" for n in range(1, lesson.students + 1)),
        choices=choices,
        questions=tuple(_questions(rubric)),
        tries=tuple(range(1, tries + 1)),
        looks=_looks(rubric, lesson.minutes),
        incidents=tuple(
            Numbered(f"i {n}", c.title + (" (stops)" if c.standard.effect == "stops" else ""))
            for n, c in enumerate((c for c in criteria if isinstance(c, IncidentCriterion)), 1)
        ),
        ratings_before=tuple(_ratings(before)),
        ratings=tuple(b for c in rubric.competencies if c not in before for b in _ratings([c])),
        caution=cautions(school),
        invented=INVENTED if school.invented else "",
    )


def _covers(rubric: Rubric, focus: Focus | None) -> Iterator[str]:
    for one in focus.covered if focus else ():
        known = rubric.competency(one.competency)
        yield f"{known.title if known else one.competency} ({one.because})"


def _before_lesson(rubric: Rubric) -> list[Competency]:
    """The first competency, when nothing of it waits for the lesson."""
    first = rubric.competencies[:1]
    waits = {"attempts", "clearances", "samples"}
    return [c for c in first if not any(criterion.kind in waits for criterion in c.criteria)]


def _number(skill: str, syllabus: Syllabus) -> str:
    return str(1 + [known.id for known in syllabus.skills].index(skill))


def _log_skills(skills: Sequence[Skill], syllabus: Syllabus) -> list[Numbered]:
    """The skills whose repetitions are asked of each student: prerequisites of those taught."""
    wanted = {needed.skill for skill in skills for needed in skill.prerequisites}
    return [Numbered(_number(s.id, syllabus), s.title) for s in syllabus.skills if s.id in wanted]


def _questions(rubric: Rubric) -> list[Numbered]:
    asked = [c for c in rubric.criteria() if isinstance(c, AttemptsCriterion)]
    only = {"every": "", "failed": " (failed tries only)"}
    return [
        Numbered(ascii_uppercase[n], c.question + only[c.asked]) for n, c in enumerate(asked[:26])
    ]


def _looks(rubric: Rubric, minutes: int) -> tuple[tuple[Numbered, ...], ...]:
    every = next(
        (c.standard.every for c in rubric.criteria() if isinstance(c, SamplesCriterion)), 0
    )
    if not every:
        return ()
    due = [n * every for n in range(1, (minutes * 60 - 1) // every + 1)]
    cells = [
        Numbered(str(n), f"{second // 60}:{second % 60:02d}") for n, second in enumerate(due, 1)
    ]
    return tuple(
        tuple(cells[at : at + LOOKS_IN_A_ROW]) for at in range(0, len(cells), LOOKS_IN_A_ROW)
    )


def _ratings(competencies: Sequence[Competency]) -> list[RatingBox]:
    return [
        RatingBox(c.title, tuple(Numbered(str(v.level), v.title) for v in c.levels))
        for competency in competencies
        for c in competency.criteria
        if isinstance(c, RatingCriterion)
    ]
