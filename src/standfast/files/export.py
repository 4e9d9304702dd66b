"""Tables for spreadsheets: CSV and XLSX that no cell can turn into a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from standfast.in_place import put_in_place
from standfast.problems import StandfastError

STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet may take for the begin of a formula, also in its full-width forms.

Source: OWASP, CSV Injection (from memory); the full-width forms are ours.
"""


def harmless(text: str) -> str:
    """The text with an apostrophe before it when a spreadsheet might run it.

    >>> harmless("=1+1")
    "'=1+1"
    >>> harmless("Ada Berg")
    'Ada Berg'
    """
    return f"'{text}" if text.lstrip(" ").startswith(STARTS_A_FORMULA) else text


def write_table(file: Path, head: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Writes head and rows, beside the file's place first, so that no half table is ever there.

    Raises:
        StandfastError: the ending is neither .csv nor .xlsx, or it cannot be written.
    """
    ending = file.suffix.lower()
    if ending not in {".csv", ".xlsx"}:
        raise StandfastError(f"{file}: a table ends in .csv or .xlsx; name it so")
    put_in_place(file, _csv(head, rows) if ending == ".csv" else _xlsx(head, rows))


def _csv(head: Sequence[str], rows: Sequence[Sequence[object]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")  # RFC 4180, 2
    writer.writerow(head)
    writer.writerows([harmless(str(cell)) for cell in row] for row in rows)
    return ("\ufeff" + text.getvalue()).encode("utf-8")


def _xlsx(head: Sequence[str], rows: Sequence[Sequence[object]]) -> bytes:
    from openpyxl import Workbook
    from openpyxl.cell import Cell

    book = Workbook()
    sheet = book.worksheets[0]
    for row in (head, *rows):
        cells = []
        for value in row:
            cell = Cell(
                sheet, row=1, column=1, value=value if isinstance(value, date) else str(value)
            )
            if not isinstance(value, date):
                cell.data_type = "s"  # text, also when it looks like a formula
            cells.append(cell)
        sheet.append(cells)
    sheet.freeze_panes = "A2"
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()
