"""What a rubric says that contradicts itself or its syllabus; the way in to all such faults."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from standfast.engine.across import faults_across
from standfast.engine.covering import covers_faults
from standfast.engine.dates import Span
from standfast.engine.standards import standard_faults
from standfast.engine.syllabuses import faults_in_syllabus
from standfast.engine.transition import transition_faults
from standfast.engine.validities import STARTS, period_faults, validity_faults
from standfast.model.base import exact
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Rubric,
    SamplesCriterion,
)
from standfast.model.syllabus import Syllabus
from standfast.problems import Fault, Path, nearest

__all__ = ["faults_across", "faults_in_rubric", "faults_in_syllabus"]


def faults_in_rubric(rubric: Rubric, syllabus: Syllabus | None) -> tuple[Fault, ...]:
    """Every fault of one rubric, each with its path and cure.

    Without a syllabus, what only the syllabus can tell is left unsaid.
    """
    checks = (_whole, _ids, _weights, _looks_apart, covers_faults, transition_faults)
    faults = [fault for check in checks for fault in check(rubric)]
    too_long = list(period_faults(rubric))
    faults += too_long or [*_decision(rubric), *validity_faults(rubric)]
    for c, competency in enumerate(rubric.competencies):
        for n, criterion in enumerate(competency.criteria):
            faults += standard_faults(criterion, ("competencies", c, "criteria", n))
    return (*faults, *(_against(rubric, syllabus) if syllabus else ()))


# The rubric as a whole


def _whole(rubric: Rubric) -> Iterator[Fault]:
    if rubric.in_force_until is not None and rubric.in_force_until < rubric.in_force:
        yield Fault(
            ("in_force_until",),
            f"in force until {rubric.in_force_until}, before it begins on {rubric.in_force}",
            "mend one of the two days",
        )
    if (rubric.grants is None) is (rubric.refreshes is None):
        both = "both grants and refreshes" if rubric.grants else "neither grants nor refreshes"
        yield Fault(
            ("grants",) if rubric.grants else (),
            both,
            "a full practical has 'grants' with a scope, a refresher 'refreshes' with a rubric",
        )
    if rubric.grants and rubric.validity is None:
        yield Fault((), "grants a scope and has no validity", "add 'validity' with a 'period'")
    if rubric.refreshes and rubric.validity is not None:
        yield Fault(
            ("validity",),
            "a refresher with a validity of its own",
            f"leave it out; the validity of {rubric.refreshes} counts",
        )


def _ids(rubric: Rubric) -> Iterator[Fault]:
    competencies = [
        (("competencies", c, "id"), competency.id)
        for c, competency in enumerate(rubric.competencies)
    ]
    criteria = [
        (("competencies", c, "criteria", n, "id"), criterion.id)
        for c, competency in enumerate(rubric.competencies)
        for n, criterion in enumerate(competency.criteria)
    ]
    yield from _twice("competency", competencies)
    yield from _twice("criterion", criteria)
    yield from _twice("document", [(("documents", n), d) for n, d in enumerate(rubric.documents)])
    if rubric.grants:
        skills = enumerate(rubric.grants.skills)
        yield from _twice("skill", [(("grants", "skills", n), skill) for n, skill in skills])
        if not rubric.grants.skills:
            yield Fault(("grants", "skills"), "a scope of no skill", "name the skills it covers")
    if not rubric.competencies:
        yield Fault(("competencies",), "no competency", "add one with its criteria")
    for c, competency in enumerate(rubric.competencies):
        if not competency.criteria:
            path = ("competencies", c, "criteria")
            yield Fault(path, f"'{competency.id}' has no criterion", "add one, or leave it out")


def _twice(kind: str, names: Sequence[tuple[Path, str]]) -> Iterator[Fault]:
    seen: set[str] = set()
    for path, name in names:
        if name in seen:
            yield Fault(path, f"{kind} '{name}' is there twice", "rename one, or leave it out")
        seen.add(name)


def _weights(rubric: Rubric) -> Iterator[Fault]:
    weights = [exact(competency.weight) for competency in rubric.competencies]
    total = sum(weights, Fraction(0))
    if weights and total != 1:
        said = " + ".join(f"{float(weight):g}" for weight in weights)
        verb = "lower" if total > 1 else "raise"
        yield Fault(
            ("competencies",),
            f"weights {said} = {float(total):g}, must be 1",
            f"{verb} one of them by {float(abs(total - 1)):g}",
        )
    shown = sum((exact(c.weight) for c in rubric.competencies if c.criteria), Fraction(0))
    if total == 1 and exact(rubric.decision.overall_share) > shown:
        yield Fault(
            ("decision", "overall_share"),
            f"{rubric.decision.overall_share:g} of the points, but criteria give {float(shown):g}",
            "lower it, or add criteria to the competencies without any",
        )


def _decision(rubric: Rubric) -> Iterator[Fault]:
    rule = rubric.decision
    if rule.independent_assessors > rule.assessors:
        yield Fault(
            ("decision", "independent_assessors"),
            f"{rule.independent_assessors} independent of {rule.assessors} assessors",
            f"raise assessors to {rule.independent_assessors}, or lower this to {rule.assessors}",
        )
    if rule.days_apart and rule.practicals == 1:
        yield Fault(
            ("decision", "days_apart"),
            f"{rule.days_apart} days apart, but one practical suffices",
            "raise practicals to 2, or set days_apart to 0",
        )
    longest = max((start - (Span.of(rule.window) * -1).after(start)).days for start in STARTS)
    if rule.days_apart > longest:
        yield Fault(
            ("decision", "days_apart"),
            f"{rule.days_apart} days apart, but the window {rule.window} has at most {longest}",
            "lengthen the window, or lower days_apart",
        )


# What a sheet can show


def _looks_apart(rubric: Rubric) -> Iterator[Fault]:
    first: int | None = None
    for c, competency in enumerate(rubric.competencies):
        for n, criterion in enumerate(competency.criteria):
            if not isinstance(criterion, SamplesCriterion):
                continue
            every = criterion.standard.every
            if first is not None and every != first:
                yield Fault(
                    ("competencies", c, "criteria", n, "standard", "every"),
                    f"a look every {every} seconds, but another criterion has {first}",
                    f"a sheet has one list of looks; set both to {first} or both to {every}",
                )
            first = first or every


def _against(rubric: Rubric, syllabus: Syllabus) -> Iterator[Fault]:
    skills = [skill.id for skill in syllabus.skills]
    if rubric.syllabus != syllabus.id:
        yield Fault(
            ("syllabus",),
            f"names syllabus '{rubric.syllabus}', held against '{syllabus.id}'",
            nearest(rubric.syllabus, [syllabus.id]),
        )
    for n, skill in enumerate(rubric.grants.skills if rubric.grants else ()):
        if skill not in skills:
            yield _no_skill(("grants", "skills", n), skill, syllabus)
    for c, competency in enumerate(rubric.competencies):
        for n, criterion in enumerate(competency.criteria):
            path = ("competencies", c, "criteria", n)
            if isinstance(criterion, AttemptsCriterion):
                yield from _asks(criterion, path, syllabus)
            if isinstance(criterion, ClearancesCriterion):
                yield from _judges(criterion, path, rubric, syllabus)


def _no_skill(path: Path, wanted: str, syllabus: Syllabus) -> Fault:
    known = [skill.id for skill in syllabus.skills]
    return Fault(path, f"syllabus {syllabus.id} has no skill '{wanted}'", nearest(wanted, known))


def _asks(criterion: AttemptsCriterion, path: Path, syllabus: Syllabus) -> Iterator[Fault]:
    missing = [skill for skill in criterion.skills if syllabus.skill(skill) is None]
    for n, skill in enumerate(criterion.skills):
        if skill in missing:
            yield _no_skill((*path, "skills", n), skill, syllabus)
    if missing and len(missing) == len(criterion.skills):
        yield Fault(
            (*path, "skills"),
            f"no sheet can show '{criterion.id}': none of its skills is in syllabus {syllabus.id}",
            "name skills of the syllabus, or leave 'skills' out to ask at every one",
        )


def _judges(
    criterion: ClearancesCriterion, path: Path, rubric: Rubric, syllabus: Syllabus
) -> Iterator[Fault]:
    scope = set(rubric.grants.skills) if rubric.grants else {s.id for s in syllabus.skills}
    if not any(skill.prerequisites for skill in syllabus.skills if skill.id in scope):
        yield Fault(
            path,
            f"no sheet can show '{criterion.id}': no skill in the scope has prerequisites",
            "add them to the syllabus, or leave the criterion out",
        )
