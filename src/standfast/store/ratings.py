"""Marks out of the record book as arrays, quickly, so that assessors can be compared.

What is a subject, and how marks are packed, says `store/marks.py`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
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
    """Every mark of the sheets that stand: equally long arrays, and what they point to."""

    subject: NDArray[np.int64]
    """What was marked, see `store/marks.py`: the same number on all sheets, with gaps."""
    sheet: NDArray[np.int64]
    """Place in the columns of sheets below."""
    criterion: NDArray[np.int64]
    """Place in `criteria`."""
    score: NDArray[np.float64]
    criteria: tuple[tuple[str, str, str], ...]
    """Rubric, kind and criterion; the criterion is empty where the rubric has one of its kind."""
    practicals: tuple[str, ...]
    assessors: tuple[str, ...]
    days: tuple[str, ...]
    candidates: tuple[str, ...]
    """Of each sheet in turn, as are practicals, assessors and days."""


def find_ratings(reading: Reading, rubric: str | None = None) -> KeptRatings:
    """The marks of every sheet that nothing corrects, under that rubric or all."""
    columns = (
        *(sheets.c.practical, sheets.c.assessor, sheets.c.day),
        *(sheets.c.candidate, sheets.c.rubric),
    )
    query = (
        select(*columns, ratings.c.criteria, ratings.c.packed)
        .join_from(ratings, sheets, ratings.c.sheet == sheets.c.id)
        .where(sheets.c.superseded_by.is_(None))
        .order_by(ratings.c.seq)
    )
    if rubric is not None:
        query = query.where(sheets.c.rubric == rubric)
    rows = reading.conn.execute(query).all()
    practical, who, day, whom, of, named, blobs = zip(*rows, strict=True) if rows else ((),) * 7
    known = {ref: reading.names.handle(ref) for ref in {*who, *whom}}
    criteria, codes, starts = _criteria(list(zip(of, named, strict=True)))
    return KeptRatings(
        *_arrays(blobs, codes, starts),
        *(criteria, practical, tuple(known[ref] for ref in who), day),
        tuple(known[ref] for ref in whom),
    )


def _criteria(
    rows: list[tuple[str, str]],
) -> tuple[tuple[tuple[str, str, str], ...], list[int], list[int]]:
    """The criteria of all rows' rubrics and lists; codes of every list; where each row's begins.

    Few lists of criteria occur, so each is looked up once.
    """
    criteria: dict[tuple[str, str, str], int] = {}
    codes: list[int] = []
    start: dict[tuple[str, str], int] = {}
    for rubric, names in dict.fromkeys(rows):
        start[rubric, names] = len(codes)
        for kind, name in json.loads(names):
            codes.append(criteria.setdefault((rubric, kind, name), len(criteria)))
    return tuple(criteria), codes, [start[row] for row in rows]


def _arrays(
    blobs: Sequence[bytes], codes: list[int], starts: list[int]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Subject, sheet, criterion and score of every mark."""
    import numpy as np

    form = np.dtype([("subject", "<i8"), ("criterion", "<u2"), ("score", "<f8")])
    marks = np.frombuffer(b"".join(blobs), form)
    sheet = np.repeat(np.arange(len(blobs)), [len(blob) // form.itemsize for blob in blobs])
    places = np.array(starts, dtype=np.int64)[sheet] + marks["criterion"]
    return (
        marks["subject"].astype(np.int64),
        sheet.astype(np.int64),
        np.array(codes, dtype=np.int64)[places],
        marks["score"].astype(np.float64),
    )
