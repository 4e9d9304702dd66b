"""Looking after the record book: audit, replay, rebuild, forgetting a person."""

from __future__ import annotations

from typing import TYPE_CHECKING

from standfast.desk.opening import Desk
from standfast.engine.decide import decide

if TYPE_CHECKING:
    from standfast.store.audit import Audit
    from standfast.store.replay import Differing


def audit(desk: Desk) -> Audit:
    """Checks file, guards, journal, tree and tables, and makes every decision again."""
    return desk.book.audit(decide)


def replay(desk: Desk) -> tuple[int, tuple[Differing, ...]]:
    """Makes every decision again; gives how many, and those that came out otherwise."""
    return desk.book.replay(decide)


def rebuild(desk: Desk) -> int:
    """Makes the derived tables anew from the journal; gives the number of entries read."""
    return desk.book.rebuild()


def forget(desk: Desk, person: str) -> str:
    """Erases a person's name and contact for ever; gives the entry that says so."""
    return desk.book.erase(person, desk.stamp()).id
