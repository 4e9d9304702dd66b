"""Sums over the schools of one database that agreed to share them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from standfast.desk.grouped import GroupedCriterion, agreement_of
from standfast.desk.opening import Desk

if TYPE_CHECKING:
    from standfast.model.federation import Shared
    from standfast.store.federation import Federation


@dataclass(frozen=True)
class Seen:
    """What the federation sees."""

    found: Federation
    agreement: tuple[GroupedCriterion, ...]
    """Least alike first."""


def share(desk: Desk, shares: tuple[Shared, ...]) -> str | None:
    """Enters what the school shares from now on, nothing when empty; the entry, when it is new."""
    entry = desk.book.put_shares(shares, desk.stamp())
    return None if entry is None else entry.id


def look(address: str) -> Seen:
    """What may be known over all schools that agreed, at the address of the federation's role.

    Raises:
        RecordBookError: no such database, or a role that may not ask.
    """
    from standfast.store.federation import look as ask

    found = ask(address)
    return Seen(found, agreement_of(found.marks))


def dismiss(owner: str, role: str) -> None:
    """Lets the role ask for nothing any more; the owner of the database does it.

    Raises:
        RecordBookError: the database will not do, or the role could not ask.
    """
    from standfast.store import founding

    with founding.owning(owner) as conn:
        founding.dismiss_federation(conn, role)


def admit(owner: str, role: str) -> None:
    """Lets the role ask for sums; the owner of the database does it.

    Raises:
        RecordBookError: the database or the role will not do.
    """
    from standfast.store import founding

    with founding.owning(owner) as conn:
        founding.make_tables(conn)
        founding.admit_federation(conn, role)
