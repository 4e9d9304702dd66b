"""Days of a person that end before they begin are told by line, and kept out of the book."""

from __future__ import annotations

from pathlib import Path

from tests.cli.conftest import Run

PEOPLE = """\
people:
  - person: ada-berg
    name: Ada Berg
    documents:
      - {document: first-aid, issued: 2028-01-01, last_day: 2026-12-31}
    trained_by:
      - {trainer: kei-ito, since: 2026-02-01, until: 2025-02-01}
  - person: kei-ito
    name: Kei Ito
    scores:
      - {rubric: low-trapeze-1, since: 2026-01-01, until: 2025-12-31}
    certifies:
      - {rubric: low-trapeze-1, since: 2026-01-01, until: 2026-01-01}
      - {rubric: low-trapeze-1, since: 2026-06-02, until: 2026-06-01}
"""
ONE_DAY_LONG = """\
people:
  - {person: ada-berg, name: Ada Berg,
     documents: [{document: first-aid, issued: 2028-01-01, last_day: 2028-01-01}]}
"""
LINES = [5, 7, 11, 14]


def test_neither_check_nor_entering_lets_an_approval_for_a_misspelt_rubric_pass(
    sandhof: Path, standfast: Run
) -> None:
    people = sandhof / "candidates" / "people.yaml"
    said = people.read_text("utf-8").replace("rubric: low-trapeze-1", "rubric: low-trapez-1", 1)
    people.write_text(said, "utf-8")
    line = said[: said.index("low-trapez-1")].count("\n") + 1
    for code, command in ((1, ("check", ".")), (2, ("people",))):
        told = standfast(*command)
        assert told.code == code
        assert f"people.yaml:{line}:" in told.err + told.out
        assert "did you mean 'low-trapeze-1'?" in told.err + told.out


def test_check_says_each_at_its_line_with_the_cure(tmp_path: Path, standfast: Run) -> None:
    file = tmp_path / "people.yaml"
    file.write_text(PEOPLE, "utf-8")
    told = standfast("check", file, "--json")
    good = tmp_path / "good.yaml"
    good.write_text(ONE_DAY_LONG, "utf-8")

    assert told.code == 1
    assert [problem["line"] for problem in told.json["problems"]] == LINES
    assert {problem["cure"] for problem in told.json["problems"]} == {"mend one of the days"}
    assert standfast("check", good).code == 0


def test_nobody_is_entered_with_such_days(sandhof: Path, standfast: Run) -> None:
    file = sandhof / "more.yaml"
    file.write_text(PEOPLE, "utf-8")

    told = standfast("people", file, "--json")

    assert told.code == 2
    assert [problem["line"] for problem in told.json["problems"]] == LINES
    assert standfast("history", "ada-berg").code == 2  # nobody of that name
