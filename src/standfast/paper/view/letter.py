"""What a letter to a person says of what falls due."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from standfast.model.school import School
from standfast.paper.view.words import INVENTED, cautions, day, in_words


@dataclass(frozen=True)
class LetterLine:
    """One thing to do."""

    by: str
    what: str
    award: str
    certificate: str
    to_do: str


@dataclass(frozen=True)
class LetterView:
    """A letter, in words."""

    title: str
    language: str
    paper: str
    school: str
    address: str
    name: str
    made_on: str
    lines: tuple[LetterLine, ...]
    """About awards."""
    late: bool
    """Whether an award is late: then the letter says that nobody teaches meanwhile."""
    approvals: tuple[LetterLine, ...]
    """About approvals to score and to certify."""
    approval_late: bool
    """Whether an approval is late: then it says that nobody scores or certifies meanwhile."""
    check: str
    caution: tuple[str, ...]
    invented: str


def letter_view(
    name: str, lines: Iterable[tuple[date, str, str, str, str]], on: date, school: School
) -> LetterView:
    """What the letter to that person says; each line as day, what, award, certificate, to do.

    A line without a certificate is about an approval.
    """
    written = tuple(
        LetterLine(day(by), what, award, certificate, in_words(to_do))
        for by, what, award, certificate, to_do in lines
    )
    return LetterView(
        title=f"What falls due for {name}",
        language=school.language,
        paper=school.paper,
        school=school.name,
        address=school.address or "",
        name=name,
        made_on=day(on),
        lines=tuple(line for line in written if line.certificate),
        late=any(line.what == "late" for line in written),
        approvals=tuple(line for line in written if not line.certificate),
        approval_late=any(line.what == "approval late" for line in written),
        check=school.check_address or "",
        caution=cautions(school),
        invented=INVENTED if school.invented else "",
    )
