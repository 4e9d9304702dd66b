"""What a rubric says that contradicts itself, its syllabus, or another rubric."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from fractions import Fraction
from itertools import combinations

from standfast.engine.dates import Span
from standfast.engine.standards import standard_faults
from standfast.engine.syllabuses import faults_in_syllabus
from standfast.model.base import Period, exact
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Rubric,
    SamplesCriterion,
    Validity,
)
from standfast.model.syllabus import Syllabus
from standfast.problems import Fault, Path, nearest

__all__ = ["faults_across", "faults_in_rubric", "faults_in_syllabus"]

LONGEST_YEARS = 100
_STARTS = tuple(date(2000 + n // 12, n % 12 + 1, 1) for n in range(48))
"""Every first of a month over a leap cycle: what holds from all of them holds always."""


def faults_in_rubric(rubric: Rubric, syllabus: Syllabus | None) -> tuple[Fault, ...]:
    """Every fault of one rubric, each with its path and cure.

    Without a syllabus, what only the syllabus can tell is left unsaid.
    """
    faults = [f for check in (_whole, _ids, _weights, _looks_apart) for f in check(rubric)]
    too_long = list(_periods(rubric))
    faults += too_long or [*_decision(rubric), *_validity(rubric)]
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
    longest = max((start - (Span.of(rule.window) * -1).after(start)).days for start in _STARTS)
    if rule.days_apart > longest:
        yield Fault(
            ("decision", "days_apart"),
            f"{rule.days_apart} days apart, but the window {rule.window} has at most {longest}",
            "lengthen the window, or lower days_apart",
        )


# Validity


def _validity(rubric: Rubric) -> Iterator[Fault]:
    validity = rubric.validity
    if validity is None:
        return
    refresher = validity.refresher
    if refresher is None:
        for name in ("grace", "in_grace", "lapse_limit"):
            if getattr(validity, name) is not None:
                yield Fault(
                    ("validity", name),
                    f"'{name}' without a refresher",
                    "add 'refresher' with 'every' and 'window', or leave it out",
                )
        return
    path: Path = ("validity", "refresher")
    if _longer(refresher.window, refresher.every):
        yield Fault(
            (*path, "window"),
            f"opens {refresher.window} before it is due, but is due every {refresher.every}",
            f"shorten the window to {refresher.every} or less",
        )
    if _longer(refresher.every, validity.period):
        yield Fault(
            (*path, "every"),
            f"due every {refresher.every}, after the award has ended ({validity.period})",
            f"shorten it to {validity.period} or less",
        )
    yield from _grace(validity)


def _grace(validity: Validity) -> Iterator[Fault]:
    if validity.lapse_limit is None:
        yield Fault(
            ("validity",),
            "a refresher, and nothing on how long after a lapse it still suffices",
            "add 'lapse_limit', for example P1Y",
        )
    if validity.grace is not None and validity.in_grace is None:
        yield Fault(
            ("validity", "grace"),
            f"grace of {validity.grace}, and nothing on what the holder may do in it",
            "add 'in_grace', for example 'does not teach alone'",
        )
    if validity.in_grace is not None and validity.grace is None:
        yield Fault(
            ("validity", "in_grace"),
            "'in_grace' without a grace",
            "add 'grace', for example P1M, or leave it out",
        )


def _longer(one: Period, other: Period) -> bool:
    """Whether the first period is longer from whatever day one counts."""
    return all(Span.of(one).after(day) > Span.of(other).after(day) for day in _STARTS)


def _periods(rubric: Rubric) -> Iterator[Fault]:
    found: list[tuple[Path, Period | None]] = [(("decision", "window"), rubric.decision.window)]
    if validity := rubric.validity:
        names = ("period", "grace", "lapse_limit")
        found += [(("validity", name), getattr(validity, name)) for name in names]
        if refresher := validity.refresher:
            found.append((("validity", "refresher", "every"), refresher.every))
            found.append((("validity", "refresher", "window"), refresher.window))
    for path, period in found:
        if period is not None and _too_long(period):
            yield Fault(
                path, f"{period} is longer than {LONGEST_YEARS} years", "write a shorter one"
            )


def _too_long(period: Period) -> bool:
    """Whether the period is longer than 100 years: a slip of the pen."""
    span = Span.of(period)
    return span.months / 12 + span.days / 365 > LONGEST_YEARS


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


# Across files


def faults_across(
    rubrics: Iterable[Rubric], syllabuses: Iterable[Syllabus]
) -> tuple[tuple[Rubric | Syllabus, Fault], ...]:
    """What several definitions say that cannot stand together.

    Each fault comes with the very noun that was handed in, so that the caller can find its file;
    of two that clash it is the later one in the order given.
    """
    rubrics, syllabuses = list(rubrics), list(syllabuses)
    return (
        *_same_version("rubric", rubrics),
        *_same_version("syllabus", syllabuses),
        *((rubric, fault) for rubric in rubrics for fault in _names(rubric, rubrics, syllabuses)),
        *(found for pair in combinations(rubrics, 2) for found in _at_once(*pair)),
    )


def _same_version(
    kind: str, nouns: Sequence[Rubric] | Sequence[Syllabus]
) -> Iterator[tuple[Rubric | Syllabus, Fault]]:
    seen: set[tuple[str, int]] = set()
    for noun in nouns:
        if (noun.id, noun.version) in seen:
            what = f"{kind} {noun.id} version {noun.version} is there twice"
            yield noun, Fault(("version",), what, "raise the version of the later text")
        seen.add((noun.id, noun.version))


def _names(
    rubric: Rubric, rubrics: Sequence[Rubric], syllabuses: Sequence[Syllabus]
) -> Iterator[Fault]:
    """What a rubric names must be there, and fit."""
    known = [syllabus.id for syllabus in syllabuses]
    if rubric.syllabus not in known:
        yield Fault(
            ("syllabus",), f"no syllabus '{rubric.syllabus}'", nearest(rubric.syllabus, known)
        )
    if rubric.refreshes is None:
        return
    full = [other for other in rubrics if other.grants]
    refreshed = [other for other in full if other.id == rubric.refreshes]
    path: Path = ("refreshes",)
    if not refreshed:
        yield Fault(
            path,
            f"no rubric '{rubric.refreshes}' that grants a scope",
            nearest(rubric.refreshes, [other.id for other in full]),
        )
        return
    newest = max(refreshed, key=lambda other: other.version)
    if newest.syllabus != rubric.syllabus:
        yield Fault(
            ("syllabus",),
            f"syllabus {rubric.syllabus}, but {newest.id} is taught by {newest.syllabus}",
            f"set it to {newest.syllabus}",
        )
    if newest.validity and newest.validity.refresher is None:
        yield Fault(
            path,
            f"{newest.id} has no refresher in its validity",
            "add 'refresher' there, or leave this rubric out",
        )


def _at_once(one: Rubric, other: Rubric) -> Iterator[tuple[Rubric, Fault]]:
    first = max(one.in_force, other.in_force)
    last = min(one.in_force_until or date.max, other.in_force_until or date.max)
    if first > last or (one.id, one.version) == (other.id, other.version):
        return
    cure = f"end {one.id} version {one.version} with 'in_force_until' before {other.in_force}"
    if one.in_force > other.in_force:
        cure = f"end {other.id} version {other.version} with 'in_force_until' before {one.in_force}"
    if one.id == other.id:
        what = f"versions {one.version} and {other.version} of {one.id} are both in force"
        yield other, Fault(("in_force",), f"{what} on {first}", cure)
    elif one.grants and other.grants and one.grants.id == other.grants.id:
        what = f"grants '{other.grants.id}', as {one.id} does, both in force on {first}"
        yield other, Fault(("grants", "id"), what, f"{cure}, or name another scope")
