"""Small invented rubrics, sheets and people for tests; every value can be given otherwise.

`rubric()` has one criterion of each kind; `sheet()` is a lesson in which everything went well
and which alone meets every standard of it.  Nothing here is anybody's true record.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timezone
from typing import Any
from uuid import UUID

from standfast.model.appeal import Appeal
from standfast.model.award import Award, AwardDates
from standfast.model.base import Reference
from standfast.model.evidence import (
    Attempt,
    Clearance,
    Incident,
    Rating,
    Repetition,
    Sample,
    Student,
)
from standfast.model.people import Approval, Document, Person, Tie
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Competency,
    Criterion,
    IncidentCriterion,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
    Validity,
)
from standfast.model.sheet import Correction, Sheet
from standfast.model.syllabus import Skill, Syllabus

ON = date(2026, 3, 1)
HASH = "0" * 64
SPOT = {"stands": "at the side", "controls": "the wrist", "starts": "first", "ends": "last"}


def key(number: int) -> str:
    """A sheet id that can be told from others by its number."""
    return str(UUID(int=number))


def skill(name: str, *before: str, times: int = 3, **other: object) -> Skill:
    """A skill with these prerequisites."""
    return Skill.model_validate(
        {
            "id": name,
            "title": name,
            "prerequisites": [{"skill": b, "times": times} for b in before],
            "spot": SPOT,
            "hazards": ("a slip",),
            "waiting": ("ten rolls",),
            "source": "common practice, no source",
            **other,
        }
    )


def syllabus(*skills: Skill, **other: object) -> Syllabus:
    """A syllabus; without skills one of a hang and a sit that needs three hangs."""
    taught = skills or (skill("hang"), skill("sit", "hang"))
    return Syllabus.model_validate(
        {"id": "bar", "title": "Bar", "version": 1, "skills": taught, **other}
    )


def _common(name: str, other: dict[str, object]) -> dict[str, object]:
    return {"id": name, "title": name, "look_for": "It is seen.", **other}


def attempts(
    name: str = "place",
    *,
    share: float = 0.85,
    assurance: float = 0.8,
    least: int = 10,
    lapses: int | None = 3,
    method: str = "clopper-pearson",
    **other: object,
) -> AttemptsCriterion:
    """A criterion asked of attempts."""
    standard = {
        "share": share,
        "assurance": assurance,
        "least": least,
        "lapses": lapses,
        "method": method,
    }
    return AttemptsCriterion.model_validate(
        {"kind": "attempts", "question": "There?", "standard": standard, **_common(name, other)}
    )


def clearances(
    name: str = "ready",
    *,
    false_clearances: int = 0,
    accuracy: float = 0.7,
    assurance: float = 0.8,
    least: int = 5,
    **other: object,
) -> ClearancesCriterion:
    """A criterion on choices to let go or hold back."""
    standard = {
        "false_clearances": false_clearances,
        "accuracy": accuracy,
        "assurance": assurance,
        "least": least,
    }
    return ClearancesCriterion.model_validate(
        {"kind": "clearances", "standard": standard, **_common(name, other)}
    )


def samples(
    name: str = "busy",
    *,
    idle: float = 0.3,
    assurance: float = 0.8,
    least: int = 6,
    every: int = 60,
    **other: object,
) -> SamplesCriterion:
    """A criterion on idle students among those waiting."""
    standard = {"idle": idle, "assurance": assurance, "least": least, "every": every}
    return SamplesCriterion.model_validate(
        {"kind": "samples", "standard": standard, **_common(name, other)}
    )


def rating(
    name: str = "looks", *, least: int = 3, floor: int = 2, levels: int = 4, **other: object
) -> RatingCriterion:
    """A criterion with levels."""
    steps = [{"level": n, "title": f"step {n}", "words": f"{n} seen"} for n in range(1, levels + 1)]
    return RatingCriterion.model_validate(
        {
            "kind": "rating",
            "levels": steps,
            "standard": {"least": least, "floor": floor},
            **_common(name, other),
        }
    )


def incident(
    name: str = "left", *, effect: str = "counts", limit: int = 0, **other: object
) -> IncidentCriterion:
    """A criterion on something that must not happen."""
    return IncidentCriterion.model_validate(
        {
            "kind": "incident",
            "standard": {"effect": effect, "limit": limit},
            **_common(name, other),
        }
    )


def competency(
    name: str, *criteria: Criterion, weight: float = 1.0, least_share: float = 1.0
) -> Competency:
    """A competency of these criteria."""
    return Competency(
        id=name,
        title=name,
        about="What it is.",
        weight=weight,
        least_share=least_share,
        criteria=criteria,
    )


def all_kinds() -> tuple[Criterion, ...]:
    """One criterion of each kind, and one that stops."""
    return (
        attempts(critical=True),
        clearances(),
        samples(),
        rating(),
        incident(limit=1),
        incident("drop", effect="stops", critical=True),
    )


def rubric(
    *criteria: Criterion,
    decision: dict[str, object] | None = None,
    **other: Any,  # noqa: ANN401 - any field of a rubric
) -> Rubric:
    """A rubric with one competency of these criteria, or with one of each kind."""
    rule = {
        "practicals": 1,
        "assessors": 1,
        "independent_assessors": 0,
        "window": "P6M",
        "overall_share": 1.0,
    }
    return Rubric.model_validate(
        {
            "id": "bar-1",
            "title": "Bar",
            "version": 1,
            "in_force": date(2025, 1, 1),
            "syllabus": "bar",
            "competencies": (competency("spotting", *(criteria or all_kinds())),),
            "decision": {**rule, **(decision or {})},
            "validity": Validity(period="P2Y"),
            "grants": {
                "id": "teach-bar",
                "title": "Bar",
                "words": "Yes.",
                "skills": ("hang", "sit"),
            },
            **other,
        }
    )


def tries(
    answers: Iterable[str], criterion: str = "place", *, student: str = "S1", skill: str = "hang"
) -> tuple[Attempt, ...]:
    """One attempt for each answer, half a minute apart."""
    return tuple(
        Attempt.model_validate(
            {"at": 30 * n, "student": student, "skill": skill, "answers": {criterion: answer}}
        )
        for n, answer in enumerate(answers, 1)
    )


def looks(counts: Sequence[tuple[int, int] | None], every: int = 60) -> tuple[Sample, ...]:
    """One look for each (idle, waiting); None for a missed one."""
    return tuple(
        Sample(look=n, at=n * every)
        if count is None
        else Sample(look=n, at=n * every, idle=count[0], waiting=count[1])
        for n, count in enumerate(counts, 1)
    )


def choices(
    made: Iterable[str], *, student: str = "S1", skill: str = "hang"
) -> tuple[Clearance, ...]:
    """One choice for each `let-go` or `held-back`, twenty seconds apart."""
    return tuple(
        Clearance.model_validate({"at": 20 * n, "student": student, "skill": skill, "choice": c})
        for n, c in enumerate(made, 1)
    )


def marks(**levels: int | None) -> tuple[Rating, ...]:
    """One rating for each criterion."""
    return tuple(Rating(criterion=name, level=level) for name, level in levels.items())


def incidents(*names: str, at: int = 3000) -> tuple[Incident, ...]:
    """One incident for each criterion named."""
    return tuple(Incident(at=at, criterion=name) for name in names)


def student(code: str = "S1", *seen: tuple[int, str], **log: int) -> Student:
    """A student with a log, and repetitions seen as (second, skill)."""
    done = tuple(Repetition(at=at, skill=name) for at, name in seen)
    return Student(student=code, log=log, repetitions=done)


def sheet(
    number: int = 1,
    *,
    day: date = date(2026, 2, 20),
    **other: Any,  # noqa: ANN401 - any field of a sheet
) -> Sheet:
    """A lesson in which everything went well; `number` makes its id."""
    return Sheet.model_validate(
        {
            "id": key(number),
            "practical": "lesson-1",
            "rubric": "bar-1",
            "rubric_version": 1,
            "candidate": "cato",
            "assessor": "ann",
            "began": datetime.combine(day, time(10), timezone.utc),
            "minutes": 60,
            "students": (student("S1", hang=5), student("S2", hang=5), student("S3")),
            "attempts": tries(["yes"] * 12),
            "clearances": choices(["let-go"] * 6, skill="sit"),
            "samples": looks([(0, 3)] * 24),
            "ratings": marks(looks=4),
            **other,
        }
    )


def correcting(of: int, because: str = "a slip of the pen") -> Correction:
    """Names the sheet of that number as corrected."""
    return Correction(of=key(of), because=because)


def person(
    name: str = "cato",
    *,
    trained_by: dict[str, date] | None = None,
    documents: dict[str, date] | None = None,
    scores: Sequence[str] = (),
) -> Person:
    """A person: who trained them since when, documents with last day, rubrics they may score."""
    always = {"since": date(2020, 1, 1), "until": date(2030, 1, 1)}
    return Person(
        id=name,
        name=name.title(),
        trained_by=tuple(Tie(trainer=t, since=d) for t, d in (trained_by or {}).items()),
        documents=tuple(
            Document(document=kind, issued=date(2020, 1, 1), last_day=last)
            for kind, last in (documents or {}).items()
        ),
        scores=tuple(Approval.model_validate({"rubric": r, **always}) for r in scores),
    )


def award(dates: AwardDates, documents: Sequence[str] = ()) -> Award:
    """An award with these dates that depends on these kinds of document."""
    return Award.model_validate(
        {
            "id": key(900),
            "number": "A-1",
            "candidate": "cato",
            "rubric": Reference(id="bar-1", version=1, hash=HASH),
            "scope": {"id": "teach-bar", "title": "Bar", "words": "Yes.", "skills": ("hang",)},
            "decision": key(901),
            "granted": dates.first_day,
            "certifier": "zoe",
            "dates": dates,
            "documents": tuple(documents),
        }
    )


def appeal(**other: object) -> Appeal:
    """An appeal of cato's, to be answered within thirty days."""
    return Appeal.model_validate(
        {
            "id": key(950),
            "number": "appeal-2026-1",
            "kind": "appeal",
            "received": date(2026, 6, 1),
            "due_by": date(2026, 7, 1),
            "by": "cato",
            "about": "cato",
            "because": "the second lesson was not looked at",
            **other,
        }
    )
