"""Severity, fair scores and tipped decisions as `compare` shows them; of tables and of a book."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tests.cli.conftest import ROOT, Run
from tests.cli.test_compare import HEAD, table
from tests.desk import severe
from tests.desk.test_severities import rows_of

ON = ("--on", "2026-12-01")


def marks(*parts: list[tuple[str, str, str, float]]) -> str:
    return table([f"{a},{b},{c},{d}" for part in parts for a, b, c, d in part])


@pytest.fixture
def linked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A table in which cy gives a level less than ann and bo."""
    monkeypatch.chdir(tmp_path)
    return marks(rows_of({"ann": 0, "bo": 0, "cy": 1}, range(40)))


@pytest.fixture(scope="module")
def severe_school(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A school in whose book cy gives two levels less, and some fail by that alone."""
    folder = tmp_path_factory.mktemp("severe")
    shutil.copyfile(ROOT / "candidates" / "school.yaml", folder / "school.yaml")
    severe.fill(folder / "standfast.db", 2)
    return folder


def test_a_table_tells_points_and_logits_of_everybody(standfast: Run, linked: str) -> None:
    value = standfast("compare", linked, "--json").json
    (part,) = value["severity"]["parts"]
    first = part["severities"]["assessors"][0]
    lines = standfast("compare", linked).out.splitlines()
    (shown,) = (line for line in lines if line.startswith("cy ") and "gives less" in line)

    assert part["part"] == "3 criteria"
    assert (first["assessor"], first["certain"], first["lessons"]) == ("cy", True, 40)
    assert f"{first['points']:+.2f}  ({first['points_low']:+.2f} to" in shown
    assert f"{first['severity']:+.2f}  ({first['low']:+.2f} to" in shown
    assert part["severities"]["notes"][0].startswith("the average severity")
    assert part["severities"]["says"] in " ".join(lines)
    assert max(len(line) for line in lines) < 100
    assert value["decisions_otherwise"] is None  # a table has none
    assert not any(line.startswith("decisions:") for line in lines)


def test_the_words_show_five_fair_scores_and_json_has_all(standfast: Run, linked: str) -> None:
    value = standfast("compare", linked, "--json").json
    lines = standfast("compare", linked).out.splitlines()
    at = next(n for n, line in enumerate(lines) if line.startswith("fair score, largest"))
    corrections = [abs(one["correction"]) for one in value["fair_scores"]]

    assert "of 40" in lines[at]
    assert [line.split()[0] for line in lines[at + 2 : at + 7]] == [
        one["lesson"] for one in value["fair_scores"][:5]
    ]
    assert lines[at + 7] == ""
    assert len(corrections) == 40
    assert corrections == sorted(corrections, reverse=True)
    for one in value["fair_scores"]:
        assert one["low"] <= one["fair"] <= one["high"]
        assert one["fair"] == pytest.approx(one["given"] + one["correction"])


def test_it_says_how_the_two_ways_to_severity_differ(standfast: Run, linked: str) -> None:
    words = " ".join(standfast("compare", linked).out.split())

    assert "beside the others" in words
    assert "'Beside the others' is told from shared lessons alone" in words


def test_who_is_not_linked_is_named_with_what_to_do(
    standfast: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    apart = rows_of({"dee": 0, "eve": 0}, range(20, 35), seed=2)
    file = marks(rows_of({"ann": 0, "bo": 0}, range(20)), apart)
    value = standfast("compare", file, "--json").json
    words = " ".join(standfast("compare", file).out.split())

    assert len(value["severity"]["parts"]) == 2
    assert value["severity"]["unlinked"][0] in words
    assert "have dee or another of them score a few lessons together" in words


def test_what_cannot_be_told_is_said_and_not_made_up(
    standfast: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    file = table([f"l{n},{who},spot,{n / 7:.3f}" for n in range(20) for who in ("ann", "bo")], HEAD)
    value = standfast("compare", file, "--json").json
    words = standfast("compare", file).out

    assert value["severity"]["parts"] == []
    assert value["fair_scores"] == []
    assert value["left_out"][0].startswith("spot: measurements")
    assert "spot: measurements, not whole-number levels" in words
    assert "fair score" not in words


def test_tipped_decisions_are_listed_for_a_person_and_named_in_the_third_sentence(
    severe_school: Path, standfast: Run
) -> None:
    where = ("compare", "--school", severe_school, *ON)
    value = standfast(*where, "--json").json
    asked = value["decisions_otherwise"]
    out = " ".join(standfast(*where).out.split())

    assert asked["found"]
    assert asked["says"].endswith("Nothing that was decided is changed by it.")
    assert f"have a person look at {len(asked['found'])} decisions" in value["says"]["next"]
    assert f"decisions: {len(asked['found'])} of {asked['decisions']} decisions would" in out
    assert asked["says"] in out
    for one in asked["found"]:
        on = f"Cato Quillfeather, bar-1, on {one['on']}: fail, would be: pass"
        assert on in out
        assert f"lessons: {', '.join(one['practicals'])}" in out
    level = asked["found"][0]["changed"][0]
    assert f"{level['criterion']}: Cy {level['given']}, would be {level['fair']}" in out
    assert "student stays on the ground" in out


def test_asking_changes_no_decision(severe_school: Path, standfast: Run) -> None:
    where = ("--school", severe_school)
    assert standfast("compare", *where, *ON).code == 0

    assert standfast("book", "replay", *where).code == 0
    assert standfast("book", "audit", *where).code == 0


def test_a_rubric_and_a_day_narrow_what_is_asked(severe_school: Path, standfast: Run) -> None:
    where = ("compare", "--school", severe_school, "--json")
    every = standfast(*where, *ON).json
    some = standfast(*where, "--rubric", "bar-1", "--since", "2026-02-01", *ON).json
    days = {one["on"] for one in some["decisions_otherwise"]["found"]}

    assert days
    assert min(days) >= "2026-02-01" > min(o["on"] for o in every["decisions_otherwise"]["found"])
    assert len(some["fair_scores"]) == 29  # of 60 lessons, one a day from 1 January on
