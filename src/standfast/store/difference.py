"""What differs between what the book has and what it is offered, in lines a person can read."""

from __future__ import annotations

import difflib
import json

_AROUND = 2  # unchanged lines shown around each change
_MOST_LINES = 60


def difference(kept: object, offered: object) -> tuple[str, ...]:
    """The lines that differ between two JSON values, `-` as kept and `+` as offered.

    Long differences are cut after 60 lines, and say so.
    """
    found = difflib.unified_diff(
        _lines(kept), _lines(offered), "kept", "offered", lineterm="", n=_AROUND
    )
    lines = tuple(found)
    if len(lines) > _MOST_LINES:
        return (*lines[:_MOST_LINES], f"... and {len(lines) - _MOST_LINES} more lines")
    return lines


def _lines(value: object) -> list[str]:
    return json.dumps(value, indent=1, ensure_ascii=False, sort_keys=True).splitlines()
