"""Whether the assessors are in step: of a table, in plain words first; and of the record book."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from random import Random

import pytest
from tests.cli.conftest import INES, ON, RUBRIC, Run

HEAD = "subject,assessor,criterion,score"


@pytest.fixture(autouse=True)
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """In a folder in which no school lives."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def table(rows: list[str], head: str = HEAD) -> str:
    Path("marks.csv").write_text("\n".join([head, *rows]) + "\n", "utf-8")
    return "marks.csv"


def level(lesson: int, criterion: int) -> int:
    """A level 2 to 5, of each lesson and criterion always the same."""
    return Random(f"{lesson} {criterion}").randint(2, 5)


def lessons(count: int, assessors: dict[str, int], criteria: int = 3) -> list[str]:
    """Levels of so many lessons; each assessor with what is taken off every level."""
    return [
        f"l{n},{who},c{c},{level(n, c) - less}"
        for n in range(count)
        for who, less in assessors.items()
        for c in range(criteria)
    ]


def says(standfast: Run, *arguments: object) -> list[str]:
    ran = standfast("compare", *arguments, "--json")
    assert ran.code == 0, ran.err
    return list(ran.json["says"].values())


def test_who_mark_everything_alike_are_in_step(standfast: Run) -> None:
    whether, standing_out, following = says(
        standfast, table(lessons(20, {"ann": 0, "bo": 0, "cy": 0}))
    )

    assert whether == (
        "On the whole the assessors are in step: over 20 lessons two assessors marked alike 100 of"
        " 100 times (likely 84 to 100; enough would be 80)."
    )
    assert standing_out == "Nobody and no criterion stands out by more than chance."
    assert following.startswith("Next: go on as you do")


def test_one_who_marks_lower_is_named_with_what_to_do(standfast: Run) -> None:
    file = table(lessons(20, {"ann": 0, "bo": 0, "cy": 1}))
    value = standfast("compare", file, "--json").json
    severity = {one["assessor"]: one for one in value["habits"]["severity"]}
    whether, standing_out, following = value["says"].values()

    assert value["in_step"] == "not in step"
    assert whether.startswith("The assessors are not in step: over 20 lessons")
    assert "cy marks 25 % of the scale lower than the others who saw the same" in standing_out
    assert "ann marks" not in standing_out  # she only seems off because of cy
    assert following.startswith("Next: let cy score a lesson with each of two others")
    assert severity["cy"]["difference"]["value"] == pytest.approx(-0.25)  # 1 of 1 to 5
    assert severity["ann"]["difference"]["value"] == pytest.approx(0.125)
    # ann and bo always agree, and either agrees with cy never: a third of the pairs.
    assert value["alike"]["value"] == pytest.approx(1 / 3)


def test_of_two_both_are_named(standfast: Run) -> None:
    _, standing_out, following = says(standfast, table(lessons(20, {"ann": 0, "bo": 1})))

    assert "ann marks 25 % of the scale higher" in standing_out
    assert "bo marks 25 % of the scale lower" in standing_out
    assert following.startswith("Next: let bo and ann score a lesson together")


def test_a_criterion_that_is_read_differently_is_to_be_reworded(standfast: Run) -> None:
    rows = [
        f"l{n},{who},{criterion},{3 + (wild * (n + len(who)) % 2)}"
        for n in range(30)
        for who in ("ann", "leo")
        for criterion, wild in (("spot", 0), ("plain-words", n % 3 > 0))
    ]
    rows = [row if "leo,plain" not in row else flipped(row) for row in rows]
    value = standfast("compare", table(rows), "--json").json
    words = {one["criterion"]: one["word"] for one in value["criteria"]}

    assert words == {"plain-words": "not in step", "spot": "in step"}
    assert "'plain-words' is marked alike only" in value["says"]["stands_out"]
    assert "two strangers would tick alike" in value["says"]["next"]


def flipped(row: str) -> str:
    """3 for 4 and 4 for 3, in every second lesson."""
    head, score = row.rsplit(",", 1)
    lesson = int(head.split(",")[0][1:])
    return f"{head},{7 - int(score)}" if lesson % 2 else row


def test_the_words_begin_with_the_three_sentences_and_end_with_the_cautions(
    standfast: Run,
) -> None:
    out = standfast("compare", table(lessons(12, {"ann": 0, "bo": 1}))).out
    lines = out.splitlines()

    assert lines[0].startswith("The assessors are not in step")
    assert lines.index("") < 10
    assert "from marks.csv: 2 assessors; 12 of 12 lessons scored by two or more" in lines
    assert "student stays on the ground" in " ".join(out.split()[-10:])
    assert max(len(line) for line in lines) < 100


def test_with_four_lessons_nothing_can_be_told(standfast: Run) -> None:
    file = table(lessons(4, {"ann": 0, "bo": 1}))
    value = standfast("compare", file, "--json").json

    assert value["in_step"] == "cannot be told"
    assert not any(value["habits"].values())
    assert "have more lessons scored by two" in value["says"]["next"]
    assert "too few" in standfast("compare", file).out


def test_nobody_with_a_common_lesson_is_an_answer_of_no(standfast: Run) -> None:
    ran = standfast("compare", table(["l1,ann,spot,3", "l2,bo,spot,3", "l1,bo,spot,"]))

    assert ran.code == 1
    assert "no two assessors marked the same thing" in ran.err
    assert "scored by two assessors" in ran.err


def test_since_leaves_out_earlier_days(standfast: Run) -> None:
    rows = [
        f"l{n},{who},spot,{3 + (n % 2) - less * (n < 10)},2026-{1 + n // 10:02}-{1 + n % 10:02}"
        for n in range(20)
        for who, less in (("ann", 0), ("bo", 1))
    ]
    file = table(rows, f"{HEAD},occasion")

    assert standfast("compare", file, "--json").json["alike"]["value"] == 0.5
    later = standfast("compare", file, "--since", "2026-02-01", "--json").json
    assert later["alike"]["value"] == 1.0
    assert later["lessons"] == 10
    assert standfast("compare", file, "--since", "2026-03-01").code == 1


def test_drift_is_told_with_its_period(standfast: Run) -> None:
    rows = [
        f"l{n},{who},c{c},{level(n, c) - less * (n >= 18)},{date(2026, 1 + n // 3, 1 + n)}"
        for n in range(24)
        for who, less in (("ann", 0), ("bo", 0), ("cy", 1))
        for c in range(3)
    ]
    out = says(standfast, table(rows, f"{HEAD},occasion"))

    assert "cy marked 25 % of the scale lower in 2026Q3 than before" in out[1]
    assert "ann marked" not in out[1]
    assert "have cy score a reference practical" in out[2]


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        pytest.param(("--since", "2026-01-01"), "needs a column 'occasion'", id="no days"),
        pytest.param(("--since", "soon"), "no such day", id="no day"),
        pytest.param(("--rubric", "low-trapeze-1"), "a table was named", id="rubric of a table"),
    ],
)
def test_what_a_table_cannot_be_asked_is_said(
    standfast: Run, arguments: tuple[str, ...], expected: str
) -> None:
    ran = standfast("compare", table(lessons(6, {"ann": 0, "bo": 0})), *arguments)

    assert ran.code == 2
    assert expected in ran.err


def test_faults_of_a_table_stand_with_their_rows(standfast: Run) -> None:
    ran = standfast("compare", table(["l1,ann,spot,three", "l1,bo,spot,3", "l1,bo,spot,4"]))

    assert ran.code == 2
    assert "marks.csv:2:4: row 2, column 'score': 'three' is no number" in ran.err
    assert "'bo' marked 'spot' of 'l1' in row 3 already" in ran.err


def test_the_book_is_compared_by_name(scored: Path, standfast: Run) -> None:
    value = standfast("compare", "--school", scored, "--on", ON, "--json").json

    assert value["assessors"]["hana-dvorakova"] == "Hana Dvořáková"
    assert (value["lessons"], value["lessons_scored_by_two"]) == (2, 1)
    assert value["in_step"] == "cannot be told"
    assert all(one["criterion"].startswith(f"{RUBRIC}: ") for one in value["criteria"])
    only = standfast("compare", "--school", scored, "--rubric", RUBRIC, "--json").json
    assert {f"{RUBRIC}: {one['criterion']}" for one in only["criteria"]} == {
        one["criterion"] for one in value["criteria"]
    }
    assert INES not in str(value)


def test_another_rubric_is_not_in_the_book(scored: Path, standfast: Run) -> None:
    ran = standfast("compare", "--school", scored, "--rubric", "low-trapeze")

    assert ran.code == 2
    assert f"did you mean '{RUBRIC}'?" in ran.err


@pytest.mark.usefixtures("scored")
def test_a_report_with_a_wrong_name_is_refused_before_anything_is_asked(standfast: Run) -> None:
    refused = standfast("compare", "--pdf", "report.txt")

    assert refused.code == 2
    assert "a file for --pdf ends in .pdf" in refused.err


@pytest.mark.usefixtures("scored")
def test_the_report_names_the_school_and_its_files(standfast: Run) -> None:
    told = standfast("compare", "--html", "report.html", "--json")

    assert told.code == 0
    assert told.json["files"] == ["report.html"]
    text = Path("report.html").read_text("utf-8")
    assert "Sandhof" in text
    assert "Task with a count and an end" in text
    assert not re.findall(r"task-named|low-trapeze-1", text)
