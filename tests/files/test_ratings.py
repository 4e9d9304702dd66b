"""A table of marks: every fault by row and column, and blanks are missing."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook

from standfast.files.ratings import RatingRow, read_ratings
from standfast.problems import BadInput

HEAD = "subject,assessor,criterion,score"


def faults(tmp_path: Path, text: str) -> list[str]:
    (tmp_path / "marks.csv").write_text(text, "utf-8")
    with pytest.raises(BadInput) as refused:
        read_ratings(tmp_path / "marks.csv")
    return [str(problem).removeprefix(f"{tmp_path}/") for problem in refused.value.problems]


def test_blanks_are_missing(tmp_path: Path) -> None:
    (tmp_path / "marks.csv").write_text(
        f"{HEAD},occasion\ns1,ann,spot,3,2026-01-01\ns1,bo,spot,,2026-01-01\n", "utf-8"
    )

    assert read_ratings(tmp_path / "marks.csv") == (
        RatingRow("s1", "ann", "spot", "2026-01-01", 3.0, 2),
        RatingRow("s1", "bo", "spot", "2026-01-01", None, 3),
    )


def test_a_workbook_says_the_same(tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.worksheets[0]
    for row in (HEAD.split(","), ["s1", "ann", "spot", 3], ["s1", "bo", "spot", 2.5]):
        sheet.append(row)
    book.save(tmp_path / "marks.xlsx")

    assert [row.score for row in read_ratings(tmp_path / "marks.xlsx")] == [3.0, 2.5]


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    text = f"{HEAD}\n,ann,spot,3\ns1,,,x\ns1,ann,spot,nan\ns1,ann,spot,1_0\ns2,bo,spot,inf\n"

    assert [line.split("; ")[0] for line in faults(tmp_path, text)] == [
        "marks.csv:2:1: row 2, column 'subject': is empty",
        "marks.csv:3:2: row 3, column 'assessor': is empty",
        "marks.csv:3:3: row 3, column 'criterion': is empty",
        "marks.csv:3:4: row 3, column 'score': 'x' is no number",
        "marks.csv:4:4: row 4, column 'score': 'nan' is no number",
        "marks.csv:5:4: row 5, column 'score': '1_0' is no number",
        "marks.csv:6:4: row 6, column 'score': 'inf' is no number",
    ]


def test_a_mark_that_is_there_already_names_both_rows(tmp_path: Path) -> None:
    text = f"{HEAD},occasion\ns1,ann,spot,3,a\ns1,ann,spot,3,b\ns1,ann,spot,,a\ns1,ann,spot,1,a\n"
    already = "'ann' marked 'spot' of 's1' on occasion 'a' in row 2 already"

    assert [line.split("; ")[0] for line in faults(tmp_path, text)] == [
        f"marks.csv:4:2: row 4, column 'assessor': {already}",
        f"marks.csv:5:2: row 5, column 'assessor': {already}",
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param(
            "subject,assesor,criterion,score\ns1,ann,spot,3\n",
            [
                (
                    "marks.csv:1:1: has no column 'assessor'; the columns are subject, assessor,"
                    " criterion, score and, if there are several, occasion"
                ),
                "marks.csv:1:2: column 'assesor' is not known; did you mean 'assessor'?",
            ],
            id="a slip in the head",
        ),
        pytest.param(
            f"{HEAD}\n",
            ["marks.csv: has a head and no rows; write one row for each mark"],
            id="no rows",
        ),
        pytest.param(
            f"{HEAD},occasion\ns1,ann,spot,3,\n",
            [
                (
                    "marks.csv:2:5: row 2, column 'occasion': is empty; write its day or round, or"
                    " leave the whole column out"
                )
            ],
            id="an occasion is missing",
        ),
    ],
)
def test_what_is_wrong_is_said_with_its_cure(
    tmp_path: Path, text: str, expected: list[str]
) -> None:
    assert faults(tmp_path, text) == expected
