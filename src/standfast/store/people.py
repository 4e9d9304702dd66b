"""People of the record book: what is known of them in the journal, who they are beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from sqlalchemy import Select, select

from standfast.model.people import Person
from standfast.problems import NotFound
from standfast.store import names
from standfast.store.access import forget_accounts
from standfast.store.bodies import KIND_OF, Erased, PersonSet, PersonState
from standfast.store.journal import Entry, Stamp
from standfast.store.records import forget_held
from standfast.store.tables import approvals, identity, journal, people
from standfast.store.writing import Reading, Writing

_AT_ONCE = 1_000  # entries in memory


def put_people(
    writing: Writing, everybody: Iterable[Person], new_stamp: Callable[[], Stamp]
) -> tuple[Entry, ...]:
    """Enters those who are new or changed; people may name each other as trainers.

    A stamp is asked for only for what is new; whoever is known and unchanged gives the entry
    that says so.

    Raises:
        NotFound: a trainer is neither in the book nor among the people.
    """
    everybody = tuple(everybody)
    writing.names = names.identify(writing.conn, writing.names, everybody, writing.random)
    return tuple(_put(writing, person, new_stamp) for person in everybody)


def _put(writing: Writing, person: Person, new_stamp: Callable[[], Stamp]) -> Entry:
    state = writing.opaque(PersonState.of(person))
    row = names.find(writing.conn, state.person)
    if row is None:
        raise NotFound("person in the record book", person.id, writing.names.refs)
    body = PersonSet(person=state, commitment=names.commitment(row))
    newest = latest(writing, state.person)
    if newest is not None and _said_by(newest) == body:
        return newest
    return writing.write(new_stamp(), body, about=state.person)


def _said_by(entry: Entry) -> PersonSet:
    """What the entry says of a person, whatever it mended."""
    return PersonSet.model_validate_json(entry.body).model_copy(update={"because": None})


def correct_person(writing: Writing, person: Person, because: str, stamp: Stamp) -> Entry:
    """Enters what is known of a person in place of what the newest entry says, and why.

    Raises:
        NotFound: the book has no entry of that person.
    """
    state = writing.opaque(PersonState.of(person))
    row, newest = names.find(writing.conn, state.person), latest(writing, state.person)
    if row is None or newest is None:
        raise NotFound("person in the record book", person.id, writing.names.refs)
    body = PersonSet(person=state, commitment=names.commitment(row), because=because)
    return writing.write(stamp, body, about=state.person, supersedes=newest.id)


def put_names(writing: Writing, new_stamp: Callable[[], Stamp]) -> int:
    """Enters the names of those about whom the newest entry commits to others; gives how many.

    What else is known of them stays as it is, and may be about people whom the book has not yet: a
    copy up to an entry has the names of its own day.
    """
    changed = 0
    for row in writing.conn.execute(select(identity).order_by(identity.c.handle)).all():
        entry = latest(writing, row.ref)
        if entry is None:
            continue
        known = _said_by(entry)
        body = PersonSet(person=known.person, commitment=names.commitment(row))
        if body != known:
            writing.write(new_stamp(), body, about=row.ref)
            changed += 1
    return changed


def only_names_since(reading: Reading, size: int) -> bool:
    """Whether what came after the first so many entries is what a restoring enters.

    So it only erases people, and enters names, of which what else is known stays as it was.
    """
    query = select(journal).where(journal.c.seq > size).order_by(journal.c.seq)
    with reading.conn.execute(query.execution_options(yield_per=_AT_ONCE)) as rows:
        return all(_only_a_name(reading, Entry(*row)) for row in rows)


def _only_a_name(reading: Reading, entry: Entry) -> bool:
    if entry.kind != KIND_OF[PersonSet]:
        return entry.kind == KIND_OF[Erased]
    of_her = (journal.c.kind == entry.kind, journal.c.about == entry.about)
    query = select(journal).where(*of_her, journal.c.seq < entry.seq).order_by(journal.c.seq.desc())
    before = reading.conn.execute(query.limit(1)).one_or_none()
    if before is None:
        return False
    now, then = PersonSet.model_validate_json(entry.body), _said_by(Entry(*before))
    return now == then.model_copy(update={"commitment": now.commitment})


def latest(reading: Reading, ref: str) -> Entry | None:
    """The newest entry of what is known of a person; `ref` is her opaque id."""
    query = select(journal).join(people, people.c.seq == journal.c.seq).where(people.c.ref == ref)
    row = reading.conn.execute(query).one_or_none()
    return None if row is None else Entry(*row)


def find_person(reading: Reading, person: str) -> Person | None:
    """The person of that slug, or of that opaque id; an erased one has no name any more."""
    ref = reading.names.refs.get(person, person)
    entry = latest(reading, ref)
    if entry is None:
        return None
    state = reading.named(PersonSet.model_validate_json(entry.body).person)
    row = names.find(reading.conn, ref)
    if row is None:
        return state.with_name(names.ERASED)
    return state.with_name(row.name, row.contact, row.site)


def find_people(reading: Reading) -> tuple[Person, ...]:
    """Everybody who has a name in the book, by slug."""
    query = (
        select(identity.c.name, identity.c.contact, identity.c.site, journal.c.body)
        .join(people, people.c.ref == identity.c.ref)
        .join(journal, journal.c.seq == people.c.seq)
        .order_by(identity.c.handle)
    )
    return _named(reading, query)


def _named(reading: Reading, query: Select[str, str | None, str | None, str]) -> tuple[Person, ...]:
    return tuple(
        reading.named(PersonSet.model_validate_json(body).person).with_name(name, contact, site)
        for name, contact, site, body in reading.conn.execute(query)
    )


def find_approved(reading: Reading) -> tuple[Person, ...]:
    """Everybody with a name who was ever approved to score or to certify, by slug."""
    query = (
        select(identity.c.name, identity.c.contact, identity.c.site, journal.c.body)
        .join(people, people.c.ref == identity.c.ref)
        .join(journal, journal.c.seq == people.c.seq)
        .where(identity.c.ref.in_(select(approvals.c.person)))
        .order_by(identity.c.handle)
    )
    return _named(reading, query)


def find_sites(reading: Reading) -> tuple[str, ...]:
    """The sites that somebody belongs to, sorted."""
    found = reading.conn.scalars(select(identity.c.site).distinct())
    return tuple(sorted(filter(None, found)))


def erase(writing: Writing, person: str, stamp: Stamp) -> Entry:
    """Deletes name, contact, site and salt; what was seen and decided stays, about an opaque id.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    ref = writing.names.refs.get(person)
    if ref is None:
        raise NotFound("person in the record book", person, writing.names.refs)
    entry = writing.write(stamp, Erased(person=ref), about=ref)
    forget(writing, person)
    return entry


def forget(writing: Writing, person: str) -> None:
    """Deletes whatever an erasure deletes, of whom the journal says already that she is erased."""
    forget_accounts(writing, writing.names.ref(person))
    forget_held(writing, person)
    writing.names = names.erase(writing.conn, writing.names, person)
