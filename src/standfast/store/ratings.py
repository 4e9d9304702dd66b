"""Marks out of the record book as arrays, quickly, so that assessors can be compared.

What is a subject, and how marks are packed, says `store/marks.py`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import select

from standfast.store.tables import ratings, sheets
from standfast.store.writing import Reading

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class KeptRatings:
    """Every mark of the sheets that stand: equally long arrays, and what their codes mean."""

    subject: NDArray[np.int64]
    """Codes without gaps; what was marked, see `store/marks.py`."""
    sheet: NDArray[np.int64]
    """Place in `sheets`."""
    criterion: NDArray[np.int64]
    """Place in `criteria`."""
    score: NDArray[np.float64]
    sheets: tuple[MarkedSheet, ...]
    criteria: tuple[tuple[str, str, str], ...]
    """Rubric, kind and criterion; the criterion is empty where the rubric has one of its kind."""


@dataclass(frozen=True)
class MarkedSheet:
    """Whose marks they are, and when."""

    practical: str
    assessor: str
    rubric: str
    day: str


def find_ratings(reading: Reading, rubric: str | None = None) -> KeptRatings:
    """The marks of every sheet that nothing corrects, under that rubric or all."""
    columns = (sheets.c.practical, sheets.c.assessor, sheets.c.rubric, sheets.c.day)
    query = (
        select(*columns, ratings.c.criteria, ratings.c.packed)
        .join_from(ratings, sheets, ratings.c.sheet == sheets.c.id)
        .where(sheets.c.superseded_by.is_(None))
        .order_by(ratings.c.seq)
    )
    if rubric is not None:
        query = query.where(sheets.c.rubric == rubric)
    rows = reading.conn.execute(query).all()
    handle = reading.names.handle
    known = {row.assessor: handle(row.assessor) for row in rows}
    marked = tuple(MarkedSheet(r.practical, known[r.assessor], r.rubric, r.day) for r in rows)
    return _arrays(marked, [row.criteria for row in rows], [bytes(row.packed) for row in rows])


def _arrays(marked: tuple[MarkedSheet, ...], named: list[str], blobs: list[bytes]) -> KeptRatings:
    """The rows as arrays; criteria are looked up once for each list of them that occurs."""
    import numpy as np

    form = np.dtype([("subject", "<i8"), ("criterion", "<u2"), ("score", "<f8")])
    marks = np.frombuffer(b"".join(blobs), form)
    counts = [len(blob) // form.itemsize for blob in blobs]
    codes: dict[tuple[str, str, str], int] = {}
    lists: dict[tuple[str, str], int] = {}
    starts: list[int] = []
    looked_up: list[int] = []
    of_row = []
    for sheet, names in zip(marked, named, strict=True):
        key = (sheet.rubric, names)
        if key not in lists:
            lists[key] = len(starts)
            starts.append(len(looked_up))
            for kind, name in json.loads(names):
                looked_up.append(codes.setdefault((sheet.rubric, kind, name), len(codes)))
        of_row.append(starts[lists[key]])
    places = np.repeat(np.array(of_row, dtype=np.int64), counts) + marks["criterion"]
    return KeptRatings(
        np.unique(marks["subject"], return_inverse=True)[1].astype(np.int64),
        np.repeat(np.arange(len(marked), dtype=np.int64), counts),
        np.array(looked_up, dtype=np.int64)[places],
        marks["score"].astype(np.float64),
        marked,
        tuple(codes),
    )
