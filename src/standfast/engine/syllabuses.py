"""What a syllabus says that no student could follow."""

from __future__ import annotations

from collections.abc import Iterator

from standfast.model.syllabus import Skill, Syllabus
from standfast.problems import Fault, Path, nearest


def faults_in_syllabus(syllabus: Syllabus) -> tuple[Fault, ...]:
    """Every fault of one syllabus, each with its path and cure."""
    faults = [] if syllabus.skills else [Fault(("skills",), "no skill", "add one")]
    seen: set[str] = set()
    for n, skill in enumerate(syllabus.skills):
        path: Path = ("skills", n)
        if skill.id in seen:
            faults.append(
                Fault(
                    (*path, "id"), f"skill '{skill.id}' is there twice", "rename or leave one out"
                )
            )
        seen.add(skill.id)
        faults += [*_skill_faults(skill, path), *_prerequisite_faults(skill, path, syllabus)]
    return (*faults, *_circles(syllabus))


def _skill_faults(skill: Skill, path: Path) -> Iterator[Fault]:
    if (skill.inverts or skill.turns) and not skill.prerequisites:
        does = "inverts" if skill.inverts else "turns"
        yield Fault(
            (*path, "prerequisites"),
            f"'{skill.id}' {does} and has no prerequisites",
            "name what a student must have done unassisted before",
        )
    for name, what in (("hazards", "hazard"), ("waiting", "thing for waiting students to do")):
        if not getattr(skill, name):
            yield Fault((*path, name), f"'{skill.id}' names no {what}", "add one or more")


def _prerequisite_faults(skill: Skill, path: Path, syllabus: Syllabus) -> Iterator[Fault]:
    known = [other.id for other in syllabus.skills]
    seen: set[str] = set()
    for n, needed in enumerate(skill.prerequisites):
        here = (*path, "prerequisites", n, "skill")
        if needed.skill not in known:
            yield Fault(here, f"no skill '{needed.skill}'", nearest(needed.skill, known))
        if needed.skill in seen:
            yield Fault(
                here, f"'{needed.skill}' is a prerequisite twice", "keep the one that asks for more"
            )
        seen.add(needed.skill)


def _circles(syllabus: Syllabus) -> Iterator[Fault]:
    """Each circle once, spelled out from its first skill in the syllabus."""
    order = {skill.id: n for n, skill in reversed(list(enumerate(syllabus.skills)))}
    before = {skill.id: _before(skill, order) for skill in syllabus.skills}
    found: set[frozenset[str]] = set()
    for start in before:
        circle = _circle_from(start, before)
        if circle and frozenset(circle) not in found:
            found.add(frozenset(circle))
            first = min(range(len(circle)), key=lambda n: order[circle[n]])
            turned = [*circle[first:], *circle[:first]]
            yield Fault(
                ("skills", order[turned[0]], "prerequisites"),
                f"prerequisites go round in a circle: {' -> '.join([*turned, turned[0]])}",
                "leave out one of these steps",
            )


def _before(skill: Skill, known: dict[str, int]) -> list[str]:
    return [needed.skill for needed in skill.prerequisites if needed.skill in known]


def _circle_from(start: str, before: dict[str, list[str]]) -> list[str]:
    """The shortest way from a skill through its prerequisites back to it; empty if there is none.

    Breadth first, without recursion: a syllabus of thousands of skills in a row is no trouble.
    """
    ways: dict[str, str] = {}
    edge = [start]
    while edge:
        step: list[str] = []
        for skill in edge:
            for earlier in before[skill]:
                if earlier == start:
                    return _way(start, skill, ways)
                if earlier not in ways:
                    ways[earlier] = skill
                    step.append(earlier)
        edge = step
    return []


def _way(start: str, last: str, ways: dict[str, str]) -> list[str]:
    way = [last]
    while way[-1] != start:
        way.append(ways[way[-1]])
    return way[::-1]
