"""What a packed workbook would take when it is opened, told before it is.

A file of 60 KB can hold a row of ten million empty cells, for which a reader asks for gigabytes.
"""

from __future__ import annotations

import re
import struct
import zipfile
import zlib

LARGEST_UNPACKED = 60_000_000
"""Bytes that a workbook may have when unpacked."""
MOST_PIECES = 1_000_000
"""Elements and attributes of sheets and their texts: a hundred for each of 10,000 rows."""
MOST_OTHER = 100_000
"""Of all other parts: styles, themes, the list of sheets."""

_CHUNK = 1 << 20
_ROWS = re.compile(r"xl/(worksheets/|sharedStrings\.xml)", re.IGNORECASE)
_DECLARED = re.compile(rb"<\?xml[^>]*encoding\s*=\s*[\"']([^\"']*)")


def too_much(packed: zipfile.ZipFile) -> str:
    """Why the workbook is not opened; empty when it may be.

    Raises:
        One of `FAULTS`: it is damaged or locked.
    """
    parts = packed.infolist()
    unpacked = sum(part.file_size for part in parts)
    if unpacked > LARGEST_UNPACKED:
        return f"is too large ({unpacked:,} bytes unpacked)"
    pieces = {True: 0, False: 0}
    for part in parts:
        rows = bool(_ROWS.match(part.filename))
        counted = _pieces(packed, part)
        if counted is None:
            return f"says '{part.filename}' in letters that are not Unicode's"
        pieces[rows] += counted
        if pieces[rows] > (MOST_PIECES if rows else MOST_OTHER):
            return f"is too large (over {pieces[rows]:,} cells, texts and styles)"
    return ""


def _pieces(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> int | None:
    """How many elements and attributes a part can have at the most; None when it cannot be told.

    ECMA-376 part 2 wants UTF-8 or UTF-16, in both of which each begins with a byte of ASCII.
    """
    found = 0
    with packed.open(part) as file:
        head = file.read(_CHUNK)
        declared = _DECLARED.search(head[:200].replace(b"\0", b""))
        if declared and declared[1].upper() not in {b"UTF-8", b"UTF-16", b"US-ASCII"}:
            return None
        while head:
            found += head.count(b"<") + head.count(b"=")
            head = file.read(_CHUNK)
    return found


FAULTS = (
    *(zipfile.BadZipFile, zlib.error, struct.error, EOFError, ValueError),
    *(NotImplementedError, RuntimeError),
)
"""What a damaged or locked workbook leads to."""
