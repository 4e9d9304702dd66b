"""What the shipped syllabuses ask before a skill is taught."""

from __future__ import annotations

import re

import pytest

from standfast.model.syllabus import Skill, Syllabus

NAMES = ("low-trapeze", "floor-tumbling")


@pytest.fixture(params=NAMES)
def syllabus(request: pytest.FixtureRequest, syllabuses: dict[str, Syllabus]) -> Syllabus:
    return syllabuses[request.param]


def before(syllabus: Syllabus, skill: Skill) -> set[str]:
    """Everything that comes before a skill, at any depth; does not end on a circle."""
    asked = {p.skill for p in skill.prerequisites}
    for earlier in tuple(asked):
        found = syllabus.skill(earlier)
        assert found is not None, f"{skill.id} asks for unknown {earlier}"
        asked |= before(syllabus, found)
    return asked


def test_twelve_to_sixteen_skills_with_ids_of_their_own(syllabus: Syllabus) -> None:
    ids = [skill.id for skill in syllabus.skills]

    assert 12 <= len(ids) <= 16
    assert len(ids) == len(set(ids))


def test_every_prerequisite_stands_earlier_in_the_file_so_there_is_no_circle(
    syllabus: Syllabus,
) -> None:
    seen: set[str] = set()
    for skill in syllabus.skills:
        assert {p.skill for p in skill.prerequisites} <= seen, skill.id
        seen.add(skill.id)


def test_a_skill_that_turns_or_inverts_comes_after_three_others(syllabus: Syllabus) -> None:
    moving = [skill for skill in syllabus.skills if skill.turns or skill.inverts]

    assert len(moving) >= 6
    for skill in moving:
        assert len({p.skill for p in skill.prerequisites}) >= 3, skill.id


def test_each_prerequisite_is_done_unassisted_three_times_or_more(syllabus: Syllabus) -> None:
    """Common practice, no source."""
    for skill in syllabus.skills:
        for prerequisite in skill.prerequisites:
            assert prerequisite.unassisted, skill.id
            assert prerequisite.times >= 3, skill.id


def test_nothing_that_turns_comes_before_the_first_skill_that_turns(syllabus: Syllabus) -> None:
    first = next(skill for skill in syllabus.skills if skill.turns)
    turning = {skill.id for skill in syllabus.skills if skill.turns}

    assert not before(syllabus, first) & turning
    assert first.note is not None
    assert "three skills come before it" in " ".join(first.note.split())


def test_every_skill_says_what_is_held_what_is_dangerous_and_what_others_do(
    syllabus: Syllabus,
) -> None:
    for skill in syllabus.skills:
        assert len(skill.hazards) >= 2, skill.id
        assert len(skill.waiting) >= 2, skill.id
        assert skill.source == "common practice, no source", skill.id


def test_the_spot_of_a_skill_that_inverts_holds_a_part_of_the_body(syllabus: Syllabus) -> None:
    for skill in syllabus.skills:
        if skill.inverts:
            assert not skill.spot.controls.startswith("none"), skill.id


def test_a_spot_that_holds_nothing_says_why(syllabus: Syllabus) -> None:
    for skill in syllabus.skills:
        if skill.spot.controls.startswith("none"):
            assert "hand" in skill.spot.controls, skill.id


def test_the_spot_of_a_skill_that_inverts_ends_with_both_feet_on_the_mat(
    syllabus: Syllabus,
) -> None:
    for skill in syllabus.skills:
        if skill.inverts:
            assert any(word in skill.spot.ends for word in ("both feet", "both knees")), skill.id


def test_a_spot_begins_and_ends_at_a_moment_that_can_be_seen(syllabus: Syllabus) -> None:
    for skill in syllabus.skills:
        assert skill.spot.starts.split()[0] in ("when", "before"), skill.id
        assert skill.spot.ends.split()[0] == "when", skill.id


def test_no_word_about_the_spot_is_a_judgement(
    syllabus: Syllabus, judgement: re.Pattern[str]
) -> None:
    for skill in syllabus.skills:
        spot = skill.spot
        words = f"{spot.stands} {spot.controls} {spot.starts} {spot.ends}"

        assert not judgement.search(words), skill.id


def test_a_skill_is_no_permission(syllabus: Syllabus) -> None:
    about = (syllabus.about or "").lower()

    for caution in ("approves no", "local law", "qualified rigger", "stays on the ground"):
        assert caution in about


def test_nobody_who_waits_is_sent_to_do_a_skill_that_inverts(syllabus: Syllabus) -> None:
    upside_down = [skill.title.lower() for skill in syllabus.skills if skill.inverts]
    tasks = [task.lower() for skill in syllabus.skills for task in skill.waiting]

    assert [(task, title) for task in tasks for title in upside_down if title in task] == []
