"""Records as devices send them: what can be read of a batch before any record is looked at."""

from __future__ import annotations

import json
import re
from typing import Any

from standfast.model.base import KEY

DEEPEST = 50
"""Levels of a batch; a record has five."""
TOO_DEEP = f"nested deeper than {DEEPEST} levels"


def records_in(body: bytes, most: int) -> list[dict[str, Any]]:
    """The records of a batch, at most so many; each has an id that can be read.

    Raises:
        ValueError: what is wrong with the batch as a whole.
    """
    try:
        sent = json.loads(body, parse_constant=_no_number)
    except RecursionError:
        raise ValueError(TOO_DEEP) from None
    if _deeper_than(DEEPEST, sent):
        raise ValueError(TOO_DEEP)
    records = sent.get("records") if isinstance(sent, dict) else None
    if not isinstance(records, list):
        raise ValueError('write {"records": [...]}')  # noqa: TRY004 - told to whoever sent it
    if len(records) > most:
        raise ValueError(f"{len(records)} records; send at most {most} at once")
    bad = [
        f"record {place}: no id that can be read"
        for place, one in enumerate(records)
        if not (isinstance(one, dict) and re.fullmatch(KEY, str(one.get("id"))))
    ]
    if bad:
        raise ValueError("; ".join(bad))
    return records


def _deeper_than(levels: int, value: object) -> bool:
    """Whether lists and objects stand in each other in more levels than that."""
    if isinstance(value, dict):
        value = list(value.values())
    if not isinstance(value, list):
        return False
    return not levels or any(_deeper_than(levels - 1, part) for part in value)


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is no number")
