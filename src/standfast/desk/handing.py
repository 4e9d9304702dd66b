"""Handing a candidate's record to another school, at her wish, in a file that can be checked."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.copying import made_new
from standfast.desk.keyring import signing_key
from standfast.desk.opening import Desk
from standfast.desk.people import person
from standfast.desk.proving import sign_head
from standfast.in_place import write_through
from standfast.model.canonical import canonical
from standfast.model.handing import HandOver
from standfast.problems import Refused, StandfastError

if TYPE_CHECKING:
    from standfast.seal.handed import Carried
    from standfast.seal.keys import SecretKey
    from standfast.store.handing import ToHandOver
    from standfast.store.heads import Inclusion
    from standfast.store.journal import Entry

NOT_IN_IT = (
    "Appeals and complaints are not in it, nor what the school knows beside its record book. Of a"
    " conflict of interest it says at most that an assessor had one, or who certified or ruled: not"
    " of which kind, and not from when until when. That nothing is missing no proof can show."
)


@dataclass(frozen=True)
class HandedOverTo:
    """A record that is in a file."""

    file: Path
    entry: str
    """The one that says so in this book."""
    entries: int
    shortened: int
    """Of them those from which a tie to somebody else was left out."""
    names: tuple[str, ...]
    """Who judged or trained, and stands in the file by name."""
    size: int
    """Of the book under the signed head."""


def hand_over(desk: Desk, what: HandOver, out: Path, passphrase: str) -> HandedOverTo:
    """Enters that the record is handed over, and writes it into a new file.

    Raises:
        NotFound: nobody of that slug is in the book.
        Refused: she was erased, agreed on a day to come, or the file is there.
        StandfastError: the school has no keys, or the file cannot be written.
    """
    who = person(desk, what.person)
    if faults := list(_objections(desk, what)):
        raise Refused("nothing was handed over", faults)
    key = signing_key(desk, passphrase)
    try:
        with made_new(out) as half:  # first: what cannot be written is not said to be handed over
            with desk.book.together():
                entry = desk.book.put_hand_over(what, desk.stamp())
                head = sign_head(desk, key)
                found = desk.book.record_of(who.id, entry.id)
                shown = desk.book.inclusions([one.id for one in found.entries], head["size"])
            carried = [_carried(*both) for both in zip(found.entries, shown, strict=True)]
            _fill(half, _content(desk, found, head, carried, key))
    except FileExistsError:
        raise Refused(
            "nothing was handed over", [f"{out} is there already; name another"]
        ) from None
    except OSError as error:
        raise StandfastError(f"{out}: {error.strerror}; name another file with --out") from None
    shortened = sum(one.leaf is not None for one in carried)
    names = tuple(name for _, _, name in found.people)
    return HandedOverTo(out, entry.id, len(carried), shortened, names, head["size"])


def _objections(desk: Desk, what: HandOver) -> Iterator[str]:
    if what.person not in desk.book.handles().values():
        yield "the name was erased: nobody can say any more whose record it is"
    if what.agreed > desk.calendar_day:
        yield f"she is to agree on {what.agreed}, which is to come"
    if what.to.casefold() in {desk.school.id, desk.school.name.casefold()}:
        yield f"'{what.to}' is this school; name the one that receives it"


def _fill(half: Path, content: bytes) -> None:
    try:
        write_through(half, content)
    except OSError as error:
        raise StandfastError(
            f"{half}: {error.strerror}; it is entered and was not written: do it again elsewhere"
        ) from None


def _carried(entry: Entry, shown: Inclusion) -> Carried:
    from standfast.seal.handed import Carried
    from standfast.store.handing import without_ties
    from standfast.store.journal import canonical_entry

    whole = canonical_entry(*entry[:-1]).decode()
    told = json.loads(whole)
    shorter = {**told, "body": without_ties(told["body"])}
    path = tuple(step.hex() for step in shown.path)
    if shorter == told:
        return Carried(entry=whole, index=shown.index, path=path)
    text = canonical(shorter).decode()
    return Carried(entry=text, index=shown.index, path=path, leaf=shown.leaf.hex())


def _content(
    desk: Desk, found: ToHandOver, head: dict[str, object], carried: list[Carried], key: SecretKey
) -> bytes:
    from standfast.seal.encoding import Unreadable
    from standfast.seal.handed import line_of, read, written

    who = person(desk, found.ref)
    (slug,) = [slug for ref, slug in desk.book.handles().items() if ref == found.ref]
    first = {
        "issuer": head["issuer"],
        "school": desk.school.id,
        "school_name": desk.school.name,
        "candidate": {"ref": found.ref, "slug": slug, "name": who.name},
        "people": [
            {"ref": ref, "slug": handle, "name": name} for ref, handle, name in found.people
        ],
        "head": head,
    }
    content = written(first, [line_of(one) for one in carried], key, desk.moment.now)
    try:
        read(content)  # as whoever receives it will
    except Unreadable as error:
        raise StandfastError(
            f"what was made cannot be read by others: {error}; it is entered and was not written"
        ) from None
    return content
