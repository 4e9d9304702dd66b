"""How Standfast says what is wrong, and where.

Three kinds, kept apart.  A *reason* is part of an answer and lives in `standfast.model`.
A *problem* is something wrong in what a person wrote: collected, all of them, each with its
place, what is wrong and the cure.  An *exception* is for what stops the caller; all of ours
descend from `StandfastError`, so that each face turns them into words in one place.

    StandfastError
        BadInput           what was handed in has faults; carries every one of them
        Refused            understood, and the answer is no; carries the reasons
        NotFound           no such person, rubric, sheet or award; names the nearest
        RecordBookError    the record book cannot be read, written or trusted
        PaperError         a page cannot be made as it must be
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

Path = tuple[str | int, ...]
"""A way into a document: keys and list positions, outermost first."""


@dataclass(frozen=True, order=True)
class Place:
    """Where in a file something stands; line and column count from 1, 0 when not known."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        if not self.line:
            return self.file
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True)
class Fault:
    """Something wrong at a path inside a document, before anyone knows the file's lines."""

    path: Path
    what: str
    cure: str

    def __str__(self) -> str:
        where = ".".join(str(step) for step in self.path)
        return f"{where}: {self.what}; {self.cure}" if where else f"{self.what}; {self.cure}"


@dataclass(frozen=True, order=True)
class Problem:
    """Something wrong in what a person wrote: where, what, and what mends it.

    `what` gives the value and the limit, in lower case and without a final stop; `cure`
    says what to type instead.
    """

    place: Place
    what: str
    cure: str

    def __str__(self) -> str:
        return f"{self.place}: {self.what}; {self.cure}"


class StandfastError(Exception):
    """What stops the caller.  Its text is for the person at the keyboard."""


class BadInput(StandfastError):  # noqa: N818 - names what it is, not that it is an error
    """What was handed in has faults; nothing of it was kept.

    `problems` has every fault found, in the order of the file.
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class Refused(StandfastError):  # noqa: N818
    """Understood, and the answer is no.  `reasons` has one sentence each."""

    def __init__(self, what: str, reasons: Iterable[str] = ()) -> None:
        self.what = what
        self.reasons = tuple(reasons)
        super().__init__("\n".join([what, *(f"  {reason}" for reason in self.reasons)]))


class NotFound(StandfastError):  # noqa: N818
    """There is no such thing; the text names the nearest known one."""

    def __init__(self, kind: str, wanted: str, known: Iterable[str]) -> None:
        self.kind, self.wanted = kind, wanted
        super().__init__(f"no {kind} '{wanted}'; {nearest(wanted, known)}")


class RecordBookError(StandfastError):
    """The record book cannot be read, written or trusted.

    `told` is for whoever asks over the web: it names no file, no address and no role.
    """

    def __init__(self, words: str, told: str = "") -> None:
        self.told = told or "whoever keeps the server finds in its output what is wrong"
        super().__init__(words)


class MaybeKept(RecordBookError):  # noqa: N818 - what it is, not that it is an error
    """The end of a transaction was lost: nobody knows whether what was written is kept."""


class PaperError(StandfastError):
    """A page cannot be made as it must be: a font, a glyph or a value is missing."""


def meant(wanted: str, known: Iterable[str]) -> str:
    """Which known name may have been meant, as a question; empty when none is near.

    >>> meant("cretirion", ["criterion", "title"])
    "did you mean 'criterion'?"
    """
    close = difflib.get_close_matches(wanted, sorted(set(known)), n=1, cutoff=0.6)
    return f"did you mean '{close[0]}'?" if close else ""


def nearest(wanted: str, known: Iterable[str]) -> str:
    """The cure for a wrong name: the nearest known one, or the list when none is near.

    >>> nearest("cretirion", ["criterion", "title"])
    "did you mean 'criterion'?"
    >>> nearest("x", ["b", "a"])
    'known: a, b'
    """
    names = sorted(set(known))
    if close := meant(wanted, names):
        return close
    if not names:
        return "there are none yet"
    shown = ", ".join(names[:12])
    return f"known: {shown}{', ...' if len(names) > 12 else ''}"  # noqa: PLR2004 - a line's worth
