"""Files of ours: closed shapes, plain words, and a whole folder at once."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from standfast.files.folder import read_definitions, read_paths
from standfast.files.read import parse_yaml
from standfast.files.rubrics import read_rubric
from standfast.files.school import read_school
from standfast.model.base import Noun
from standfast.model.rubric import (
    ClearanceStandard,
    DecisionRule,
    IdleStandard,
    IncidentStandard,
    JoiningPolicy,
    RatingStandard,
    ShareStandard,
    Validity,
)
from standfast.problems import BadInput

ROOT = Path(__file__).resolve().parents[2]
RUBRIC = (ROOT / "rubrics" / "low-trapeze-1.yaml").read_text("utf-8")


def faults(tmp_path: Path, text: str) -> list[str]:
    (tmp_path / "rubric.yaml").write_text(text, "utf-8")
    with pytest.raises(BadInput) as refused:
        read_rubric(tmp_path / "rubric.yaml")
    return [str(problem).removeprefix(f"{tmp_path}/") for problem in refused.value.problems]


def line_of(text: str, words: str) -> int:
    return text[: text.index(words)].count("\n") + 1


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        pytest.param(
            "look_for:",
            "lok_for:",
            "key 'lok_for' is not known; did you mean 'look_for'?",
            id="nearest key",
        ),
        pytest.param(
            "kind: rating",
            "kind: ratting",
            "kind: 'ratting' is not known; did you mean 'rating'?",
            id="kind",
        ),
        pytest.param(
            "critical: true",
            "critical: no",
            "critical: 'no' is no true or false",
            id="no is a word",
        ),
        pytest.param(
            "weight: 0.1",
            "weight: heavy",
            "weight: 'heavy' is no number",
            id="number",
        ),
        pytest.param(
            "weight: 0.1",
            "weight: 1.5",
            "weight: '1.5' is more than 1",
            id="bound",
        ),
        pytest.param(
            "version: 1",
            "version: 1.5",
            "version: '1.5' is no whole number",
            id="whole",
        ),
        pytest.param(
            "in_force: 2023-09-01",
            "in_force: 1.9.2023",
            "'1.9.2023' is no day of the calendar",
            id="day",
        ),
        pytest.param(
            "in_force: 2023-09-01",
            "in_force: 2023-02-29",
            "in_force",
            id="no such day",
        ),
        pytest.param(
            "id: briefing\n",
            "id: Briefing\n",
            "id: 'Briefing' is no short name",
            id="name",
        ),
        pytest.param(
            "window: P6M",
            "window: P6H",
            "'P6H' is no period",
            id="period",
        ),
    ],
)
def test_a_fault_of_shape_stands_at_its_line_in_plain_words(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    assert old in RUBRIC
    text = RUBRIC.replace(old, new, 1)

    found = faults(tmp_path, text)

    line = line_of(text, new)
    assert any(
        said in problem and re.match(rf"rubric\.yaml:{line}:\d+: ", problem) for problem in found
    ), found


def test_all_faults_of_a_file_are_told_at_once(tmp_path: Path) -> None:
    text = RUBRIC.replace("look_for:", "lok_for:").replace("weight:", "wieght:")

    found = faults(tmp_path, text)

    known = [line for line in found if "is not known" in line]
    assert len(known) == RUBRIC.count("look_for:") + RUBRIC.count("weight:")
    missing = [line for line in found if "is missing" in line]
    assert len(missing) == len(known)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("rubric: []\n", "rubric", id="a list"),
        pytest.param("- a\n- b\n", "a list stands where a rubric is wanted", id="list on top"),
        pytest.param("just words\n", "stands where a rubric is wanted", id="words"),
        pytest.param("id: x\nrubric: y\n", "key 'id' is not known", id="id"),
    ],
)
def test_another_thing_than_a_rubric_is_said(tmp_path: Path, text: str, said: str) -> None:
    assert any(said in line for line in faults(tmp_path, text))


def test_a_zone_that_is_none_is_named(tmp_path: Path) -> None:
    (tmp_path / "school.yaml").write_text("school: a\nname: A\nzone: Vienna\n", "utf-8")

    with pytest.raises(BadInput, match=r"school\.yaml:3:7: zone: 'Vienna' is no time zone"):
        read_school(tmp_path / "school.yaml")


def school(root: Path) -> Path:
    (root / "rubrics").mkdir(parents=True)
    (root / "candidates").mkdir()
    (root / "school.yaml").write_text("school: a\nname: A\n", "utf-8")
    return root


def test_the_faults_of_all_files_are_told_together(tmp_path: Path) -> None:
    root = school(tmp_path / "school")
    (root / "rubrics" / "one.yaml").write_text("rubric: x\nrubric: y\n", "utf-8")
    (root / "candidates" / "two.yaml").write_text("poeple: []\n", "utf-8")
    (root / "candidates" / "three.yaml").write_text("people: 7\n", "utf-8")

    found = read_definitions(root)

    files = {Path(problem.place.file).name for problem in found.problems}
    assert files == {"one.yaml", "two.yaml", "three.yaml"}
    assert any("people" in problem.cure for problem in found.problems)


def test_a_person_in_two_files_is_told_with_the_other_place(tmp_path: Path) -> None:
    root = school(tmp_path / "school")
    for name in ("one", "two"):
        text = "people:\n  - person: ada-berg\n    name: Ada\n"
        (root / "candidates" / f"{name}.yaml").write_text(text, "utf-8")

    [problem] = read_definitions(root).problems

    assert "person 'ada-berg' is there already" in problem.what
    assert "one.yaml:2" in problem.what
    assert problem.place.file.endswith("two.yaml")


def test_hidden_files_and_links_out_of_the_folder_are_left_alone(tmp_path: Path) -> None:
    root = school(tmp_path / "school")
    outside = tmp_path / "outside.yaml"
    outside.write_text("this is no file of ours: at all\n", "utf-8")
    (root / "candidates" / "link.yaml").symlink_to(outside)
    (root / "candidates" / ".hidden.yaml").write_text("nor this\n", "utf-8")
    (root / "candidates" / "loop").symlink_to(root / "candidates")

    found = read_definitions(root)

    assert found.problems == []
    assert found.files == 1


def test_tables_are_told_apart_by_their_head(tmp_path: Path) -> None:
    (tmp_path / "people.csv").write_text("person,name\nada-berg,Ada\n", "utf-8")
    (tmp_path / "sheet.csv").write_text("what,name,value\nsheet,practical,x\n", "utf-8")

    found = read_paths([tmp_path / "people.csv", tmp_path / "sheet.csv"])

    assert [placed.noun.id for placed in found.people] == ["ada-berg"]
    assert {Path(problem.place.file).name for problem in found.problems} == {"sheet.csv"}


def test_the_shipped_folder_reads_without_a_fault() -> None:
    found = read_paths([ROOT / "rubrics", ROOT / "candidates"])

    assert found.problems == []
    assert len(found.people) == 47
    assert {placed.noun.id for placed in found.rubrics} >= {"low-trapeze-1", "floor-tumbling-1"}


def test_what_the_readme_says_of_a_rubric_is_understood() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    [sample] = re.findall(r"```yaml\n(decision:.*?)```", text, re.DOTALL)
    read = parse_yaml(sample, "README.md").value
    standards = dict(re.findall(r"^\| `(\w+)` \|.*?`(\{.*?\})`", text, re.MULTILINE))

    assert DecisionRule.model_validate(read["decision"]).window == "P6M"
    assert Validity.model_validate(read["validity"]).grace == "P1M"
    assert JoiningPolicy.model_validate(read["joining"])
    kinds: dict[str, type[Noun]] = {
        "attempts": ShareStandard,
        "clearances": ClearanceStandard,
        "samples": IdleStandard,
        "rating": RatingStandard,
        "incident": IncidentStandard,
    }
    assert standards.keys() == kinds.keys()
    for kind, noun in kinds.items():
        assert noun.model_validate(parse_yaml(standards[kind], "README.md").value)
