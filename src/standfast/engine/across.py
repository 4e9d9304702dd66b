"""What several definitions say that cannot stand together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from itertools import combinations

from standfast.engine.covering import never_seen_faults
from standfast.engine.transition import nothing_new_faults
from standfast.model.rubric import Rubric
from standfast.model.syllabus import Syllabus
from standfast.problems import Fault, Path, nearest


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
    before = [one for one in rubrics if one.id == rubric.id and one.version < rubric.version]
    if before:
        yield from nothing_new_faults(rubric, max(before, key=lambda one: one.version))
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
    yield from never_seen_faults(rubric, newest)
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


def _ended_by_transition(one: Rubric, other: Rubric) -> bool:
    """Whether the later version begins later, and says what becomes of the earlier one."""
    old, new = sorted((one, other), key=lambda rubric: rubric.version)
    return old.id == new.id and new.transition is not None and old.in_force < new.in_force


def _at_once(one: Rubric, other: Rubric) -> Iterator[tuple[Rubric, Fault]]:
    first = max(one.in_force, other.in_force)
    last = min(one.in_force_until or date.max, other.in_force_until or date.max)
    if first > last or (one.id, one.version) == (other.id, other.version):
        return
    if _ended_by_transition(one, other):
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
