"""What a sheet marks, packed when it is taken in, so that a million marks are read by copying.

18 bytes for each mark, all marks of a sheet in one row of the table `ratings`.  The journal stays
the truth, and the table is made anew from it like every other.

A *subject* is the smallest thing that two assessors can mark alike or not:

    attempts    the n-th try of a student at a skill in a practical; yes 1, no 0
    clearances  the n-th choice for a student and skill in a practical; let go 1, held back 0
    samples     a look, by its number, in a practical; the share of the waiting who were busy
    rating      the practical; the level

What was not seen is missing.  A choice is compared as it was recorded: whether it was right follows
from syllabus and log, and is no assessor's opinion.  The busy share stands in place of the idle one
so that more is better everywhere but for choices.  Incidents are no marks: only one of two sheets
may have been there to see.
"""

from __future__ import annotations

import json
import struct
from collections import Counter
from collections.abc import Iterable, Iterator
from hashlib import blake2b
from typing import Any

JSON = dict[str, Any]
Mark = tuple[str, str, str, float]
"""Kind and name of the criterion, what was marked inside the practical, the score."""

_FIELDS = struct.Struct("<qHd")
"""Subject, place of the criterion in the row's list, score."""


def packed(sheet: JSON) -> tuple[str, bytes]:
    """The criteria that a sheet marks, as JSON, and its marks: columns of a row of `ratings`.

    Subjects are 63 bits of a hash, the same on every sheet of the practical.  Among a million
    subjects the chance that two are taken for one is below one in ten million.
    """
    # Sorted, since a body has its keys in another order when written than when read back.
    marks: dict[tuple[str, str, str], float] = {}
    for kind, criterion, what, score in sorted(_marks(sheet)):
        marks.setdefault((kind, criterion, what), score)  # of two the lower, as in joining
    criteria = sorted({(kind, criterion) for kind, criterion, _ in marks})
    place = {name: number for number, name in enumerate(criteria)}
    found = (
        _FIELDS.pack(_subject(sheet["practical"], kind, what), place[kind, criterion], score)
        for (kind, criterion, what), score in marks.items()
    )
    return json.dumps(criteria, separators=(",", ":")), b"".join(found)


def unpacked(marks: bytes) -> Iterator[tuple[int, int, float]]:
    """Subject, place of the criterion in the row's list and score of each mark."""
    return _FIELDS.iter_unpack(marks)


def _subject(practical: str, kind: str, what: str) -> int:
    text = f"{practical}\n{kind}\n{what}".encode()
    return int.from_bytes(blake2b(text, digest_size=8).digest(), "little") >> 1


def _marks(sheet: JSON) -> Iterator[Mark]:
    for what, attempt in _numbered(sheet.get("attempts", ())):
        for criterion, answer in attempt["answers"].items():
            if answer != "unseen":
                yield "attempts", criterion, what, float(answer == "yes")
    for what, choice in _numbered(sheet.get("clearances", ())):
        yield "clearances", "", what, float(choice["choice"] == "let-go")
    for sample in sheet.get("samples", ()):
        if sample.get("waiting") and sample.get("idle") is not None:
            idle = min(sample["idle"], sample["waiting"]) / sample["waiting"]
            yield "samples", "", str(sample["look"]), 1.0 - idle
    for rating in sheet.get("ratings", ()):
        if rating.get("level") is not None:
            yield "rating", rating["criterion"], rating["criterion"], float(rating["level"])


def _numbered(records: Iterable[JSON]) -> Iterator[tuple[str, JSON]]:
    """Each record with its student, skill, and the how-manieth of these it is.

    Two people never press at the same second, so that sheets pair by number, as in joining.
    """
    nth: Counter[tuple[str, str]] = Counter()
    for record in sorted(records, key=lambda record: record["at"]):
        pair = (record["student"], record["skill"])
        nth[pair] += 1
        yield f"{pair[0]} {pair[1]} {nth[pair]}", record
