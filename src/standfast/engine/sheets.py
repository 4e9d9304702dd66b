"""What a score sheet says that contradicts its rubric or itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator

from standfast.engine.lesson import Lesson, unknown
from standfast.engine.narrowing import asked
from standfast.engine.records import record_faults
from standfast.model.approval import ApprovalStanding
from standfast.model.people import Person
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus
from standfast.problems import Fault, Path, meant


def faults_in(sheet: Sheet, rubric: Rubric, syllabus: Syllabus) -> tuple[Fault, ...]:
    """Every contradiction with the rubric and with itself, each with its path and its cure.

    Marks are held to the rubric only when the sheet was scored under it: under another one every
    line would be a fault.
    """
    faults = [*_rubric_faults(sheet, rubric)]
    faults += [*name_faults(sheet.practical, sheet.candidate), *_student_faults(sheet, syllabus)]
    if (sheet.rubric, sheet.rubric_version) == (rubric.id, rubric.version):
        faults += _covers_faults(sheet, rubric)
        faults += record_faults(Lesson(sheet, asked(rubric, sheet.covers), syllabus))
    return tuple(faults)


def faults_of_people(sheet: Sheet, known: Collection[str]) -> Iterator[Fault]:
    """That nobody is known by the id of the candidate or the assessor, or both are one person."""
    if sheet.candidate not in known:
        yield _stranger(("candidate",), sheet.candidate, known, "add the person to the people file")
    if sheet.assessor == sheet.candidate:
        yield Fault(
            ("assessor",),
            f"{sheet.assessor} is the candidate too",
            "name the person who watched the lesson",
        )
    elif sheet.assessor not in known:
        add = "add the person with a 'scores' line to the people file"
        yield _stranger(("assessor",), sheet.assessor, known, add)


def _stranger(path: Path, wanted: str, known: Iterable[str], otherwise: str) -> Fault:
    close = meant(wanted, known)
    cure = f"{close} else {otherwise}" if close else f"mend the id, or {otherwise}"
    return Fault(path, f"nobody in the school's people is '{wanted}'", cure)


def unknown_rubric(sheet: Sheet, rubrics: Iterable[Rubric]) -> Iterator[Fault]:
    """That there is no such rubric, or no such version of it."""
    versions: dict[str, list[int]] = defaultdict(list)
    for rubric in rubrics:
        versions[rubric.id].append(rubric.version)
    if sheet.rubric not in versions:
        yield unknown(("rubric",), "rubric", sheet.rubric, versions)
    elif sheet.rubric_version not in versions[sheet.rubric]:
        known = ", ".join(map(str, sorted(versions[sheet.rubric])))
        yield Fault(
            ("rubric_version",),
            f"no version {sheet.rubric_version} of {sheet.rubric}",
            f"known: {known}; name the one it was scored under, or add the file of that version",
        )


def _covers_faults(sheet: Sheet, rubric: Rubric) -> Iterator[Fault]:
    """What a sheet covers are criteria of its rubric."""
    known = [criterion.id for criterion in rubric.criteria()]
    for n, criterion in enumerate(sheet.covers):
        if criterion not in known:
            yield unknown(("covers", n), "criterion", criterion, known)


def name_faults(practical: str, candidate: str) -> Iterator[Fault]:
    """The short name of a lesson must not name the candidate: it outlives the name's erasure."""
    if candidate in practical:
        yield Fault(
            ("practical",),
            f"'{practical}' names the candidate, and would go on doing so after the name is erased",
            "name the lesson by place and day: hall-2026-03-01",
        )


def _rubric_faults(sheet: Sheet, rubric: Rubric) -> Iterator[Fault]:
    if sheet.rubric != rubric.id:
        yield unknown(("rubric",), "rubric", sheet.rubric, [rubric.id])
    elif sheet.rubric_version != rubric.version:
        yield Fault(
            ("rubric_version",),
            f"version {sheet.rubric_version} of {rubric.id}, held against version {rubric.version}",
            f"score it under version {rubric.version}, or add the file of that version",
        )
    elif not rubric.in_force_on(sheet.on):
        until = f" until {rubric.in_force_until}" if rubric.in_force_until else " on"
        yield Fault(
            ("began",),
            f"the lesson was on {sheet.on}, but {rubric.id} version {rubric.version} is in force"
            f" from {rubric.in_force}{until}",
            "name the version that was in force on that day, or mend the day",
        )


def approval_faults(
    sheet: Sheet, assessor: Person, approval: ApprovalStanding | None = None
) -> Iterator[Fault]:
    """That the assessor might not score under the sheet's rubric on the day of the lesson.

    `approval` is how it stood on that day, where reference practicals are known.
    """
    path, rubric = ("assessor",), sheet.rubric
    if not assessor.may_score(rubric, sheet.on):
        yield Fault(
            path,
            f"{sheet.assessor} was not approved to score {rubric} on {sheet.on}"
            f"{_approvals(assessor, rubric)}",
            "give the approval of that day in a 'scores' line, or have an approved person score",
        )
    elif approval is not None and approval.by_reference:
        yield Fault(
            path,
            f"{sheet.assessor}'s approval to score {rubric} had lapsed on {sheet.on}:"
            f" {approval.because}",
            f"{approval.next_step} before scoring again, or have an approved person score",
        )


def _approvals(assessor: Person, rubric: str) -> str:
    runs = [f"from {a.since} until {a.until}" for a in assessor.scores if a.rubric == rubric]
    return f" (approved {', '.join(runs)})" if runs else ""


def _student_faults(sheet: Sheet, syllabus: Syllabus) -> Iterator[Fault]:
    skills = [skill.id for skill in syllabus.skills]
    for place, code in _repeated(student.student for student in sheet.students):
        yield Fault(
            ("students", place, "student"),
            f"{code} is in the lesson twice",
            "give the second one another code, or join the two",
        )
    for n, student in enumerate(sheet.students):
        for name in student.log:
            if name not in skills:
                yield unknown(("students", n, "log", name), "skill", name, skills)


def _repeated(values: Iterable[str]) -> Iterator[tuple[int, str]]:
    seen: set[str] = set()
    for place, value in enumerate(values):
        if value in seen:
            yield place, value
        seen.add(value)
