"""Tables for spreadsheets: read back by others, and no cell a formula."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standfast.files.export import STARTS_A_FORMULA, harmless, write_table
from standfast.problems import StandfastError

HEAD = ("by", "name", "to do")
ROWS = [
    (date(2026, 11, 30), "Ada Berg", "refresher, from 2026-10-01 on"),
    (date(2027, 1, 1), '=HYPERLINK("https://example.org")', "@SUM(A1)"),
    (date(2027, 2, 1), "ياسمين", 'says "now"\nand again'),
]


def test_csv_reads_back_with_formulas_made_text(tmp_path: Path) -> None:
    write_table(tmp_path / "due.csv", HEAD, ROWS)

    raw = (tmp_path / "due.csv").read_bytes()
    read = list(csv.reader(io.StringIO(raw.decode("utf-8-sig"), newline="")))
    assert read[0] == list(HEAD)
    assert read[1] == ["2026-11-30", "Ada Berg", "refresher, from 2026-10-01 on"]
    assert read[2][1:] == ['\'=HYPERLINK("https://example.org")', "'@SUM(A1)"]
    assert read[3][1:] == ["ياسمين", 'says "now"\nand again']
    assert raw.count(b"\r\n") == 4


def test_a_workbook_reads_back_with_real_days_and_no_formula(tmp_path: Path) -> None:
    write_table(tmp_path / "due.xlsx", HEAD, ROWS)

    sheet = openpyxl.load_workbook(tmp_path / "due.xlsx").worksheets[0]
    cells = [cell for row in sheet.iter_rows(min_row=2) for cell in row]
    assert {cell.data_type for cell in cells} == {"d", "s"}
    assert sheet["B3"].value == '=HYPERLINK("https://example.org")'
    frame = pd.read_excel(tmp_path / "due.xlsx")
    assert list(frame.columns) == list(HEAD)
    assert frame["by"].dt.date.tolist() == [row[0] for row in ROWS]


@given(st.text(max_size=30))
def test_no_text_starts_a_formula(text: str) -> None:
    made = harmless(text)

    assert not made.lstrip(" ").startswith(STARTS_A_FORMULA)
    assert made in {text, f"'{text}"}


def test_another_ending_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    with pytest.raises(StandfastError, match=r"due.ods: a table ends in .csv or .xlsx"):
        write_table(tmp_path / "due.ods", HEAD, ROWS)

    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(StandfastError, match="name another file"):
        write_table(tmp_path / "none" / "due.csv", HEAD, ROWS)
