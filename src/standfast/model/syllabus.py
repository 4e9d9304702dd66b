"""What is taught: skills, what must come before each, and how each is kept safe."""

from __future__ import annotations

from standfast.model.base import Count, Line, Noun, Slug, Text, Yes


class Prerequisite(Noun):
    """A skill that a student must already have done before the next one is taught."""

    skill: Slug
    unassisted: Yes = True
    times: Count


class Spot(Noun):
    """How the instructor keeps the student safe: where she stands and what she controls."""

    stands: Line
    controls: Line
    """Which limb or part of the body, or that she controls none and why."""
    starts: Line
    """From when: the observable moment at which the spot must be in place."""
    ends: Line
    """Until when: the observable moment at which the hands may come away."""


class Skill(Noun):
    """One thing a student learns."""

    id: Slug
    title: Line
    inverts: Yes = False
    """The head goes below the heart."""
    turns: Yes = False
    prerequisites: tuple[Prerequisite, ...] = ()
    spot: Spot
    hazards: tuple[Line, ...]
    waiting: tuple[Line, ...]
    """What the other students can do meanwhile."""
    note: Text | None = None
    source: Line
    """Where the requirements come from; `common practice, no source` when nowhere."""


class Syllabus(Noun):
    """A versioned set of skills that build on each other."""

    id: Slug
    title: Line
    version: Count
    language: str = "en"
    about: Text | None = None
    skills: tuple[Skill, ...]

    def skill(self, wanted: str) -> Skill | None:
        """The skill of that id, or None."""
        return next((skill for skill in self.skills if skill.id == wanted), None)
