"""Score sheets in the record book."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import Select, bindparam, select

from standfast.model.base import Reference
from standfast.model.canonical import plain
from standfast.model.sheet import Sheet
from standfast.problems import NotFound, Refused
from standfast.store import texts as kept_texts
from standfast.store.bodies import SheetTaken
from standfast.store.difference import difference
from standfast.store.journal import Entry, Stamp
from standfast.store.tables import journal, sheets, texts
from standfast.store.writing import Reading, Writing


@dataclass(frozen=True)
class KeptSheet:
    """A sheet as it stands in the book."""

    sheet: Sheet
    rubric: Reference
    """The exact text that it was scored under."""
    syllabus: Reference
    entry: str
    """Id of its journal entry."""
    superseded_by: str | None
    """Id of the sheet that corrects it."""


def put_sheet(
    writing: Writing, sheet: Sheet, rubric: Reference, syllabus: Reference, stamp: Stamp
) -> Entry:
    """Takes a sheet in; the same sheet again gives the entry that has it.

    Raises:
        NotFound: candidate or assessor, one of the texts, or the sheet it corrects.
        Refused: a sheet of this id with other content, or scored under other content of a
            version than sheets before it; a correction of a sheet that was corrected already.
    """
    body = SheetTaken(
        sheet=sheet,
        rubric=rubric,
        syllabus=syllabus,
        because=sheet.corrects.because if sheet.corrects else None,
    )
    known = find_sheet(writing, sheet.id)
    if known is not None:
        return _same_or_refused(writing, known, body)
    _check_text(writing, "rubric", rubric, (sheet.rubric, sheet.rubric_version))
    _check_text(writing, "syllabus", syllabus, (syllabus.id, syllabus.version))
    before = _corrected(writing, sheet)
    opaque = writing.opaque(body)
    return writing.write(stamp, opaque, about=opaque.sheet.candidate, supersedes=before)


def _same_or_refused(writing: Writing, known: KeptSheet, offered: SheetTaken) -> Entry:
    kept = SheetTaken(
        sheet=known.sheet, rubric=known.rubric, syllabus=known.syllabus, because=offered.because
    )
    if plain(kept) == plain(offered):
        query = select(journal).where(journal.c.id == known.entry)
        return Entry(*writing.conn.execute(query).one())
    raise Refused(
        f"sheet {known.sheet.id} is in the record book with other content; to correct it, send a"
        " new sheet that names it under 'corrects'",
        difference(plain(kept), plain(offered)),
    )


def _check_text(reading: Reading, kind: str, offered: Reference, wanted: tuple[str, int]) -> None:
    name = f"{kind} {offered.id} version {offered.version}"
    if (offered.id, offered.version) != wanted:
        raise Refused(
            f"the sheet was scored under {kind} {wanted[0]} version {wanted[1]}, not {name}"
        )
    row = reading.conn.execute(_TEXT, {"hash": offered.hash}).one_or_none()
    if row is None or (row.kind, row.id, row.version) != (kind, *wanted):
        raise NotFound(f"kept text of {name}", offered.hash[:12], ())
    used = kept_texts.used_hash(reading, kind, *wanted)
    if used not in {None, offered.hash}:
        raise Refused(f"earlier sheets were scored under another text of {name}; raise its version")


_TEXT = select(texts).where(texts.c.hash == bindparam("hash"))


def _corrected(reading: Reading, sheet: Sheet) -> str | None:
    """The entry of the sheet that this one corrects."""
    if sheet.corrects is None:
        return None
    before = find_sheet(reading, sheet.corrects.of)
    if before is None:
        raise NotFound("sheet to correct", sheet.corrects.of, ())
    if before.superseded_by is not None:
        raise Refused(
            f"sheet {before.sheet.id} was corrected already, by sheet {before.superseded_by};"
            " correct that one"
        )
    who = (sheet.candidate, sheet.assessor, sheet.practical)
    if who != (before.sheet.candidate, before.sheet.assessor, before.sheet.practical):
        raise Refused(
            f"a correction is the same assessor's sheet of the same practical and candidate;"
            f" sheet {before.sheet.id} is not"
        )
    return before.entry


def find_sheet(reading: Reading, sheet: str) -> KeptSheet | None:
    """The sheet of that id, or None."""
    return next(iter(_kept(reading, select(sheets.c.seq).where(sheets.c.id == sheet))), None)


def find_sheets(
    reading: Reading,
    candidate: str | None = None,
    rubric: str | None = None,
    *,
    practical: str | None = None,
    superseded: bool = False,
) -> tuple[KeptSheet, ...]:
    """Sheets in the order in which they were taken in: a candidate's, a rubric's, a practical's.

    Sheets that were corrected are left out unless asked for.
    """
    query = select(sheets.c.seq)
    if candidate is not None:
        query = query.where(sheets.c.candidate == reading.names.ref(candidate))
    if rubric is not None:
        query = query.where(sheets.c.rubric == rubric)
    if practical is not None:
        query = query.where(sheets.c.practical == practical)
    if not superseded:
        query = query.where(sheets.c.superseded_by.is_(None))
    return tuple(_kept(reading, query))


def find_keys(reading: Reading) -> dict[str, tuple[str, str]]:
    """Practical and assessor of every sheet, by its id, also of those that were corrected."""
    rows = reading.conn.execute(select(sheets.c.id, sheets.c.practical, sheets.c.assessor)).all()
    known = {ref: reading.names.handle(ref) for ref in {row.assessor for row in rows}}
    return {row.id: (row.practical, known[row.assessor]) for row in rows}


def _kept(reading: Reading, numbers: Select[int]) -> Iterator[KeptSheet]:
    found = list(reading.bodies(SheetTaken, numbers))
    # By what was asked for: no index is by the number, so to look for those reads every row.
    query = numbers.with_only_columns(sheets.c.seq, sheets.c.superseded_by)
    later = {row.seq: row.superseded_by for row in reading.conn.execute(query)}
    for entry, body in found:
        yield KeptSheet(body.sheet, body.rubric, body.syllabus, entry.id, later[entry.seq])
