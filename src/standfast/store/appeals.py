"""Appeals and complaints in the record book, each with its answer."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Select, select

from standfast.model.appeal import Answer, Appeal
from standfast.model.canonical import plain
from standfast.problems import NotFound, Refused
from standfast.store.bodies import AppealAnswered, AppealFiled
from standfast.store.difference import difference
from standfast.store.journal import Entry, Stamp
from standfast.store.tables import appeals, awards, decisions, journal, rulings
from standfast.store.writing import Reading, Writing


@dataclass(frozen=True)
class KeptAppeal:
    """An appeal or a complaint as it stands in the book."""

    appeal: Appeal
    entry: str
    """Id of its journal entry."""
    seq: int
    answer: Answer | None


def put_appeal(writing: Writing, appeal: Appeal, stamp: Stamp) -> Entry:
    """Enters an appeal or a complaint; the same again gives the entry that has it.

    Raises:
        NotFound: it names somebody, a decision, an award or a ruling that is not in the book.
        Refused: the number is taken, or the id has other content.
    """
    known = find_appeal(writing, appeal.id) or find_appeal(writing, appeal.number)
    if known is not None:
        if plain(known.appeal) == plain(appeal):
            return _entry(writing, known.entry)
        raise Refused(
            f"{known.appeal.number} is in the record book with other content",
            difference(plain(known.appeal), plain(appeal)),
        )
    _check(writing, appeal)
    opaque = writing.opaque(AppealFiled(appeal=appeal))
    return writing.write(stamp, opaque, about=opaque.appeal.about)


def _check(reading: Reading, appeal: Appeal) -> None:
    for kind, column, wanted in (
        ("decision", decisions.c.entry, appeal.decision),
        ("award", awards.c.id, appeal.award),
        ("ruling", rulings.c.entry, appeal.ruling),
    ):
        if (
            wanted is not None
            and reading.conn.scalar(select(column).where(column == wanted)) is None
        ):
            raise NotFound(f"{kind} in the record book", wanted, ())


def put_answer(writing: Writing, answer: Answer, stamp: Stamp) -> Entry:
    """Enters the answer to an appeal or a complaint; the same again gives the entry that has it.

    Raises:
        NotFound: no such appeal, or nobody of that slug answers.
        Refused: it was answered otherwise already.
    """
    known = find_appeal(writing, answer.appeal)
    if known is None:
        raise NotFound("appeal to answer", answer.appeal, ())
    if known.answer is not None and plain(known.answer) == plain(answer):
        query = select(appeals.c.answer).where(appeals.c.id == answer.appeal)
        return _entry(writing, str(writing.conn.scalar(query)))
    if known.answer is not None:
        raise Refused(f"{known.appeal.number} was answered already, on {known.answer.on}")
    opaque = writing.opaque(AppealAnswered(answer=answer))
    return writing.write(stamp, opaque, about=writing.names.ref(known.appeal.about))


def find_appeal(reading: Reading, wanted: str) -> KeptAppeal | None:
    """The appeal or complaint of that id or number, or None."""
    query = select(appeals.c.seq).where((appeals.c.id == wanted) | (appeals.c.number == wanted))
    return next(iter(_kept(reading, query)), None)


def find_appeals(
    reading: Reading, about: str | None = None, award: str | None = None
) -> tuple[KeptAppeal, ...]:
    """Appeals and complaints in the order of the journal: about a person, an award, or all."""
    query = select(appeals.c.seq)
    if about is not None:
        query = query.where(appeals.c.about == reading.names.ref(about))
    if award is not None:
        query = query.where(appeals.c.award == award)
    return _kept(reading, query)


def _entry(reading: Reading, entry: str) -> Entry:
    return Entry(*reading.conn.execute(select(journal).where(journal.c.id == entry)).one())


def _kept(reading: Reading, numbers: Select[int]) -> tuple[KeptAppeal, ...]:
    entries = numbers.with_only_columns(appeals.c.answer)
    answered = select(journal.c.seq).where(journal.c.id.in_(entries))
    answers = {
        body.answer.appeal: body.answer for _, body in reading.bodies(AppealAnswered, answered)
    }
    return tuple(
        KeptAppeal(body.appeal, entry.id, entry.seq, answers.get(body.appeal.id))
        for entry, body in reading.bodies(AppealFiled, numbers)
    )
