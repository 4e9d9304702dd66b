"""What falls due: in a quarter of the school's year, or in the days ahead."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Literal

from standfast.desk.awards import documents_of, grace_limit
from standfast.desk.honouring import honoured_of, newest_text
from standfast.desk.opening import Desk
from standfast.engine.approvals import ApprovalDue, ApprovalWhat, approvals_due
from standfast.engine.dates import Span
from standfast.engine.due import Due, due_between
from standfast.engine.due import What as AwardWhat
from standfast.engine.quarters import Quarter
from standfast.model.award import Award, Ruling
from standfast.model.people import Person
from standfast.problems import NotFound, StandfastError

if TYPE_CHECKING:
    from standfast.store.transitions import KeptTransition

What = AwardWhat | ApprovalWhat

MANY: dict[What, str] = {
    "refresher": "refreshers",
    "award ends": "awards end",
    "document ends": "documents end",
    "version ends": "versions end",
    "approval ends": "approvals end",
    "reference practical": "reference practicals",
    "approval late": "approvals late",
}
"""How several of them are called, where it is otherwise."""
Role = Literal["holder", "assessor", "certifier"]


@dataclass(frozen=True)
class Asked:
    """Which due list is wanted: this quarter's when nothing is said."""

    quarter: str | None = None
    ahead: str | None = None
    """So many days, weeks or months from the desk's day on: 90d, 12w, 3m."""
    site: str | None = None
    rubric: str | None = None


@dataclass(frozen=True, order=True)
class Row:
    """One thing that falls due, with what a person needs to see of it."""

    by: date
    what: What
    person: str
    name: str
    site: str
    role: Role
    """As what it concerns the person: holder of an award, or approved to score or certify."""
    rubric: str
    award: str
    """What the award permits; empty for an approval, as is the certificate's number."""
    certificate: str
    to_do: str
    about: str
    """The award, or which approval, in words."""
    document: str = ""
    """Which one ends."""


@dataclass(frozen=True)
class DueList:
    """What falls due between two days, both included; soonest first."""

    title: str
    first: date
    last: date
    rows: tuple[Row, ...]

    @property
    def groups(self) -> tuple[tuple[What, tuple[Row, ...]], ...]:
        """The rows by what is to be done, the group with the soonest day first."""
        kinds = dict.fromkeys(row.what for row in self.rows)
        return tuple((kind, tuple(r for r in self.rows if r.what == kind)) for kind in kinds)

    @property
    def counts(self) -> str:
        """How many of each, in words."""
        each = ((len(rows), what) for what, rows in self.groups)
        words = (f"{n} {what if n == 1 else MANY.get(what, what)}" for n, what in each)
        return ", ".join(words) or "nothing due"


def due(desk: Desk, asked: Asked) -> DueList:
    """What falls due, and what is late already.

    Raises:
        StandfastError: no such quarter or span, or both at once.
        NotFound: nobody belongs to that site, or nobody has an award or approval under that rubric.
    """
    title, first, last = _span(desk, asked)
    check_known("site", asked.site, desk.book.sites)
    check_known("rubric with an award or approval", asked.rubric, lambda: _rubrics(desk))
    return DueList(title, first, last, rows_between(desk, asked, first, last))


def rows_between(desk: Desk, asked: Asked, first: date, last: date) -> tuple[Row, ...]:
    """What falls due from `first` to `last`, and what is late already; soonest first."""
    rows = [*_of_awards(desk, asked, first, last), *_of_approvals(desk, asked, first, last)]
    return tuple(sorted(rows))


def _rubrics(desk: Desk) -> set[str]:
    given = (one for p in desk.book.approved() for one in (*p.scores, *p.certifies))
    return {*desk.book.rubrics_held(), *(approval.rubric for approval in given)}


def _of_awards(desk: Desk, asked: Asked, first: date, last: date) -> Iterator[Row]:
    from standfast.store.due import Days

    known = desk.book.transitions()
    for held in desk.book.held(Days(first, last, desk.today), asked.site, asked.rubric):
        for item in due_of(desk, held.award, held.holder, held.rulings, first, last, known):
            yield _award_row(item, held.award, held.holder)


def due_of(
    desk: Desk,
    award: Award,
    holder: Person,
    rulings: Sequence[Ruling],
    first: date,
    last: date,
    known: Sequence[KeptTransition] | None = None,
) -> list[Due]:
    """What one award needs in those days, by all that the desk knows of it.

    `known` are the book's transitions, for who asks about many awards.
    """
    documents, version = documents_of(award, holder, desk.today), honoured_of(desk, award, known)
    found = due_between(award, documents, first, last, desk.today, rulings, version)
    return [_with_limit(desk, award, item) if item.what == "in grace" else item for item in found]


def _with_limit(desk: Desk, award: Award, item: Due) -> Due:
    """The same, with what holds in the time of grace."""
    limit = grace_limit(desk, award)
    return replace(item, says=f"{item.says}; until then: {limit}") if limit else item


def _award_row(item: Due, award: Award, holder: Person) -> Row:
    return Row(
        item.day,
        item.what,
        holder.id,
        holder.name,
        holder.site or "",
        "holder",
        award.rubric.id,
        item.scope,
        item.number,
        item.says,
        item.scope,
        item.document,
    )


def _of_approvals(desk: Desk, asked: Asked, first: date, last: date) -> Iterator[Row]:
    references = desk.book.references()
    every = desk.school.reference_every
    titles: dict[str, str] = {}
    for who in desk.book.approved():
        if asked.site not in {None, who.site}:
            continue
        for item in approvals_due(who, references, every, first, last, desk.today):
            if asked.rubric in {None, item.rubric}:
                title = titles.setdefault(item.rubric, rubric_title(desk, item.rubric))
                yield _approval_row(item, who, title)


def rubric_title(desk: Desk, rubric: str) -> str:
    """The rubric's title as the book has it last; its short name when no text is kept yet."""
    text = newest_text(desk, rubric)
    return text.title if text else rubric


def _approval_row(item: ApprovalDue, who: Person, title: str) -> Row:
    verb = "score" if item.role == "assessor" else "certify"
    return Row(
        item.day,
        item.what,
        who.id,
        who.name,
        who.site or "",
        item.role,
        item.rubric,
        "",
        "",
        item.says,
        f"approval to {verb}: {title}",
    )


def check_known(kind: str, wanted: str | None, known: Callable[[], Iterable[str]]) -> None:
    """Returns when nothing is wanted, or one of those that are known.

    Raises:
        NotFound: it is none of them.
    """
    if wanted is not None and wanted not in (names := sorted(known())):
        raise NotFound(kind, wanted, names)


_AHEAD = re.compile(r"(\d{1,4}) ?([dwm])", re.IGNORECASE)


def _span(desk: Desk, asked: Asked) -> tuple[str, date, date]:
    """Title, first day and last day."""
    starts, named_by = desk.school.year_starts, desk.school.year_named_by
    if asked.ahead is None:
        quarter = (
            Quarter.parse(asked.quarter, starts, named_by)
            if asked.quarter
            else Quarter.of(desk.today, starts, named_by)
        )
        return str(quarter), quarter.first, quarter.last
    if asked.quarter is not None:
        raise StandfastError("a quarter and the days ahead are two lists; ask for one of them")
    read = _AHEAD.fullmatch(asked.ahead.strip())
    if not read or not int(read[1]):
        raise StandfastError(f"'{asked.ahead}' is no span; write 90d, 12w or 3m")
    last = Span.of(f"P{read[1]}{read[2].upper()}").after(desk.today)
    words = {"d": "days", "w": "weeks", "m": "months"}[read[2].lower()]
    return f"The next {int(read[1])} {words}", desk.today, last


COLUMNS = (
    *("by", "what", "person", "name", "site", "role"),
    *("rubric", "award", "certificate", "to do"),
)
"""Of a table of the list, and with underscores of its JSON; a row of them is `cells`."""


def cells(row: Row) -> tuple[date | str, ...]:
    """What a table says of the row, in the order of `COLUMNS`."""
    first = (row.by, row.what, row.person, row.name, row.site, row.role)
    return (*first, row.rubric, row.award, row.certificate, row.to_do)
