"""The record book: everything that can be put into it and found in it.

Every `put_...` is one durable transaction, unless several are joined by `together`.  Nouns go in
and come out with people's slugs; in the journal they are opaque ids.  Who, when and under which
key comes with a `Stamp`; the same stamp and content again is a retry and adds nothing.

    put_school(school, stamp) -> Entry                school() -> School | None
    put_people(people, new_stamp) -> entries          find_person(slug) -> Person | None
    correct_person(person, because, stamp) -> Entry
    erase(slug, stamp) -> Entry                       people() -> everybody who has a name
    keep_text(rubric or syllabus, stamp) -> Reference
    find_text(hash) -> Rubric | Syllabus | None
    find_version("rubric", id, version=None) -> Reference | None
    texts("rubric" or "syllabus") -> references
    put_sheet(sheet, rubric_reference, syllabus_reference, stamp) -> Entry
    find_sheet(id) -> KeptSheet | None
    sheets(candidate=None, rubric=None, practical=None, superseded=False) -> kept sheets
    put_decision(decision, DecisionInputs.of(candidate, sheets, since), stamp, corrects=None)
    find_decision(entry_id) -> KeptDecision | None
    decisions(candidate=None, rubric=None, superseded=False) -> kept decisions
    lessons() -> practicals with their days           decided() -> decisions with their days
    rests(rubric=None) -> sheets behind each decision
    ratings(rubric=None) -> every mark, as arrays
    put_award(award, stamp, corrects=None) -> Entry
    find_award(id or number) -> KeptAward | None
    awards(candidate=None, past=False, on=None) -> kept awards
    held(days, site, rubric) -> held awards           transitions() -> versions with a transition
    put_ruling(ruling, stamp) -> Entry                rulings(award_id) -> rulings
    find_ruling(entry_id) -> Ruling | None            kept_rulings(award_id) -> with entries
    ruled() -> awards of which something was ruled
    put_appeal(appeal, stamp) -> Entry                put_answer(answer, stamp) -> Entry
    find_appeal(id or number) -> KeptAppeal | None
    appeals(about=None, award=None) -> kept appeals and complaints
    put_reference(score, stamp) -> Entry              references(assessor=None) -> scores
    approved() -> everybody with an approval          sites(), rubrics_held() -> names
    history(person=None) -> events in order           size() -> number of entries
    people_since(size) -> who was entered after that many entries
    only_names_since(size) -> whether only names were, as by a restoring
    head(at) -> Head                                  remember_head(at) -> Head
    heads() -> heads remembered                       inclusions(entry_ids, size=None)
    consistency(first_size) -> proof
    rebuild() -> entries read                         replay(decide) -> (count, differing)
    cases(entry_ids) -> what decisions were made from sheet_keys() -> practical and assessor
    audit(decide=None, kept_heads=()) -> Audit        together() -> one transaction for a block
    merge(other copy of the book, new_stamp, objections) -> Merged
    append(drafts) -> entries: the way in for entries that are made already
    records -> what devices beside the mat have sent
    access -> accounts, sessions, devices: who may come in over the web
    as_it_stood(at) -> the book with what had been entered by then, only to be read
    still(at) -> the book in one transaction, and everything that it holds, to copy it out
    put_shares(shares, stamp) -> Entry | None         shares() -> what is shared
    may_ask() -> roles that see sums over schools that agreed
    put_hand_over(what, stamp) -> Entry               record_of(slug) -> entries to hand over
    put_taken_in(record, stamp) -> Entry              taken_in(person=None) -> what came
    erased() -> the opaque ids of those who were erased
    handles() -> slugs by opaque id
    keeping -> what may leave the book after a time

Raised by all: `RecordBookError` when the book cannot be read or written; by what puts something
in also `Refused` and `NotFound`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import select

from standfast.model.appeal import Answer, Appeal
from standfast.model.approval import ReferenceScore
from standfast.model.award import Award, Ruling
from standfast.model.base import Reference
from standfast.model.decision import Decision
from standfast.model.federation import Shared
from standfast.model.handing import FromElsewhere, HandOver
from standfast.model.issued import Issued
from standfast.model.people import Person
from standfast.model.rubric import Rubric
from standfast.model.school import School
from standfast.model.sheet import Correction, Sheet
from standfast.model.syllabus import Syllabus
from standfast.problems import NotFound, RecordBookError
from standfast.store import (
    appeals,
    audit,
    awards,
    decisions,
    due,
    federation,
    handing,
    heads,
    issued,
    merging,
    people,
    ratings,
    references,
    replay,
    schools,
    sheets,
    taught,
    texts,
)
from standfast.store.access import Access
from standfast.store.appeals import KeptAppeal
from standfast.store.audit import Audit
from standfast.store.awards import KeptAward, KeptRuling
from standfast.store.bodies import KIND_OF, Body, DecisionInputs, Erased, PersonSet
from standfast.store.contents import Still, StillTransactions, contents_of, erased_in
from standfast.store.decisions import KeptDecision
from standfast.store.due import Days, HeldAward
from standfast.store.handing import KeptFromElsewhere, ToHandOver
from standfast.store.heads import Head, Inclusion
from standfast.store.journal import Draft, Entry, Stamp, canonical_entry, instant
from standfast.store.keeping import Keeping
from standfast.store.merging import Merged, Objections
from standfast.store.past import as_it_stood
from standfast.store.ratings import KeptRatings
from standfast.store.records import Records
from standfast.store.replay import Case, Decide, Differing
from standfast.store.sheets import KeptSheet
from standfast.store.tables import journal
from standfast.store.taught import Decided, Lesson, Rests
from standfast.store.transactions import Transactions
from standfast.store.transitions import KeptTransition, find_transitions
from standfast.store.writing import Reading, Writing, body_of, next_seq


@dataclass(frozen=True)
class Event:
    """An entry as a person reads it: slugs in place of opaque ids, the body read."""

    seq: int
    id: str
    at: str
    """ISO 8601, UTC."""
    who: str
    kind: str
    about: str | None
    supersedes: str | None
    """The entry that it takes the place of; `body.because` says why."""
    body: Body


class Book:
    """An open record book; see the module for what it can do.  Close it, or use `with`."""

    def __init__(self, transactions: Transactions) -> None:
        self._transactions = transactions
        self._reading = self._transactions.reading
        self._writing = self._transactions.writing

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Lets go of the file or the server."""
        self._transactions.close()

    @property
    def where(self) -> str | Path:
        """What opens the book again: its file, or its address without a password."""
        return self._transactions.database.where

    @property
    def file(self) -> Path:
        """The file of a book that has one.

        Raises:
            RecordBookError: it is kept by a server.
        """
        if isinstance(self.where, Path):
            return self.where
        raise RecordBookError(f"{self.where}: this record book has no file; a server keeps it")

    @property
    def records(self) -> Records:
        """What devices beside the mat have sent."""
        return Records(self._transactions)

    @property
    def access(self) -> Access:
        """Who may come in over the web."""
        return Access(self._transactions)

    @property
    def keeping(self) -> Keeping:
        """What may leave the book after a time."""
        return Keeping(self._transactions)

    def as_it_stood(self, at: datetime) -> Book:
        """The book with what had been entered by that instant, in memory; close it as well."""
        with self._reading() as reading:
            return Book(as_it_stood(self.where, reading, instant(at)))

    @contextmanager
    def still(self, at: datetime) -> Iterator[Still]:
        """The book as it is now, in one transaction that only reads; `at` is now."""
        with self._reading() as reading:
            one = Book(StillTransactions(self._transactions.database, reading))
            yield Still(one, contents_of(reading, at))

    def handles(self) -> dict[str, str]:
        """The slug of everybody who has a name, by opaque id."""
        with self._reading() as reading:
            return dict(reading.names.handles)

    @contextmanager
    def filling(self) -> Iterator[Writing]:
        """One transaction that puts rows in as they are; for a new book (`store.filling`)."""
        with self._writing() as writing:
            yield writing

    def erased(self) -> tuple[str, ...]:
        """The opaque ids of those who were erased, in the order of the journal."""
        with self._reading() as reading:
            return erased_in(reading)

    @contextmanager
    def together(self) -> Iterator[None]:
        """Everything put in by this thread inside the block is kept as one, or not at all.

        What one of them refuses is undone alone, and the block may go on.
        """
        with self._transactions.together():
            yield

    # --- school and people ----------------------------------------------------------------

    def put_school(self, school: School, stamp: Stamp) -> Entry:
        """Enters the school's settings if they are new or changed."""
        with self._writing() as writing:
            return schools.put_school(writing, school, stamp)

    def school(self) -> School | None:
        """The school's settings; None when none were entered."""
        with self._reading() as reading:
            return schools.find_school(reading)

    def put_people(
        self, everybody: Iterable[Person], new_stamp: Callable[[], Stamp]
    ) -> tuple[Entry, ...]:
        """Enters those who are new or changed; they may name each other as trainers."""
        with self._writing() as writing:
            return people.put_people(writing, everybody, new_stamp)

    def correct_person(self, person: Person, because: str, stamp: Stamp) -> Entry:
        """Enters a person anew, in place of what the newest entry says."""
        with self._writing() as writing:
            return people.correct_person(writing, person, because, stamp)

    def put_names(self, new_stamp: Callable[[], Stamp]) -> int:
        """Enters names that are other than the journal commits to; gives of how many."""
        with self._writing() as writing:
            return people.put_names(writing, new_stamp)

    def find_person(self, person: str) -> Person | None:
        """The person of that slug or opaque id, or None."""
        with self._reading() as reading:
            return people.find_person(reading, person)

    def people(self) -> tuple[Person, ...]:
        """Everybody who has a name in the book, by slug."""
        with self._reading() as reading:
            return people.find_people(reading)

    def erase(self, person: str, stamp: Stamp) -> Entry:
        """Erases name, contact and site of a person, out of the file as well."""
        with self._writing() as writing:
            entry = people.erase(writing, person, stamp)
        self._transactions.forget_deleted()
        return entry

    def forget_deleted(self) -> None:
        """Takes names that were deleted with others together out of the file as well."""
        self._transactions.forget_deleted()

    def approved(self) -> tuple[Person, ...]:
        """Everybody with a name who was ever approved to score or to certify, by slug."""
        with self._reading() as reading:
            return people.find_approved(reading)

    def sites(self) -> tuple[str, ...]:
        """The sites that somebody belongs to, sorted."""
        with self._reading() as reading:
            return people.find_sites(reading)

    def put_reference(self, score: ReferenceScore, stamp: Stamp) -> Entry:
        """Enters that an assessor scored a reference practical."""
        with self._writing() as writing:
            return references.put_reference(writing, score, stamp)

    def references(self, assessor: str | None = None) -> tuple[ReferenceScore, ...]:
        """Reference practicals that an assessor scored, or all, in the order of the journal."""
        with self._reading() as reading:
            return references.find_references(reading, assessor)

    # --- texts ----------------------------------------------------------------------------

    def keep_text(self, text: Rubric | Syllabus, stamp: Stamp) -> Reference:
        """Keeps a rubric or syllabus by its content; refused for a used version's other text."""
        with self._writing() as writing:
            return texts.keep_text(writing, text, stamp)

    def find_text(self, hash: str) -> Rubric | Syllabus | None:  # noqa: A002
        """The text of that hash, or None."""
        with self._reading() as reading:
            return texts.find_text(reading, hash)

    def find_version(self, kind: str, id: str, version: int | None = None) -> Reference | None:  # noqa: A002
        """The text of that id and version as kept last; of its highest version when not given."""
        with self._reading() as reading:
            return texts.find_version(reading, kind, id, version)

    def texts(self, kind: str) -> tuple[Reference, ...]:
        """Every text of the kind, `rubric` or `syllabus`, by id, version and time."""
        with self._reading() as reading:
            return tuple(texts.find_references(reading, kind))

    # --- sheets, decisions, awards --------------------------------------------------------

    def put_sheet(
        self, sheet: Sheet, rubric: Reference, syllabus: Reference, stamp: Stamp
    ) -> Entry:
        """Takes a score sheet in; the same sheet again gives the entry that has it."""
        with self._writing() as writing:
            return sheets.put_sheet(writing, sheet, rubric, syllabus, stamp)

    def find_sheet(self, sheet: str) -> KeptSheet | None:
        """The sheet of that id, or None."""
        with self._reading() as reading:
            return sheets.find_sheet(reading, sheet)

    def sheets(
        self,
        candidate: str | None = None,
        rubric: str | None = None,
        *,
        practical: str | None = None,
        superseded: bool = False,
    ) -> tuple[KeptSheet, ...]:
        """Sheets in the order of the journal, without corrected ones unless asked for."""
        with self._reading() as reading:
            return sheets.find_sheets(
                reading, candidate, rubric, practical=practical, superseded=superseded
            )

    def sheet_keys(self) -> dict[str, tuple[str, str]]:
        """Practical and assessor of every sheet, by its id; read from rows."""
        with self._reading() as reading:
            return sheets.find_keys(reading)

    def put_decision(
        self,
        decision: Decision,
        inputs: DecisionInputs,
        stamp: Stamp,
        corrects: Correction | None = None,
    ) -> Entry:
        """Enters a decision and what it was made from; the entry's id names the decision."""
        with self._writing() as writing:
            return decisions.put_decision(writing, decision, inputs, stamp, corrects)

    def find_decision(self, entry: str) -> KeptDecision | None:
        """The decision of that entry, or None."""
        with self._reading() as reading:
            return decisions.find_decision(reading, entry)

    def decisions(
        self, candidate: str | None = None, rubric: str | None = None, *, superseded: bool = False
    ) -> tuple[KeptDecision, ...]:
        """Decisions in the order of the journal, without corrected ones unless asked for."""
        with self._reading() as reading:
            return decisions.find_decisions(reading, candidate, rubric, superseded=superseded)

    def lessons(self) -> tuple[Lesson, ...]:
        """Every practical that was scored, by day; read from rows, so that all can be counted."""
        with self._reading() as reading:
            return taught.find_lessons(reading)

    def decided(self) -> tuple[Decided, ...]:
        """Every decision that stands, by day; read from rows, so that all can be counted."""
        with self._reading() as reading:
            return taught.find_decided(reading)

    def rests(self, rubric: str | None = None) -> tuple[Rests, ...]:
        """The sheets behind every decision that stands, of a rubric or all, in journal order."""
        with self._reading() as reading:
            return taught.find_rests(reading, rubric)

    def ratings(self, rubric: str | None = None) -> KeptRatings:
        """Every mark of the sheets that stand, as arrays; read from rows that are packed."""
        with self._reading() as reading:
            return ratings.find_ratings(reading, rubric)

    def put_award(self, award: Award, stamp: Stamp, corrects: Correction | None = None) -> Entry:
        """Enters an award; the same award again gives the entry that has it."""
        with self._writing() as writing:
            return awards.put_award(writing, award, stamp, corrects)

    def find_award(self, award: str) -> KeptAward | None:
        """The award of that id or number, or None."""
        with self._reading() as reading:
            return awards.find_award(reading, award)

    def awards(
        self, candidate: str | None = None, *, past: bool = False, on: date | None = None
    ) -> tuple[KeptAward, ...]:
        """Awards in the order in which they were granted, of a candidate or all.

        Those that stood on the day `on`; without a day, those in whose place none has come; with
        `past`, all that ever were granted.
        """
        with self._reading() as reading:
            return awards.find_awards(reading, candidate, past=past, on=on)

    def put_ruling(self, ruling: Ruling, stamp: Stamp) -> Entry:
        """Enters what was ruled of an award."""
        with self._writing() as writing:
            return awards.put_ruling(writing, ruling, stamp)

    def rulings(self, award: str) -> tuple[Ruling, ...]:
        """What was ruled of the award of that id, oldest first."""
        with self._reading() as reading:
            return awards.find_rulings(reading, award)

    def kept_rulings(self, award: str) -> tuple[KeptRuling, ...]:
        """What was ruled of the award of that id, with its entries, oldest first."""
        with self._reading() as reading:
            return awards.find_kept_rulings(reading, award)

    def find_ruling(self, entry: str) -> Ruling | None:
        """What was ruled in that entry, or None."""
        with self._reading() as reading:
            return awards.find_ruling(reading, entry)

    def put_issued(self, what: Issued, stamp: Stamp) -> Entry:
        """Enters that a signed certificate was given out."""
        with self._writing() as writing:
            return issued.put_issued(writing, what, stamp)

    def issued(self, award: str | None = None) -> tuple[Issued, ...]:
        """The signed certificates of an award, or all, as they were entered."""
        with self._reading() as reading:
            return issued.find_issued(reading, award)

    def find_credential(self, credential: str) -> Issued | None:
        """The signed certificate of that id, or None."""
        with self._reading() as reading:
            return issued.find_credential(reading, credential)

    def places(self) -> frozenset[int]:
        """The places in the status lists that are taken."""
        with self._reading() as reading:
            return issued.places(reading)

    def salt_for(self, person: str, purpose: str) -> str:
        """A salt of that person for one purpose; gone for ever with her name."""
        with self._reading() as reading:
            return issued.salt_for(reading, person, purpose)

    def put_appeal(self, appeal: Appeal, stamp: Stamp) -> Entry:
        """Enters an appeal or a complaint."""
        with self._writing() as writing:
            return appeals.put_appeal(writing, appeal, stamp)

    def put_answer(self, answer: Answer, stamp: Stamp) -> Entry:
        """Enters the answer to an appeal or a complaint."""
        with self._writing() as writing:
            return appeals.put_answer(writing, answer, stamp)

    def find_appeal(self, wanted: str) -> KeptAppeal | None:
        """The appeal or complaint of that id or number, or None."""
        with self._reading() as reading:
            return appeals.find_appeal(reading, wanted)

    def appeals(
        self, about: str | None = None, *, award: str | None = None
    ) -> tuple[KeptAppeal, ...]:
        """Appeals and complaints in the order of the journal, about a person, an award, or all."""
        with self._reading() as reading:
            return appeals.find_appeals(reading, about, award)

    def put_shares(self, shares: tuple[Shared, ...], stamp: Stamp) -> Entry | None:
        """Enters what the school shares with others of its database; None when it is so already."""
        with self._writing() as writing:
            return federation.put_shares(writing, shares, stamp)

    def shares(self) -> tuple[Shared, ...]:
        """What the school shares with others of its database."""
        with self._reading() as reading:
            return federation.find_shares(reading)

    def may_ask(self) -> tuple[str, ...]:
        """The roles of the database that may ask for sums over the schools that agreed."""
        with self._reading() as reading:
            return self._transactions.database.may_ask(reading.conn)

    def put_hand_over(self, what: HandOver, stamp: Stamp) -> Entry:
        """Enters that a person's record is handed to another school."""
        with self._writing() as writing:
            return handing.put_hand_over(writing, what, stamp)

    def record_of(self, person: str, hand_over: str) -> ToHandOver:
        """The entries of a person's record, with the entry that hands it over, and who is named."""
        with self._reading() as reading:
            return handing.find_record(reading, person, hand_over)

    def put_taken_in(self, record: FromElsewhere, stamp: Stamp) -> Entry:
        """Enters a person's record that came from another school."""
        with self._writing() as writing:
            return handing.put_taken_in(writing, record, stamp)

    def taken_in(self, person: str | None = None) -> tuple[KeptFromElsewhere, ...]:
        """What came from other schools about a person, or all, in the order of the journal."""
        with self._reading() as reading:
            return handing.find_taken_in(reading, person)

    def ruled(self) -> frozenset[str]:
        """The ids of awards of which anything was ever ruled; read from rows."""
        with self._reading() as reading:
            return taught.find_ruled(reading)

    def held(
        self, days: Days, site: str | None = None, rubric: str | None = None
    ) -> tuple[HeldAward, ...]:
        """Awards that could have something due, of people who still have a name; by index."""
        with self._reading() as reading:
            return tuple(due.find_held(reading, days, site, rubric))

    def transitions(self) -> tuple[KeptTransition, ...]:
        """The rubric versions that say what becomes of awards under earlier ones."""
        with self._reading() as reading:
            return find_transitions(reading)

    def rubrics_held(self) -> tuple[str, ...]:
        """The rubrics that somebody holds an award under, sorted."""
        with self._reading() as reading:
            return due.find_rubrics(reading)

    # --- journal --------------------------------------------------------------------------

    def append(self, drafts: Iterable[Draft]) -> list[Entry]:
        """Writes entries that are made already, people as opaque ids, in one transaction."""
        with self._writing() as writing:
            return writing.append(drafts)

    def size(self) -> int:
        """The number of entries."""
        with self._reading() as reading:
            return next_seq(reading.conn) - 1

    def history(self, person: str | None = None) -> tuple[Event, ...]:
        """What happened, in order: about a person (slug or opaque id), or everything.

        Raises:
            NotFound: nobody of that slug is in the book.
        """
        query = select(journal).order_by(journal.c.seq)
        with self._reading() as reading:
            if person is not None:
                query = query.where(journal.c.about == reading.names.ref(person))
            rows = reading.conn.execute(query)
            return tuple(_event(reading, Entry(*row)) for row in rows)

    def people_since(self, size: int) -> frozenset[str]:
        """Whoever was entered or changed after the first so many entries; an erased one by id."""
        kinds = (KIND_OF[PersonSet], KIND_OF[Erased])
        query = select(journal.c.about).where(journal.c.seq > size, journal.c.kind.in_(kinds))
        with self._reading() as reading:
            return frozenset(map(reading.names.handle, reading.conn.scalars(query)))

    def only_names_since(self, size: int) -> bool:
        """Whether what came after the first so many entries is what a restoring enters: names."""
        with self._reading() as reading:
            return people.only_names_since(reading, size)

    def newest(self, most: int) -> tuple[Event, ...]:
        """The last entries, newest first."""
        query = select(journal).order_by(journal.c.seq.desc()).limit(most)
        with self._reading() as reading:
            return tuple(_event(reading, Entry(*row)) for row in reading.conn.execute(query))

    def head(self, at: datetime) -> Head:
        """The tree head over every entry so far."""
        with self._reading() as reading:
            return heads.head_now(reading, at)

    def remember_head(self, at: datetime) -> Head:
        """The tree head over every entry so far, kept so that an audit holds the book to it."""
        with self._writing() as writing:
            return heads.remember_head(writing, at)

    def heads(self) -> tuple[Head, ...]:
        """The heads that were remembered, smallest first."""
        with self._reading() as reading:
            return heads.remembered(reading)

    def inclusions(self, entries: Sequence[str], size: int | None = None) -> tuple[Inclusion, ...]:
        """For each the proof that it is among the first `size`; among all when not given."""
        with self._reading() as reading:
            return heads.inclusions(reading, entries, size)

    def entry_content(self, entry: str) -> bytes:
        """The entry in the form of which its leaf is the hash; people are opaque ids in it.

        Raises:
            NotFound: there is no such entry.
        """
        with self._reading() as reading:
            row = reading.conn.execute(select(journal).where(journal.c.id == entry)).one_or_none()
        if row is None:
            raise NotFound("entry of the record book", entry, ())
        return canonical_entry(*Entry(*row)[:-1])

    def consistency(self, first: int) -> tuple[bytes, ...]:
        """The proof that the journal begins with the tree of its first so many entries."""
        with self._reading() as reading:
            return heads.consistency(reading, first)

    def merge(self, other: Book, new_stamp: Callable[[], Stamp], objections: Objections) -> Merged:
        """Takes in what another copy of this book holds; what contradicts it is listed.

        `objections` are those that the same would meet if it were entered here by hand.
        """
        with other._reading() as theirs, self._writing() as writing:
            return merging.merge(writing, theirs, new_stamp, objections)

    def rebuild(self) -> int:
        """Makes the derived tables anew from the journal; gives the number of entries read."""
        with self._writing() as writing:
            return audit.rebuild(writing)

    def replay(self, decide: Decide) -> tuple[int, tuple[Differing, ...]]:
        """Makes every decision again; gives how many, and those that came out otherwise."""
        with self._reading() as reading:
            return replay.replay(reading, decide)

    def cases(self, wanted: Collection[str]) -> tuple[Case, ...]:
        """The decisions of these entries with everything that they were made from."""
        with self._reading() as reading:
            return tuple(replay.cases(reading, wanted))

    def audit(self, decide: Decide | None = None, kept_heads: Iterable[Head] = ()) -> Audit:
        """Checks file, guards, journal, tree, tables, and with `decide` every decision."""
        with self._reading() as reading:
            return audit.audit(reading, self._transactions.database, decide, kept_heads)


def _event(reading: Reading, entry: Entry) -> Event:
    handle = reading.names.handle
    return Event(
        entry.seq,
        entry.id,
        entry.at,
        handle(entry.who),
        entry.kind,
        None if entry.about is None else handle(entry.about),
        entry.supersedes,
        reading.named(body_of(entry)),
    )
