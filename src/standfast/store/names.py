"""Who is meant by an opaque id: the one table of the record book that can be erased.

The journal holds `p-` and 32 hexadecimal digits in place of a person, and a salted commitment in
place of name, contact and site.  When the row here is gone, the id can be traced to nobody, the
commitment can be tried against no list of names, and the tree over the journal is as valid as
before.
"""

from __future__ import annotations

import hmac
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select, update

from standfast.model.base import REF
from standfast.model.canonical import canonical
from standfast.model.people import Person
from standfast.problems import NotFound, RecordBookError, Refused
from standfast.store.tables import IDENTITIES, identity, meta, people

Random = Callable[[int], bytes]
"""So many random bytes; handed in, so that an invented school can be made again."""

ERASED = "erased person"
"""Stands where the name stood."""

SALT_BYTES = 32
_REF_BYTES = 16
_REF = re.compile(REF)
_VERSION_NOW = select(meta.c.value).where(meta.c.key == IDENTITIES)


def is_ref(text: str) -> bool:
    """Whether the text has the form of an opaque id."""
    return bool(_REF.match(text))


@dataclass(frozen=True)
class Names:
    """Slug to opaque id and back, as of one state of the identity table."""

    version: str
    refs: Mapping[str, str]
    handles: Mapping[str, str]
    erased: frozenset[str]
    """The opaque ids that lead to nobody any more."""

    def ref(self, person: str) -> str:
        """The opaque id of that slug; that of an erased person stands for itself.

        Raises:
            NotFound: nobody of that slug is in the book.
        """
        found = self.refs.get(person)
        if found is not None:
            return found
        if person in self.erased or person in self.handles:
            return person
        raise NotFound("person in the record book", person, self.refs)

    def actor(self, who: str) -> str:
        """The opaque id of a person, or an actor such as `office` as written."""
        return self.refs.get(who, who)

    def handle(self, ref: str) -> str:
        """The slug for that opaque id; an erased person shows as the id."""
        return self.handles.get(ref, ref)

    def with_more(self, version: str, more: Mapping[str, str]) -> Names:
        """These names and those (slug to opaque id)."""
        turned = {ref: handle for handle, ref in more.items()}
        return Names(version, {**self.refs, **more}, {**self.handles, **turned}, self.erased)

    def without(self, version: str, person: str) -> Names:
        """These names but for that slug."""
        refs = {handle: ref for handle, ref in self.refs.items() if handle != person}
        erased = self.erased | {self.refs[person]}
        return Names(version, refs, {ref: handle for handle, ref in refs.items()}, erased)


NOBODY = Names("", {}, {}, frozenset())


def current(conn: Connection, known: Names) -> Names:
    """The names now; `known` again when no identity changed since it was read."""
    version = conn.scalar(_VERSION_NOW) or "0"
    if version == known.version:
        return known
    rows = conn.execute(select(identity.c.handle, identity.c.ref))
    refs = {row.handle: row.ref for row in rows}
    handles = {ref: handle for handle, ref in refs.items()}
    erased = frozenset(conn.scalars(select(people.c.ref))) - handles.keys()
    return Names(version, refs, handles, erased)


def identify(
    conn: Connection, names: Names, everybody: Iterable[Person], random: Random | None
) -> Names:
    """Writes down name, contact and site of everybody; gives the names with the new ones.

    Raises:
        Refused: a slug that has the form of an opaque id.
    """
    new: dict[str, str] = {}
    changed = False
    for person in everybody:
        ref = names.refs.get(person.id) or new.get(person.id)
        if ref is None:
            new[person.id] = _add(conn, person, random)
        else:
            changed |= _change(conn, ref, person)
    return names.with_more(next_version(conn, names), new) if new or changed else names


def _add(conn: Connection, person: Person, random: Random | None) -> str:
    if is_ref(person.id):
        raise Refused(f"'{person.id}' cannot be a slug: it has the form of an opaque id")
    if random is None:
        raise RecordBookError("a new person needs random bytes, and the book was opened with none")
    ref = f"p-{random(_REF_BYTES).hex()}"
    conn.execute(
        insert(identity),
        {"ref": ref, "handle": person.id, "salt": random(SALT_BYTES), **_erasable(person)},
    )
    return ref


def _change(conn: Connection, ref: str, person: Person) -> bool:
    """Whether anything was other than now."""
    row = find(conn, ref)
    wanted = _erasable(person)
    if row is not None and {name: getattr(row, name) for name in wanted} == wanted:
        return False
    conn.execute(update(identity).where(identity.c.ref == ref).values(wanted))
    return True


def _erasable(person: Person) -> dict[str, str | None]:
    return {"name": person.name, "contact": person.contact, "site": person.site}


def find(conn: Connection, ref: str) -> Row[*tuple[Any, ...]] | None:
    """The identity of that opaque id; None when it was erased."""
    return conn.execute(select(identity).where(identity.c.ref == ref)).one_or_none()


def commitment(row: Row[*tuple[Any, ...]]) -> str:
    """What the journal says in place of an identity: HMAC-SHA256 under its salt, hexadecimal."""
    said = {"contact": row.contact, "handle": row.handle, "name": row.name, "site": row.site}
    return hmac.digest(row.salt, canonical(said), "sha256").hex()


def erase(conn: Connection, names: Names, person: str) -> Names:
    """Deletes the identity; gives the names without it."""
    conn.execute(delete(identity).where(identity.c.handle == person))
    return names.without(next_version(conn, names), person)


def next_version(conn: Connection, names: Names) -> str:
    """Counts that identities changed, so that whoever has read them reads them again."""
    version = str(int(names.version) + 1)
    conn.execute(update(meta).where(meta.c.key == IDENTITIES).values(value=version))
    return version
