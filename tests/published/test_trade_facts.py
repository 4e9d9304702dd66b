"""Facts of the trade: common practice, no source.

A first turning move has three prerequisites; each of them is done unassisted, and at least three
times, before the move is taught.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.engine import made

from standfast.engine.clearing import verdict
from standfast.files.syllabus import read_syllabus
from standfast.model.evidence import Clearance
from standfast.model.syllabus import Skill, Syllabus

ROOT = Path(__file__).resolve().parents[2]
PREREQUISITES, TIMES = 3, 3  # common practice, no source


@pytest.fixture(params=["low-trapeze", "floor-tumbling"])
def syllabus(request: pytest.FixtureRequest) -> Syllabus:
    return read_syllabus(ROOT / "rubrics" / f"{request.param}.yaml").noun


def turning(syllabus: Syllabus) -> list[Skill]:
    return [skill for skill in syllabus.skills if skill.turns]


def test_a_first_turning_move_has_three_prerequisites(syllabus: Syllabus) -> None:
    first = turning(syllabus)[0]

    assert len(first.prerequisites) >= PREREQUISITES


def test_what_comes_before_a_turning_move_was_done_unassisted_three_times(
    syllabus: Syllabus,
) -> None:
    assert len(turning(syllabus)) >= 2
    for skill in turning(syllabus):
        assert skill.prerequisites, skill.id
        for needed in skill.prerequisites:
            assert needed.unassisted, (skill.id, needed.skill)
            assert needed.times >= TIMES, (skill.id, needed.skill)


@pytest.mark.parametrize(
    ("times", "choice", "expected"),
    [
        pytest.param(TIMES, "let-go", "true clear", id="three times, let go"),
        pytest.param(TIMES - 1, "let-go", "false clear", id="twice, let go"),
        pytest.param(TIMES, "held-back", "false hold", id="three times, held back"),
        pytest.param(TIMES - 1, "held-back", "true hold", id="twice, held back"),
    ],
)
def test_a_student_is_ready_after_the_third_time_and_not_before(
    syllabus: Syllabus, times: int, choice: str, expected: str
) -> None:
    skill = turning(syllabus)[0]
    least = {needed.skill: needed.times for needed in skill.prerequisites}
    last = skill.prerequisites[-1].skill
    student = made.student("S1").model_copy(
        update={"log": {**least, last: least[last] - TIMES + times}}
    )
    clearance = Clearance.model_validate(
        {"at": 600, "student": "S1", "skill": skill.id, "choice": choice}
    )

    assert verdict(clearance, student, syllabus) == expected
