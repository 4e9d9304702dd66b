"""Entering people and settings from the school's files into its record book."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from standfast.desk.opening import Desk
from standfast.model.people import Person
from standfast.problems import BadInput, NotFound, StandfastError


@dataclass(frozen=True)
class Entered:
    """What entering the files changed in the book."""

    new: tuple[str, ...]
    changed: tuple[str, ...]
    same: int


def enter_files(desk: Desk) -> Entered:
    """Enters the school's settings and every person of its files who is new or changed.

    Raises:
        BadInput: a file has faults; nothing was entered.
    """
    found = desk.definitions
    if found.problems:
        raise BadInput(found.problems)
    desk.book.put_school(desk.school, desk.stamp())
    return enter(desk, [placed.noun for placed in found.people])


def enter(desk: Desk, people: Iterable[Person]) -> Entered:
    """Enters those of the people who are new or changed, all of them or none."""
    known = {person.id: person for person in desk.book.people()}
    wanted = {person.id: person for person in people}
    _refuse_unknown_trainers(wanted, {*known, *wanted})
    new = tuple(sorted(wanted.keys() - known.keys()))
    changed = tuple(sorted(id for id in wanted.keys() & known.keys() if wanted[id] != known[id]))
    desk.book.put_people([wanted[id] for id in (*new, *changed)], desk.stamp)
    return Entered(new, changed, len(wanted) - len(new) - len(changed))


def _refuse_unknown_trainers(wanted: dict[str, Person], known: set[str]) -> None:
    for person in wanted.values():
        for trainer in sorted(person.trainers() - known):
            raise NotFound(f"trainer (of {person.id})", trainer, known)


def unentered(desk: Desk) -> tuple[str, ...]:
    """The people whose files say something that the book does not know yet."""
    known = {person.id: person for person in desk.book.people()}
    return tuple(
        placed.noun.id
        for placed in desk.definitions.people
        if known.get(placed.noun.id) != placed.noun
    )


def person(desk: Desk, wanted: str) -> Person:
    """The person of that slug, as the book knows them.

    Raises:
        NotFound: nobody of that slug is in the book.
    """
    found = desk.book.find_person(wanted)
    if found is None:
        raise NotFound("person in the record book", wanted, [p.id for p in desk.book.people()])
    return found
