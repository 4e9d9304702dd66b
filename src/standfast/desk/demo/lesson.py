"""One invented practical: what happens in the lesson, and what each assessor makes of it.

What happens is drawn once from the candidate's gifts; each assessor then sees it with eyes of
her own.  So two sheets of one practical agree about as often as two people do.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from random import Random

from standfast.model.evidence import (
    Answer,
    Attempt,
    Choice,
    Clearance,
    Incident,
    Note,
    Rating,
    Sample,
    Student,
)
from standfast.model.rubric import (
    AttemptsCriterion,
    Criterion,
    IncidentCriterion,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
)
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Skill, Syllabus

MINUTES = 55
FIRST_TRY = 300
BETWEEN_TRIES = (45, 75)
UNSEEN = 0.03
FAILED = 0.22
NOTES = (
    "S1 asks for the skill again at the end; she says next week.",
    "Voice low and slow all through; students look at her before each try.",
    "Sent S4 to the floor task after two tries, and said why.",
    "Two students talk in the queue; she walks past and gives them the floor task.",
    "Mat under the bar moved by a foot's width; she stops and puts it back.",
)


@dataclass(frozen=True)
class Gift:
    """How a candidate teaches: chances from 0 to 1, and per-competency shifts of them."""

    skill: float
    """The chance that one observable thing is done as the rubric says."""
    weak: Mapping[str, float] = field(default_factory=dict)
    """Competency to how much lower the chance is there."""
    judges: float = 0.97
    """The chance that a student is let go or held back as the syllabus says."""
    idle: float = 0.08
    """The chance that a waiting student is idle at a look."""
    stops: str | None = None
    """The stopping incident that happens in this lesson."""

    def chance(self, competency: str) -> float:
        """The chance of one observable thing of that competency."""
        return min(max(self.skill - self.weak.get(competency, 0.0), 0.02), 0.995)


@dataclass(frozen=True)
class Eyes:
    """How an assessor sees: the chance to miss a lapse, and to see one that was none."""

    assessor: str
    misses: float
    invents: float
    shift: float
    """Added to each rating before it is rounded: severity, in levels."""


@dataclass
class _Happened:
    """What truly happened in the lesson."""

    students: tuple[Student, ...]
    tries: list[tuple[int, str, str, bool, dict[str, bool]]] = field(default_factory=list)
    choices: list[tuple[int, str, str, Choice]] = field(default_factory=list)
    looks: list[tuple[int, int, int, int]] = field(default_factory=list)
    incidents: list[tuple[int, str]] = field(default_factory=list)
    quality: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Practical:
    """Which lesson it is."""

    id: str
    candidate: str
    began: datetime
    site: str


def teach(
    rubric: Rubric, syllabus: Syllabus, gift: Gift, students: int, chance: Random
) -> _Happened:
    """What happens in one lesson."""
    skills = _taught(rubric, syllabus)
    happened = _Happened(tuple(_student(n + 1, syllabus, chance) for n in range(students)))
    _tries(happened, rubric, skills, gift, chance)
    _looks(happened, rubric, gift, students, chance)
    _incidents(happened, rubric, gift, chance)
    for competency in rubric.competencies:
        for criterion in competency.criteria:
            spread = chance.gauss(0, 0.45)
            happened.quality[criterion.id] = 1 + 2.9 * gift.chance(competency.id) + spread
    return happened


def _taught(rubric: Rubric, syllabus: Syllabus) -> list[Skill]:
    wanted = set(rubric.grants.skills) if rubric.grants else {s.id for s in syllabus.skills}
    return [skill for skill in syllabus.skills if skill.id in wanted]


def _student(number: int, syllabus: Syllabus, chance: Random) -> Student:
    """A student who has done the easier skills often and the harder ones seldom or never."""
    reach = chance.randint(len(syllabus.skills) // 2, len(syllabus.skills))
    log = {}
    for place, skill in enumerate(syllabus.skills):
        done = chance.randint(3, 9) if place < reach - 3 else chance.choice((0, 0, 1, 2, 3, 4))
        if done:
            log[skill.id] = done
    return Student(student=f"S{number}", log=log)


def _ready(student: Student, skill: Skill) -> bool:
    return all(student.log.get(p.skill, 0) >= p.times for p in skill.prerequisites)


def _tries(
    happened: _Happened, rubric: Rubric, skills: Sequence[Skill], gift: Gift, chance: Random
) -> None:
    """Students come up in turn; each is let go or held back first, then tries."""
    choices: dict[tuple[str, str], Choice] = {}
    second = FIRST_TRY
    turn = 0
    while second < MINUTES * 60 - 240:
        student = happened.students[turn % len(happened.students)]
        skill = _next_skill(student, skills, chance)
        turn += 1
        key = (student.student, skill.id)
        if skill.prerequisites and key not in choices:
            right = chance.random() < gift.judges
            choices[key] = "let-go" if _ready(student, skill) is right else "held-back"
            happened.choices.append((second, *key, choices[key]))
            second += 15
        if choices.get(key, "let-go") == "let-go":
            failed = chance.random() < FAILED
            answers = _done_as_asked(rubric, skill, gift, chance, failed=failed)
            happened.tries.append((second, *key, failed, answers))
        second += chance.randint(*BETWEEN_TRIES)


def _next_skill(student: Student, skills: Sequence[Skill], chance: Random) -> Skill:
    """Mostly something the student is ready for; sometimes something she is not."""
    ready = [skill for skill in skills if _ready(student, skill)]
    others = [skill for skill in skills if not _ready(student, skill)]
    if others and chance.random() < 0.16:  # noqa: PLR2004 - how often a student reaches too high
        return chance.choice(others)
    return chance.choice(ready[-8:])


def _applies(criterion: Criterion, skill: str, *, failed: bool) -> bool:
    return (
        isinstance(criterion, AttemptsCriterion)
        and (not criterion.skills or skill in criterion.skills)
        and (criterion.asked == "every" or failed)
    )


def _done_as_asked(
    rubric: Rubric, skill: Skill, gift: Gift, chance: Random, *, failed: bool
) -> dict[str, bool]:
    return {
        criterion.id: chance.random() < gift.chance(competency.id)
        for competency in rubric.competencies
        for criterion in competency.criteria
        if _applies(criterion, skill.id, failed=failed)
    }


def _looks(happened: _Happened, rubric: Rubric, gift: Gift, students: int, chance: Random) -> None:
    every = next(
        (c.standard.every for c in rubric.criteria() if isinstance(c, SamplesCriterion)), 0
    )
    if not every:
        return
    idle = False
    for look in range(1, (MINUTES * 60 - 60) // every + 1):
        waiting = max(students - chance.choice((1, 1, 2)), 0)
        idle = chance.random() < (0.35 if idle else gift.idle)
        idlers = chance.randint(1, max(waiting // 2, 1)) if idle and waiting else 0
        happened.looks.append((look, look * every + chance.randint(0, 4), waiting, idlers))


def _incidents(happened: _Happened, rubric: Rubric, gift: Gift, chance: Random) -> None:
    counted = [
        c.id for c in rubric.criteria() if isinstance(c, IncidentCriterion) and c.standard.limit > 0
    ]
    if counted and chance.random() < 0.1 * (1 - gift.skill) * 5:
        happened.incidents.append((chance.randint(600, 2400), chance.choice(counted)))
    if gift.stops:
        happened.incidents.append((chance.randint(1500, 2400), gift.stops))
    happened.incidents.sort()


def score(
    practical: Practical,
    rubric: Rubric,
    happened: _Happened,
    eyes: Eyes,
    chance: Random,
    new_key: Callable[[], str],
) -> Sheet:
    """What one assessor writes down of what happened."""
    stopped = [at for at, criterion in happened.incidents if _stops(rubric, criterion)]
    end = stopped[0] if stopped else MINUTES * 60
    return Sheet(
        id=new_key(),
        practical=practical.id,
        rubric=rubric.id,
        rubric_version=rubric.version,
        candidate=practical.candidate,
        assessor=eyes.assessor,
        began=practical.began,
        minutes=-(-end // 60),
        site=practical.site,
        students=happened.students,
        attempts=tuple(
            Attempt(
                at=at,
                student=student,
                skill=skill,
                failed=failed,
                answers={name: _seen(true, eyes, chance) for name, true in answers.items()},
            )
            for at, student, skill, failed, answers in happened.tries
            if at < end
        ),
        clearances=tuple(
            Clearance(at=at, student=student, skill=skill, choice=choice)
            for at, student, skill, choice in happened.choices
            if at < end
        ),
        samples=tuple(_look(*look, chance) for look in happened.looks if look[1] < end),
        ratings=tuple(
            _rating(criterion, happened.quality[criterion.id] + eyes.shift, chance)
            for criterion in rubric.criteria()
            if isinstance(criterion, RatingCriterion)
        ),
        incidents=tuple(
            Incident(at=at, criterion=criterion)
            for at, criterion in happened.incidents
            if at <= end
        ),
        notes=tuple(Note(text=text) for text in chance.sample(NOTES, chance.randint(0, 2))),
    )


def _stops(rubric: Rubric, wanted: str) -> bool:
    criterion = rubric.criterion(wanted)
    return isinstance(criterion, IncidentCriterion) and criterion.standard.effect == "stops"


def _seen(true: bool, eyes: Eyes, chance: Random) -> Answer:
    if chance.random() < UNSEEN:
        return "unseen"
    wrong = chance.random() < (eyes.invents if true else eyes.misses)
    return "yes" if true is not wrong else "no"


def _look(look: int, at: int, waiting: int, idle: int, chance: Random) -> Sample:
    if chance.random() < UNSEEN:
        return Sample(look=look, at=at)
    seen = min(max(idle + chance.choice((0, 0, 0, 0, 0, 0, -1, 1)), 0), waiting) if idle else 0
    return Sample(look=look, at=at, waiting=waiting, idle=seen)


def _rating(criterion: RatingCriterion, quality: float, chance: Random) -> Rating:
    level = round(quality + chance.gauss(0, 0.2))
    return Rating(criterion=criterion.id, level=min(max(level, 1), len(criterion.levels)))
