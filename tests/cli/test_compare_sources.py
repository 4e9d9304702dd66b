"""Where differences come from and what a second assessor buys, as `compare` shows them."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest
from tests.cli.conftest import RUBRIC, Run

HEAD = "subject,assessor,criterion,score,occasion"


@pytest.fixture(autouse=True)
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a folder in which no school lives."""
    monkeypatch.chdir(tmp_path)


def table(people: int, days: int) -> str:
    """Candidates who differ, seen by two of three assessors each day."""
    rows = [HEAD]
    for person in range(people):
        for day in range(days):
            draw = Random(f"{person} {day}")
            for who in draw.sample(["ann", "bo", "cy"], 2):
                for criterion in range(4):
                    mark = 1 + person % 4 + draw.choice([0, 0, 1]) + (who == "cy")
                    rows.append(f"p{person},{who},k{criterion},{mark},2026-0{day + 1}-01")
    Path("marks.csv").write_text("\n".join(rows) + "\n", "utf-8")
    return "marks.csv"


def test_the_terminal_has_a_table_of_sources_and_one_of_panels(standfast: Run) -> None:
    out = standfast("compare", table(20, 2)).out
    lines = out.splitlines()
    rows = {line.split("  ")[0]: line for line in lines}

    assert "how candidates differ: what you want to measure" in rows["candidates"]
    assert "how severe assessors are on the whole" in rows["assessors"]
    assert "With two assessors and two practicals instead of one of each the chance" in out
    assert [rows[f"{n} practical{'s' * (n > 1)}"].count("%") for n in (1, 2, 3)] == [3, 3, 3]
    assert "Pass or fail is taken at the mean of the sheets" in " ".join(out.split())
    assert max(map(len, lines)) < 100


def test_the_json_says_the_same(standfast: Run) -> None:
    file = table(20, 2)
    value = standfast("compare", file, "--json").json
    parts = value["sources"]["parts"]
    panel = {(one["assessors"], one["practicals"]): one for one in value["panels"]["tried"]}

    assert sum(one["share"] for one in parts) == pytest.approx(1)
    assert max(parts, key=lambda one: float(one["share"]))["what"] == "candidates"
    assert panel[2, 2]["otherwise"] < panel[1, 1]["otherwise"]
    assert panel[2, 2]["absolute"] > panel[1, 1]["absolute"]
    assert all(one["low"] < one["otherwise"] < one["high"] for one in panel.values())
    assert value["panels"]["says"] in " ".join(standfast("compare", file).out.split())


def test_candidates_are_told_apart_from_a_day_on(standfast: Run) -> None:
    value = standfast("compare", table(20, 3), "--since", "2026-02-01", "--json").json

    assert value["lessons"] == 40
    assert value["sources"]["candidates"] is True
    assert value["panels"]["candidates"] == 20


def test_too_few_lessons_give_the_reason_in_both(standfast: Run) -> None:
    file = table(3, 1)
    value = standfast("compare", file, "--json").json
    out = " ".join(standfast("compare", file).out.split())

    assert value["sources"]["told"] is value["panels"]["told"] is False
    assert value["sources"]["reason"].startswith("3 of the lessons")
    assert f"where differences come from cannot be told: {value['sources']['reason']}" in out


def test_a_book_of_two_lessons_says_why_nothing_is_told(scored: Path, standfast: Run) -> None:
    value = standfast("compare", "--school", scored, "--rubric", RUBRIC, "--json").json

    assert value["panels"]["reason"].startswith("1 of the lessons whose sheets")


def levels(strict: int, unclear: str | None) -> str:
    """Ann, Bo and Cy on six criteria; Cy may be a level strict, and one criterion be unclear."""
    rows = ["subject,assessor,criterion,score"]
    for lesson in range(30):
        draw = Random(str(lesson))
        for criterion in (f"k{n}" for n in range(6)):
            level = draw.randint(2, 4)
            for who in ("ann", "bo", "cy"):
                off = draw.choice([-1, 0, 1]) if criterion == unclear else 0
                mark = level + off - strict * (who == "cy")
                rows.append(f"l{lesson},{who},{criterion},{mark}")
    Path("levels.csv").write_text("\n".join(rows) + "\n", "utf-8")
    return "levels.csv"


def test_no_criterion_is_blamed_for_somebody_strict(standfast: Run) -> None:
    value = standfast("compare", levels(1, None), "--json").json
    out = standfast("compare", "levels.csv").out

    assert {one["word"] for one in value["criteria"]} == {"not in step"}
    assert not any(one["wording"]["stands_out"] for one in value["criteria"])
    assert "cy marks" in value["says"]["stands_out"]
    assert "is marked alike only" not in value["says"]["stands_out"]
    assert "wording of criteria: none is worse than the others" in out


def test_an_unclear_criterion_is_named_beside_somebody_strict(standfast: Run) -> None:
    value = standfast("compare", levels(1, "k2"), "--json").json
    out = standfast("compare", "levels.csv").out

    worded = {one["criterion"]: one["wording"]["stands_out"] for one in value["criteria"]}
    assert [name for name, stands_out in worded.items() if stands_out] == ["k2"]
    assert "times, more than strictness explains" in value["says"]["stands_out"]
    assert "talk over what 'k2' looks like" in value["says"]["next"]
    assert "wording to look at" in out


def test_tries_of_a_table_have_a_row_of_how_alike_they_were_seen(standfast: Run) -> None:
    rows = ["subject,assessor,criterion,score"]
    for n in range(10):
        rows += [f"t{n},ann,still,{int(n < 8)}", f"t{n},bo,still,{int(n < 7)}"]
    Path("tries.csv").write_text("\n".join(rows) + "\n", "utf-8")
    (one,) = standfast("compare", "tries.csv", "--json").json["tries_and_looks"]
    row = next(
        line for line in standfast("compare", "tries.csv").out.splitlines() if "88 %" in line
    )

    assert (one["criterion"], one["kind"]) == ("still", "tries")
    assert (one["each"]["value"], one["scored"]["of"], one["unscored"]["value"]) == (0.9, 8, 2 / 3)
    assert row.split() == ["still", "90", "%", "88", "%", "67", "%", "88", "%"]


def test_levels_are_no_tries(standfast: Run) -> None:
    file = levels(0, None)

    assert standfast("compare", file, "--json").json["tries_and_looks"] == []
    assert "tries and looks" not in standfast("compare", file).out


def test_figures_have_bounds_by_drawing_lessons_beside_the_formulas(standfast: Run) -> None:
    file = levels(0, "k2")
    value = standfast("compare", file, "--json").json
    one = next(one for one in value["criteria"] if one["criterion"] == "k2")
    by_formula = {figure["name"]: figure for figure in one["figures"]}
    row = next(
        line
        for line in standfast("compare", file).out.splitlines()
        if line.startswith("k2") and "(0." in line
    )

    assert len(one["bootstrap"]["figures"]) == 3
    for figure in one["bootstrap"]["figures"]:
        assert figure["value"] == by_formula[figure["name"]]["value"]
        assert figure["low"] < figure["value"] < figure["high"]
        assert "bootstrap" in figure["method"]
        if figure["name"].startswith("gwet"):
            assert f"({figure['low']:.2f}-{figure['high']:.2f})" in row
            linear = by_formula[figure["name"]]
            # One mark of each lesson: lessons are subjects, and both ways say much the same.
            assert figure["low"] == pytest.approx(linear["low"], abs=0.08)


def test_looks_of_the_book_say_why_they_are_at_a_moment(scored: Path, standfast: Run) -> None:
    out = " ".join(standfast("compare", "--school", scored).out.split())
    kinds = {
        one["kind"]
        for one in standfast("compare", "--school", scored, "--json").json["tries_and_looks"]
    }

    assert kinds == {"looks", "tries"}
    # The numbers are those of tests/published/test_time_sampling.py, rounded.
    assert "60 looks 10 s apart find 20 of 100, give or take 6" in out
    assert "at any time since the last look would find 41." in out
