"""Faults of a wished day, each at its line, all at once."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.planning.made import unhurried

from standfast.desk.definitions import check
from standfast.engine.planning.day import best_plan
from standfast.engine.planning.faults import faults_in_day
from standfast.engine.planning.wishes import day_of
from standfast.files.folder import read_definitions
from standfast.files.plan import as_plan, read_plan
from standfast.files.read import parse_yaml
from standfast.problems import BadInput

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = ROOT / "candidates" / "plans" / "trapeze-2026-12-05.yaml"
DAY = """\
plan: a-day
day: 2026-12-05
rubric: low-trapeze-1
slots:
  - {slot: one, begins: "09:00", ends: "10:00"}
  - {slot: two, begins: "10:00", ends: "11:00"}
assessors:
  - {assessor: kei-ito, free: [one]}
  - {assessor: jo-berg}
candidates:
  - {candidate: ada-berg}
"""


def told(tmp_path: Path, text: str) -> list[str]:
    (tmp_path / "day.yaml").write_text(text, "utf-8")
    found = check([tmp_path / "day.yaml"], tmp_path)
    return [str(problem).removeprefix(f"{tmp_path}/") for problem in found.problems]


def test_a_day_without_faults_has_none(tmp_path: Path) -> None:
    assert told(tmp_path, DAY) == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        pytest.param(
            '"09:00"', '"9 am"', "day.yaml:5:25: begins: '9 am' is no time of day", id="time"
        ),
        pytest.param('"09:00"', '"24:00"', "day.yaml:5:25: begins: '24:00' is no time", id="24"),
        pytest.param(
            'ends: "10:00"',
            'ends: "09:00"',
            "slot 'one' ends at 09:00, and begins at 09:00",
            id="no time at all",
        ),
        pytest.param(
            'ends: "10:00"',
            'ends: "10:01"',
            "day.yaml:6:25: slot 'two' begins at 10:00, before 'one' ends at 10:01",
            id="overlap by a minute",
        ),
        pytest.param(
            "slot: two", "slot: one", "day.yaml:6:12: slot 'one' is listed twice", id="slot twice"
        ),
        pytest.param(
            "jo-berg", "kei-ito", "day.yaml:9:16: assessor 'kei-ito' is listed twice", id="twice"
        ),
        pytest.param(
            "ada-berg", "jo-berg", "day.yaml:11:17: 'jo-berg' is to teach and to score", id="both"
        ),
        pytest.param(
            "[one]", "[onne]", "day.yaml:8:32: no slot 'onne'; did you mean 'one'?", id="slot"
        ),
        pytest.param("[one]", "[]", "day.yaml:8:31: 'kei-ito' is free in no slot", id="never free"),
        pytest.param(
            "  - {candidate: ada-berg}\n",
            "  []\n",
            "day.yaml:11:3: no candidate is listed",
            id="nobody",
        ),
        pytest.param(
            "rubric:", "rubrik:", "key 'rubrik' is not known; did you mean 'rubric'?", id="key"
        ),
        pytest.param(
            "rubric:",
            "double: 1.5\nrubric:",
            "day.yaml:3:9: double: '1.5' is more than 1",
            id="share",
        ),
        pytest.param(
            "rubric:", "rooms: 0\nrubric:", "day.yaml:3:8: rooms: '0' is less than 1", id="rooms"
        ),
        pytest.param(
            "candidates:",
            "apart:\n  - {assessor: jo-borg, candidate: ada-berg}\ncandidates:",
            "day.yaml:11:16: assessor 'jo-borg' does not come that day; did you mean 'jo-berg'?",
            id="apart",
        ),
    ],
)
def test_a_fault_stands_at_its_line_with_its_cure(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    assert old in DAY

    assert any(said in line for line in told(tmp_path, DAY.replace(old, new, 1)))


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    text = DAY.replace("jo-berg", "kei-ito").replace("[one]", "[onne, tow]")

    assert len(told(tmp_path, text)) == 3


def test_another_file_is_not_taken_for_a_day() -> None:
    with pytest.raises(BadInput, match="is no plan: it begins with 'people:'"):
        read_plan(ROOT / "candidates" / "people.yaml")


def test_the_shipped_day_has_no_fault() -> None:
    assert check([SHIPPED], ROOT).problems == ()
    assert read_plan(SHIPPED).noun.double == 0.5


def test_the_day_in_the_readme_can_be_planned_with_every_key_there_is() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    [sample] = re.findall(r"```yaml\n(plan:.*?)```", text, re.DOTALL)
    asked = as_plan(parse_yaml(sample, "README.md")).noun

    assert faults_in_day(asked) == ()
    assert asked.model_fields_set == set(type(asked).model_fields)
    assert best_plan(day_of(asked, {}, {}), unhurried()) is not None


def test_a_day_with_faults_keeps_nobody_from_deciding(tmp_path: Path) -> None:
    (tmp_path / "school.yaml").write_text("school: a\nname: A\n", "utf-8")
    (tmp_path / "candidates").mkdir()
    (tmp_path / "candidates" / "day.yaml").write_text("plan: x\nrubrik: y\n", "utf-8")

    assert read_definitions(tmp_path).problems == []
    assert check([tmp_path], tmp_path).problems != ()
