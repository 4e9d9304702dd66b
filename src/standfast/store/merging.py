"""Taking in what another copy of the record book holds: a laptop that worked alone for a month.

Both began as one book.  An entry that both have is there once; one that only the other has is added
at the end, with its own id, time and content.  What contradicts the book is held back and listed
with its reason, and stays in the other file: nothing is dropped, and nothing is decided by machine.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Select, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from standfast.model.award import GIVE_BACK
from standfast.model.canonical import content_hash
from standfast.model.federation import Shared
from standfast.model.rubric import Rubric
from standfast.model.school import School
from standfast.model.syllabus import Syllabus
from standfast.problems import Refused
from standfast.store import federation, names, people, schools, texts
from standfast.store.appeals import find_appeal
from standfast.store.awards import find_award, find_kept_rulings
from standfast.store.bodies import (
    KIND_OF,
    AppealAnswered,
    AwardGranted,
    AwardRuled,
    Body,
    DecisionMade,
    Erased,
    FederationSet,
    PersonSet,
    PersonState,
    SchoolSet,
    SheetTaken,
    TextKept,
)
from standfast.store.journal import Draft, Entry, Stamp
from standfast.store.records import FORGOTTEN
from standfast.store.tables import held, identity, journal, records, sheets
from standfast.store.writing import Reading, Writing, body_of

Objections = Callable[[Body], Iterable[str]]
"""Every reason why what an entry says, people as slugs, would not be entered here by hand."""

_PERSON, _ERASED = KIND_OF[PersonSet], KIND_OF[Erased]
_SCHOOL, _SHARES, _TEXT = (KIND_OF[kind] for kind in (SchoolSet, FederationSet, TextKept))

NAME, SETTINGS, SHARED = "name, contact or site", "settings of the school", "what is shared"
STATE = {
    "documents": "documents",
    "trained_by": "training",
    "scores": "approval to score",
    "certifies": "approval to certify",
    "conflicts": "conflicts of interest",
    "hears_appeals": "hearing of appeals",
}
"""What is known of a person, each with its word."""


@dataclass(frozen=True)
class HeldBack:
    """An entry of the other book that was not taken in."""

    entry: str
    kind: str
    at: str
    why: str


@dataclass(frozen=True)
class Stays:
    """What both books changed, each in its way."""

    person: str | None
    """Slug; None when it is the school's."""
    what: str


@dataclass
class Merged:
    """What became of the other book's entries."""

    added: int = 0
    seen: int = 0
    """Entries that both have."""
    held: list[HeldBack] = field(default_factory=list)
    renamed: list[tuple[str, str]] = field(default_factory=list)
    """Slug in the other book, and here: the same slug meant somebody who was entered in each."""
    kept: list[Stays] = field(default_factory=list)
    """What both books changed: it stays as it was here."""
    erased: list[str] = field(default_factory=list)
    """Opaque ids of people whose names went, since the other book had erased them."""
    records: int = 0
    """What devices beside the mat had sent to the other."""
    records_held: int = 0


def merge(
    writing: Writing, theirs: Reading, new_stamp: Callable[[], Stamp], objections: Objections
) -> Merged:
    """Takes in what the other book has and this one has not, and holds back what it must.

    Raises:
        Refused: the other is no copy of this book: they do not begin with the same entry.
    """
    _same_begin(writing, theirs)
    done = Merged()
    alone = _Alone.of(writing, theirs)
    _take_identities(writing, theirs, done)
    for entry in _entries(theirs):
        why = _contradicts(writing, entry, alone.known, objections)
        _take(writing, entry, why, done)
        _hold_ours(writing, entry, alone, new_stamp)
    _settle_people(writing, theirs, alone, done, new_stamp)
    _settle_school(writing, alone, done, new_stamp)
    _take_records(writing, theirs, done)
    return done


def _same_begin(writing: Writing, theirs: Reading) -> None:
    first = select(journal.c.leaf).where(journal.c.seq == 1)
    ours, other = (one.conn.scalar(first) for one in (writing, theirs))
    if ours is None or ours != other:
        raise Refused(
            "the other file is no copy of this record book",
            ["they do not begin with the same entry; only copies of one book are joined"],
        )


def _entries(reading: Reading, which: Select[Any] | None = None) -> Iterator[Entry]:
    wanted = select(journal) if which is None else which
    for row in reading.conn.execute(wanted.order_by(journal.c.seq)):
        yield Entry(*row)


# --- entries ------------------------------------------------------------------------------------


def _take(writing: Writing, entry: Entry, why: str, done: Merged) -> None:
    """Adds the entry, unless it is here, or there is a reason why it cannot be."""
    body: dict[str, Any] = json.loads(entry.body)
    before = writing.next_seq
    if not why:
        draft = Draft(*entry[1:-2], body)
        try:
            with writing.conn.begin_nested():
                writing.append([draft])
        except Refused as error:
            why = str(error).splitlines()[0]
        except IntegrityError as error:
            writing.next_seq = before
            why = _in_words(error, entry)
    if why:
        done.held.append(HeldBack(entry.id, entry.kind, entry.at, why))
        return
    if writing.next_seq == before:
        done.seen += 1
        return
    done.added += 1
    if entry.kind == _ERASED and _forget(writing, ref := Erased.model_validate(body).person):
        done.erased.append(ref)


def _contradicts(
    writing: Writing, entry: Entry, known: AbstractSet[str], objections: Objections
) -> str:
    """Why the entry cannot stand beside what was entered here; empty when it can.

    `known` are the entries that the other book has.
    """
    if writing.conn.scalar(select(journal.c.seq).where(journal.c.id == entry.id)) is not None:
        return ""
    if entry.supersedes is not None:
        query = select(journal.c.id).where(journal.c.supersedes == entry.supersedes)
        other = writing.conn.scalar(query)
        if other is not None:
            return f"corrects entry {entry.supersedes}, which {other} corrects here"
    refuses = _REFUSES.get(entry.kind)
    if refuses is None:
        return ""
    why = refuses(writing, json.loads(entry.body), known)
    return why or "; ".join(objections(writing.named(body_of(entry))))


def _followed(writing: Reading, body: dict[str, Any], known: AbstractSet[str]) -> str:
    """No award gets round what was ruled here of the one whose place it takes."""
    before = (body["award"].get("renews"), body.get("corrects"))
    ruled = (_ruled_here(writing, award, known) for award in before if award)
    return _renewed(writing, body) or next(filter(None, ruled), "")


def _renewed(writing: Reading, body: dict[str, Any]) -> str:
    """As `awards.put_award` has it: no award is followed by two."""
    renews = body["award"].get("renews")
    before = find_award(writing, renews) if renews else None
    if before is None or (before.superseded_by or before.renewed_by) in {
        None,
        body.get("corrects"),
    }:
        return ""
    done = "corrected" if before.superseded_by else "renewed"
    return f"renews {before.award.number}, which was {done} here already"


def _ruled(writing: Reading, body: dict[str, Any], known: AbstractSet[str]) -> str:
    """What is ruled is ruled of the award that stands, and gives back nothing unknowingly."""
    ruling = body["ruling"]
    award = find_award(writing, ruling["award"])
    if award is None:
        return _MISSING
    if award.superseded_by or award.renewed_by:
        done = "corrected" if award.superseded_by else "renewed"
        return f"rules on {award.award.number}, which was {done} here already"
    if ruling["kind"] in GIVE_BACK:
        return _ruled_here(writing, ruling["award"], known)
    return ""


def _ruled_here(writing: Reading, award: str, known: AbstractSet[str]) -> str:
    """What was taken from the award here, when the other book does not know of it."""
    rulings = [
        one.ruling
        for one in find_kept_rulings(writing, award)
        if one.entry not in known and one.ruling.kind not in GIVE_BACK
    ]
    before = find_award(writing, award)
    if not rulings or before is None:
        return ""
    last = rulings[-1]
    return (
        f"{before.award.number} was {last.kind} here on {last.on}, which the other did not know;"
        " decide here what holds"
    )


def _on_what_was_held(writing: Reading, body: dict[str, Any], known: AbstractSet[str]) -> str:
    """A decision comes with every sheet that it was made from."""
    del known
    wanted = set(body["inputs"]["sheets"])
    here = select(func.count()).select_from(sheets).where(sheets.c.id.in_(wanted))
    return "" if writing.conn.scalar(here) == len(wanted) else _MISSING


def _answered(writing: Reading, body: dict[str, Any], known: AbstractSet[str]) -> str:
    """As `appeals.put_answer` has it: an answer stands."""
    del known
    found = find_appeal(writing, body["answer"]["appeal"])
    if found is None or found.answer is None:
        return ""
    return f"answers {found.appeal.number}, which was answered here already"


def _other_text(writing: Reading, body: dict[str, Any], known: AbstractSet[str]) -> str:
    """As `sheets.put_sheet` has it: all sheets of one version were scored under one text."""
    del known
    for kind in ("rubric", "syllabus"):
        text = body[kind]
        used = texts.used_hash(writing, kind, text["id"], text["version"])
        if used not in {None, text["hash"]}:
            name = f"{kind} {text['id']} version {text['version']}"
            return f"was scored under another text of {name} than sheets here"
    return ""


_MISSING = "rests on an entry that was held back"
_REFUSES: dict[str, Callable[[Reading, dict[str, Any], AbstractSet[str]], str]] = {
    KIND_OF[AwardGranted]: _followed,
    KIND_OF[AwardRuled]: _ruled,
    KIND_OF[DecisionMade]: _on_what_was_held,
    KIND_OF[AppealAnswered]: _answered,
    KIND_OF[SheetTaken]: _other_text,
}
"""By kind of entry, why it cannot stand beside what was entered here."""


def _in_words(error: IntegrityError, entry: Entry) -> str:
    text = str(error.orig).lower()
    if "unique" in text:
        return "has a number or id that something else has here"
    if "foreign" in text or "not null" in text:
        return _MISSING
    return f"does not fit in here ({entry.kind})"


def _forget(writing: Writing, ref: str) -> bool:
    """The other book erased a name: it goes here too; whether there was one."""
    handle = writing.names.handle(ref)
    if handle != ref:
        people.forget(writing, handle)
    return handle != ref


# --- what a later entry replaces --------------------------------------------------------------


@dataclass(frozen=True)
class _Alone:
    """What this book entered since both parted, where the newest entry is what holds.

    The other's entries come after ours whenever they were made, so ours are said again after them.
    """

    known: AbstractSet[str]
    """The entries of the other, which are not alone."""
    people: dict[str, tuple[PersonSet, PersonSet]]
    """By opaque id: the last that both had, and what holds here."""
    school: School | None
    shares: tuple[Shared, ...] | None
    texts: Collection[Rubric | Syllabus]

    @classmethod
    def of(cls, ours: Reading, theirs: Reading) -> _Alone:
        """What the other does not know."""
        known = set(theirs.conn.scalars(select(journal.c.id)))
        said = select(journal).where(journal.c.kind.in_([_SCHOOL, _SHARES, _TEXT]))
        new = [one for one in _entries(ours, said) if one.id not in known]
        kinds = {one.kind for one in new}
        told = (TextKept.model_validate_json(one.body).text for one in new if one.kind == _TEXT)
        return cls(
            known,
            people=dict(_changed_people(ours, theirs, known)),
            school=schools.find_school(ours) if _SCHOOL in kinds else None,
            shares=federation.find_shares(ours) if _SHARES in kinds else None,
            texts={(type(text), text.id, text.version): text for text in told}.values(),
        )


def _settle_school(
    writing: Writing, alone: _Alone, done: Merged, new_stamp: Callable[[], Stamp]
) -> None:
    """What the office said of the school since both parted stays."""
    if alone.school is not None and schools.find_school(writing) != alone.school:
        schools.put_school(writing, alone.school, new_stamp())
        done.kept.append(Stays(None, SETTINGS))
    if alone.shares is not None and federation.find_shares(writing) != alone.shares:
        federation.put_shares(writing, alone.shares, new_stamp())
        done.kept.append(Stays(None, SHARED))
    for text in alone.texts:
        kind = texts.kind_of(text)
        used = texts.used_hash(writing, kind, text.id, text.version)
        ours = content_hash(text)
        now = texts.find_version(writing, kind, text.id, text.version)
        if used in {None, ours} and now is not None and now.hash != ours:
            texts.keep_text(writing, text, new_stamp())
            done.kept.append(Stays(None, f"{kind} {text.id} version {text.version}"))


# --- people -------------------------------------------------------------------------------------


def _changed_people(
    ours: Reading, theirs: Reading, known: set[str]
) -> Iterator[tuple[str, tuple[PersonSet, PersonSet]]]:
    """People of both, of whom the newest entry here is unknown there: the last known, and ours."""
    for ref in ours.names.handles:
        entry = people.latest(ours, ref)
        if entry is None or entry.id in known or ref not in theirs.names.handles:
            continue
        told = select(journal).where(journal.c.about == ref, journal.c.kind == _PERSON)
        before = [one for one in _entries(ours, told) if one.id in known]
        if before:
            both = (before[-1], entry)
            base, now = (PersonSet.model_validate_json(one.body) for one in both)
            yield ref, (base, now)


def _take_identities(writing: Writing, theirs: Reading, done: Merged) -> None:
    """Who is new there is known here too, unless this book had to forget her."""
    added: dict[str, str] = {}
    for row in theirs.conn.execute(select(identity).order_by(identity.c.handle)):
        if row.ref in writing.names.handles or row.ref in writing.names.erased:
            continue
        handle = _free(row.handle, {**writing.names.refs, **added})
        if handle != row.handle:
            done.renamed.append((row.handle, handle))
        writing.conn.execute(insert(identity), {**row._asdict(), "handle": handle})
        added[handle] = row.ref
    if added:
        version = names.next_version(writing.conn, writing.names)
        writing.names = writing.names.with_more(version, added)


def _free(handle: str, taken: dict[str, str]) -> str:
    """That slug, or the first with a number that nobody has."""
    number, found = 1, handle
    while found in taken:
        number += 1
        found = f"{handle}-{number}"
    return found


def _settle_people(
    writing: Writing,
    theirs: Reading,
    alone: _Alone,
    done: Merged,
    new_stamp: Callable[[], Stamp],
) -> None:
    """What one book alone changed holds, and ours where both did; entry and name agree again."""
    for ref in theirs.names.handles:
        if ref not in writing.names.handles:
            continue
        entry, other = people.latest(writing, ref), people.latest(theirs, ref)
        row, name = names.find(writing.conn, ref), names.find(theirs.conn, ref)
        if entry is None or other is None or row is None or name is None:
            continue
        now, last = (PersonSet.model_validate_json(one.body) for one in (other, entry))
        here, there = names.commitment(row), now.commitment
        if ref not in alone.people and last.commitment == here:
            continue
        base, ours = alone.people.get(ref, (now, last))
        state, both = _joined(base.person, ours.person, now.person)
        if ref not in alone.people or here == base.commitment:
            wanted = {one: getattr(name, one) for one in ("name", "contact", "site")}
            writing.conn.execute(update(identity).where(identity.c.ref == ref).values(wanted))
            row = name
        elif there not in {here, base.commitment}:
            both.append(NAME)
        done.kept += [Stays(row.handle, what) for what in both]
        person = writing.named(state).with_name(row.name, row.contact, row.site)
        people.put_people(writing, [person], new_stamp)


def _hold_ours(
    writing: Writing, entry: Entry, alone: _Alone, new_stamp: Callable[[], Stamp]
) -> None:
    """What was said here of a person holds at once again, since later entries are held to it."""
    newest = people.latest(writing, entry.about) if entry.about in alone.people else None
    if entry.about is None or newest is None or newest.id != entry.id:
        return
    base, ours = alone.people[entry.about]
    now = PersonSet.model_validate_json(entry.body)
    row = names.find(writing.conn, entry.about)
    if row is not None:
        state, _ = _joined(base.person, ours.person, now.person)
        person = writing.named(state).with_name(row.name, row.contact, row.site)
        people.put_people(writing, [person], new_stamp)


def _joined(
    base: PersonState, ours: PersonState, theirs: PersonState
) -> tuple[PersonState, list[str]]:
    """What holds of a person now, and in words what both changed, each in its way."""
    changed, both = {}, []
    for name, words in STATE.items():
        was, here, there = (getattr(one, name) for one in (base, ours, theirs))
        if here == was:
            changed[name] = there
        elif there not in (was, here):
            both.append(words)
    return ours.model_copy(update=changed), both


# --- what devices sent ------------------------------------------------------------------------


def _take_records(writing: Writing, theirs: Reading, done: Merged) -> None:
    """Records of sheets; one whose place is taken by another waits for the office."""
    for row in theirs.conn.execute(select(records).order_by(records.c.sheet, records.c.n)):
        ours = writing.conn.execute(select(records).where(records.c.id == row.id)).one_or_none()
        if ours is not None and ours.body == row.body:
            continue
        at = (records.c.sheet == row.sheet) & (records.c.n == row.n)
        if ours is None and writing.conn.scalar(select(records.c.id).where(at)) is None:
            writing.conn.execute(insert(records), row._asdict())
            done.records += 1
            continue
        forgotten = (held.c.record == row.id) & (held.c.body == FORGOTTEN)
        was_held = select(held.c.key).where((held.c.body == row.body) | forgotten)
        if writing.conn.scalar(was_held) is not None:
            continue
        key = (writing.conn.scalar(select(func.max(held.c.key))) or 0) + 1
        why = "another copy of the record book has something else in this place"
        told = {"key": key, "record": row.id, "sheet": row.sheet, "body": row.body, "why": why}
        writing.conn.execute(insert(held), {**told, "got": row.got, "account": row.account})
        done.records_held += 1
