"""The only place that prints: answers to stdout, remarks to stderr."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, redirect_stdout
from typing import Any

from standfast.problems import BadInput, Problem, Refused, StandfastError
from standfast.terminal import harmless, harmless_json

YES, NO, COULD_NOT = 0, 1, 2
"""Exit codes: done and yes; done and the answer is no; could not be done."""


def answer(words: str | Iterable[str], value: object, *, as_json: bool) -> None:
    """The answer, in words or as one JSON value; both say the same."""
    if as_json:
        sys.stdout.write(_as_json(value))
        return
    text = words if isinstance(words, str) else "\n".join(words)
    sys.stdout.write(harmless(text).rstrip("\n") + "\n")


def _as_json(value: object) -> str:
    return harmless_json(json.dumps(value, ensure_ascii=False, indent=2, default=str)) + "\n"


@contextmanager
def silenced() -> Iterator[None]:
    """Answers inside the block are not shown."""
    with redirect_stdout(io.StringIO()):
        yield


def remark(text: str) -> None:
    """Something about the work, not part of the answer."""
    sys.stderr.write(harmless(text).rstrip("\n") + "\n")


def failure(error: StandfastError, *, as_json: bool) -> int:
    """Says what stopped the command; gives the exit code."""
    if as_json:
        sys.stdout.write(_as_json(_failure_value(error)))
    else:
        sys.stderr.write(f"{harmless(str(error))}\n")
    return NO if isinstance(error, Refused) else COULD_NOT


def _failure_value(error: StandfastError) -> dict[str, Any]:
    if isinstance(error, BadInput):
        return {"error": "bad input", "problems": [problem_value(p) for p in error.problems]}
    if isinstance(error, Refused):
        return {"error": "refused", "what": error.what, "reasons": list(error.reasons)}
    return {"error": str(error)}


def problem_value(problem: Problem) -> dict[str, Any]:
    """A problem as JSON values."""
    return {
        "file": problem.place.file,
        "line": problem.place.line,
        "column": problem.place.column,
        "what": problem.what,
        "cure": problem.cure,
    }


def counted(number: int, thing: str) -> str:
    """1 file, 2 files, 3 syllabuses, 4 criteria."""
    if number != 1:
        thing = _PLURALS.get(thing) or f"{thing}{'es' if thing.endswith('s') else 's'}"
    return f"{number} {thing}"


_PLURALS = {"criterion": "criteria", "entry": "entries"}


def progress(what: str) -> Callable[[int, int], None]:
    """A function that shows `done of all` on stderr: a moving line on a terminal, else tenths."""
    last = -1

    def show(done: int, total: int) -> None:
        nonlocal last
        tenth = done * 10 // max(total, 1)
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{what}: {done} of {total}" + ("\n" if done == total else ""))
            sys.stderr.flush()
        elif tenth != last:
            sys.stderr.write(f"{what}: {done} of {total}\n")
        last = tenth

    return show


def table(rows: Sequence[Sequence[str]], head: Sequence[str], indent: str = "") -> list[str]:
    """Rows under a head, in columns as wide as they need to be."""
    widths = [max(_width(row[i]) for row in (head, *rows)) for i in range(len(head))]

    def line(row: Sequence[str]) -> str:
        cells = (
            cell + " " * (width - _width(cell)) for cell, width in zip(row, widths, strict=True)
        )
        return (indent + "  ".join(cells)).rstrip()

    return [line(head), line(["-" * width for width in widths]), *(line(row) for row in rows)]


def _width(text: str) -> int:
    """How many terminal columns the text takes (wide characters take two)."""
    if text.isascii():
        return len(text)
    import unicodedata

    wide = sum(unicodedata.east_asian_width(c) in "WF" for c in text)
    marks = sum(bool(unicodedata.combining(c)) for c in text)
    return len(text) + wide - marks
