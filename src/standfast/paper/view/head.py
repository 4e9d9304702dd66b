"""What the printed head of the record book says."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from standfast.model.school import School
from standfast.paper.view.words import INVENTED, cautions, day

LETTERS, GROUPS = 4, 4
"""So many letters in a group of the root, and groups in a line: 64 letters in four lines."""
LONGEST = 100
"""Letters in a line of the signed head."""


@dataclass(frozen=True)
class HeadFacts:
    """What was signed, and by which key."""

    size: int
    """Number of entries."""
    root: str
    """64 letters, hexadecimal."""
    at: datetime
    """With its offset."""
    issuer: str
    """The school's address."""
    fingerprint: str
    """Of the key that signed."""
    signed: str
    """The signed head itself, canonical JSON."""
    file: str
    """The name of the file that holds the same."""


@dataclass(frozen=True)
class HeadView:
    """The head of the record book, in words."""

    title: str
    language: str
    paper: str
    school: str
    address: str
    on: str
    at: str
    entries: str
    root: tuple[tuple[str, ...], ...]
    """Lines of groups of letters."""
    issuer: str
    fingerprint: str
    file: str
    signed: tuple[str, ...]
    """Lines that make one text, put together."""
    caution: tuple[str, ...]
    invented: str


def head_view(facts: HeadFacts, school: School) -> HeadView:
    """What the page of a signed head says; day and time are those where the school is."""
    there = facts.at.astimezone(ZoneInfo(school.zone))
    return HeadView(
        title=f"Head of the record book, {day(there.date())}",
        language=school.language,
        paper=school.paper,
        school=school.name,
        address=school.address or "",
        on=day(there.date()),
        at=f"{there:%H:%M:%S}, {school.zone}",
        entries=str(facts.size),
        root=in_lines(facts.root),
        issuer=facts.issuer,
        fingerprint=facts.fingerprint,
        file=facts.file,
        signed=unhyphenated(facts.signed),
        caution=cautions(school),
        invented=INVENTED if school.invented else "",
    )


def in_lines(root: str) -> tuple[tuple[str, ...], ...]:
    """The root as people compare it: line by line, group by group.

    >>> in_lines("0123456789abcdef" * 2)
    (('0123', '4567', '89ab', 'cdef'), ('0123', '4567', '89ab', 'cdef'))
    """
    groups = [root[at : at + LETTERS] for at in range(0, len(root), LETTERS)]
    return tuple(tuple(groups[at : at + GROUPS]) for at in range(0, len(groups), GROUPS))


def unhyphenated(text: str) -> tuple[str, ...]:
    """The text in lines, none of which ends with a hyphen: whoever copies it would lose that.

    >>> unhyphenated("a" * 98 + "--b")[1]
    '--b'
    """
    lines = []
    while len(text) > LONGEST:
        end = len(text[:LONGEST].rstrip("-")) or LONGEST
        lines.append(text[:end])
        text = text[end:]
    return (*lines, text)
