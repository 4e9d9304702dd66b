"""Awards in the record book."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, and_, select, true

from standfast.model.award import Award, Ruling
from standfast.model.canonical import plain
from standfast.model.sheet import Correction
from standfast.problems import NotFound, Refused
from standfast.store.bodies import AwardGranted, AwardRuled
from standfast.store.difference import difference
from standfast.store.due import STANDS, stood
from standfast.store.journal import Entry, Stamp
from standfast.store.tables import awards, decisions, journal, rulings
from standfast.store.writing import Reading, Writing


@dataclass(frozen=True)
class KeptAward:
    """An award as it stands in the book."""

    award: Award
    entry: str
    """Id of its journal entry."""
    renewed_by: str | None
    """The award that continues it."""
    superseded_by: str | None
    """The award that corrects it."""


@dataclass(frozen=True)
class KeptRuling:
    """What was ruled of an award, as it stands in the book."""

    ruling: Ruling
    entry: str
    """Id of its journal entry."""
    seq: int


def put_award(
    writing: Writing, award: Award, stamp: Stamp, corrects: Correction | None = None
) -> Entry:
    """Enters an award; `corrects.of` is the award it takes the place of.

    Raises:
        NotFound: the candidate, certifier or decision, or the award it renews or corrects.
        Refused: the number is taken, the id has other content, or the award it renews or
            corrects was renewed or corrected already.
    """
    body = AwardGranted(
        award=award,
        corrects=corrects.of if corrects else None,
        because=corrects.because if corrects else None,
    )
    known = find_award(writing, award.id)
    if known is not None:
        return _same_or_refused(writing, known, award)
    _check(writing, award)
    before = _last(writing, corrects.of, "correct") if corrects else None
    if award.renews is not None:
        _last(writing, award.renews, "renew", but_by=corrects.of if corrects else None)
    opaque = writing.opaque(body)
    entry = before.entry if before else None
    return writing.write(stamp, opaque, about=opaque.award.candidate, supersedes=entry)


def _same_or_refused(writing: Writing, known: KeptAward, offered: Award) -> Entry:
    if plain(known.award) != plain(offered):
        raise Refused(
            f"award {offered.id} is in the record book with other content",
            difference(plain(known.award), plain(offered)),
        )
    query = select(journal).where(journal.c.id == known.entry)
    return Entry(*writing.conn.execute(query).one())


def _check(reading: Reading, award: Award) -> None:
    query = select(decisions.c.entry).where(decisions.c.entry == award.decision)
    if reading.conn.scalar(query) is None:
        raise NotFound("decision in the record book", award.decision, ())
    taken = reading.conn.scalar(select(awards.c.id).where(awards.c.number == award.number))
    if taken is not None:
        raise Refused(f"number {award.number} is taken, by award {taken}; take the next one")


def _last(reading: Reading, award: str, what: str, but_by: str | None = None) -> KeptAward:
    """The award to renew or correct, if no other (`but_by` apart) has done so before."""
    before = find_award(reading, award)
    if before is None:
        raise NotFound(f"award to {what}", award, ())
    later = before.superseded_by or (before.renewed_by if what == "renew" else None)
    if later not in {None, but_by}:
        done = "corrected" if before.superseded_by else "renewed"
        raise Refused(f"award {before.award.number} was {done} already, by award {later}")
    return before


def find_award(reading: Reading, award: str) -> KeptAward | None:
    """The award of that id or number, or None; a number may be typed in small letters."""
    wanted = award.strip()
    found = _kept(reading, (awards.c.id == wanted) | (awards.c.number == wanted))
    found = found or _kept(reading, awards.c.number == wanted.upper())
    return found[0] if found else None


def find_awards(
    reading: Reading,
    candidate: str | None = None,
    *,
    past: bool = False,
    on: date | None = None,
) -> tuple[KeptAward, ...]:
    """Awards in the order in which they were granted, of a candidate or all.

    Those that stood on the day `on`; without a day, those in whose place none has come; with
    `past`, all that ever were granted.
    """
    wanted: list[ColumnElement[bool]] = []
    if not past:
        wanted.append(STANDS if on is None else stood(on))
    if candidate is not None:
        wanted.append(awards.c.candidate == reading.names.ref(candidate))
    return _kept(reading, and_(true(), *wanted))


def put_ruling(writing: Writing, ruling: Ruling, stamp: Stamp) -> Entry:
    """Enters what was ruled of an award.

    Raises:
        NotFound: no such award, or nobody of that slug rules.
    """
    known = find_award(writing, ruling.award)
    if known is None:
        raise NotFound("award to rule on", ruling.award, ())
    opaque = writing.opaque(AwardRuled(ruling=ruling))
    return writing.write(stamp, opaque, about=writing.names.ref(known.award.candidate))


def find_rulings(reading: Reading, award: str) -> tuple[Ruling, ...]:
    """What was ruled of the award of that id, in the order of the journal."""
    return tuple(one.ruling for one in find_kept_rulings(reading, award))


def find_kept_rulings(reading: Reading, award: str) -> tuple[KeptRuling, ...]:
    """What was ruled of the award of that id, with its entries, in the order of the journal."""
    query = select(rulings.c.seq).where(rulings.c.award == award)
    return tuple(
        KeptRuling(body.ruling, entry.id, entry.seq)
        for entry, body in reading.bodies(AwardRuled, query)
    )


def find_ruling(reading: Reading, entry: str) -> Ruling | None:
    """What was ruled in that entry, or None."""
    query = select(rulings.c.seq).where(rulings.c.entry == entry)
    return next((body.ruling for _, body in reading.bodies(AwardRuled, query)), None)


def _kept(reading: Reading, wanted: ColumnElement[bool]) -> tuple[KeptAward, ...]:
    query = select(awards.c.seq, awards.c.renewed_by, awards.c.superseded_by).where(wanted)
    later = {row.seq: row for row in reading.conn.execute(query)}
    return tuple(
        KeptAward(body.award, entry.id, later[entry.seq].renewed_by, later[entry.seq].superseded_by)
        for entry, body in reading.bodies(AwardGranted, select(awards.c.seq).where(wanted))
    )
