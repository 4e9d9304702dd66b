"""The record book as tables that people read: for a spreadsheet, beside the files of an export."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.awards import how_it_stands
from standfast.desk.copying import Progress
from standfast.desk.due_files import CAUTION
from standfast.desk.opening import Desk
from standfast.desk.records import print_record

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

ABOUT = "about.txt"


def write_tables(desk: Desk, folder: Path) -> Iterator[Path]:
    """Writes the tables into `tables/`, what all files are into `about.txt`; gives each file.

    Raises:
        StandfastError: one cannot be written.
    """
    from standfast.files.export import write_table

    (folder / "tables").mkdir()
    for name, (head, rows) in _TABLES.items():
        file = folder / "tables" / f"{name}.csv"
        write_table(file, head, list(rows(desk)))
        yield file
    about = folder / ABOUT
    about.write_text(_about(desk), "utf-8")
    yield about


def print_records(desk: Desk, folder: Path, progress: Progress) -> Iterator[Path]:
    """Writes the competency record of everybody who was scored, as PDF, into `records/`.

    Raises:
        StandfastError: one cannot be written.
        PaperError: one cannot be drawn.
    """
    scored = [person.id for person in desk.book.people() if desk.book.sheets(person.id)]
    for number, who in enumerate(scored, start=1):
        yield print_record(desk, who, folder / "records")
        progress(number, len(scored))


def _people(desk: Desk) -> Iterator[Sequence[object]]:
    for one in desk.book.people():
        yield one.id, one.name, one.contact or "", one.site or ""


def _documents(desk: Desk) -> Iterator[Sequence[object]]:
    for one in desk.book.people():
        for paper in one.documents:
            yield one.id, one.name, paper.document, paper.issued, paper.last_day


def _practicals(desk: Desk) -> Iterator[Sequence[object]]:
    names = _names(desk)
    for kept in desk.book.sheets(superseded=True):
        sheet = kept.sheet
        whose = (sheet.candidate, names(sheet.candidate), sheet.assessor, names(sheet.assessor))
        what = (sheet.rubric, sheet.rubric_version, sheet.site or "", len(sheet.students))
        yield sheet.practical, sheet.on, *whose, *what, sheet.id, kept.superseded_by or ""


def _decisions(desk: Desk) -> Iterator[Sequence[object]]:
    names = _names(desk)
    for kept in desk.book.decisions(superseded=True):
        made = kept.decision
        why = "; ".join(reason.says for reason in made.reasons)
        whose = (made.candidate, names(made.candidate))
        under = (made.rubric.id, made.rubric.version)
        yield made.on, *whose, *under, made.outcome, why, kept.entry, CAUTION


def _awards(desk: Desk) -> Iterator[Sequence[object]]:
    names = _names(desk)
    standing = {one.award.id for one in desk.book.awards(on=desk.today)}
    for kept in desk.book.awards(past=True):
        award, dates = kept.award, kept.award.dates
        state = how_it_stands(desk, award).state if award.id in standing else "renewed or corrected"
        days = (dates.first_day, dates.last_day, dates.refresher_due or "", dates.grace_until or "")
        whose = (award.candidate, names(award.candidate))
        what = (award.scope.title, award.rubric.id, award.rubric.version)
        by = names(award.certifier)
        yield award.number, *whose, *what, award.granted, *days, state, desk.today, by, CAUTION


def _names(desk: Desk) -> Callable[[str], str]:
    known = {one.id: one.name for one in desk.book.people()}
    return lambda slug: known.get(slug, slug)


_TABLES: dict[str, tuple[tuple[str, ...], Callable[[Desk], Iterator[Sequence[object]]]]] = {
    "people": (("person", "name", "contact", "site"), _people),
    "documents": (("person", "name", "document", "issued", "last day"), _documents),
    "practicals": (
        (
            *("practical", "day", "candidate", "name", "assessor", "assessor's name", "rubric"),
            *("version", "site", "students", "sheet", "corrected by sheet"),
        ),
        _practicals,
    ),
    "decisions": (
        (
            *("day", "candidate", "name", "rubric", "version", "outcome", "reasons", "entry"),
            "caution",
        ),
        _decisions,
    ),
    "awards": (
        (
            *("certificate", "holder", "name", "scope", "rubric", "version", "granted"),
            *("first day", "last day", "refresher due", "grace until", "standing", "as of"),
            *("certifier", "caution"),
        ),
        _awards,
    ),
}


def _about(desk: Desk) -> str:
    from standfast.paper.view.words import cautions

    return (
        _ABOUT.format(school=desk.school.name, day=desk.today)
        + "\n".join(cautions(desk.school))
        + "\n"
    )


_ABOUT = """\
The record book of {school}, as it stood on {day}.

manifest.json  what is here, with the SHA-256 of each file and the root of the tree
book/          the record book as JSON, one row a line; 'standfast book restore' reads it back
  journal.jsonl  every entry, oldest first.  The SHA-256 of a zero byte and a line without its end
                 is the entry's leaf in the tree of RFC 9162.
  identity.jsonl who is meant by each opaque id in the journal
school/        the school's settings, rubrics and templates
tables/        for a spreadsheet; nothing reads them back
records/       the competency records as PDF, when they were asked for

Here are names, contacts, what people scored and decided, and the hashes of passwords: keep it as
you keep the record book itself.  The school's keys are not here.

"""
