"""What may leave the record book after a time: all of it beside the journal.

The journal, the heads given out and the records of devices are never deleted, which the databases'
own guards hold; people leave by being erased (`people.erase`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Select, delete, func, select

from standfast.store.journal import instant
from standfast.store.tables import (
    accounts,
    awards,
    failures,
    held,
    identity,
    journal,
    sessions,
    settled,
    sheets,
)
from standfast.store.transactions import Transactions


class Keeping:
    """What may go; `Book.keeping` gives it."""

    def __init__(self, transactions: Transactions) -> None:
        self._reading = transactions.reading
        self._writing = transactions.writing

    def settled(self, before: datetime) -> tuple[tuple[int, str], ...]:
        """Number and instant of each held record that was settled before."""
        query = select(settled.c.held, settled.c.at).where(settled.c.at < instant(before))
        return self._pairs(query.order_by(settled.c.held))

    def forget_settled(self, keys: Sequence[int]) -> None:
        """Deletes these held records, and what was done about them."""
        with self._writing() as writing:
            writing.conn.execute(delete(settled).where(settled.c.held.in_(keys)))
            writing.conn.execute(delete(held).where(held.c.key.in_(keys)))

    def unused_sessions(self, before: datetime) -> tuple[tuple[str, str], ...]:
        """Login and last use of each session that was not used since."""
        query = (
            select(accounts.c.login, sessions.c.seen)
            .join(accounts, accounts.c.id == sessions.c.account)
            .where(sessions.c.seen < instant(before))
        )
        return self._pairs(query.order_by(accounts.c.login, sessions.c.seen))

    def end_unused_sessions(self, before: datetime) -> None:
        """Ends the sessions that were not used since."""
        with self._writing() as writing:
            writing.conn.execute(delete(sessions).where(sessions.c.seen < instant(before)))

    def old_failures(self, before: datetime) -> tuple[tuple[str, str], ...]:
        """Whose signing in failed, and when last, where that is before."""
        query = select(failures.c.whose, failures.c.last).where(failures.c.last < instant(before))
        return self._pairs(query.order_by(failures.c.whose))

    def forget_failures(self, before: datetime) -> None:
        """Forgets failures to sign in of which the last is before."""
        with self._writing() as writing:
            writing.conn.execute(delete(failures).where(failures.c.last < instant(before)))

    def closed_accounts(self, before: datetime) -> tuple[tuple[str, str], ...]:
        """Login of each account that was closed before, and when."""
        query = select(accounts.c.login, accounts.c.closed).where(
            accounts.c.closed < instant(before)
        )
        return self._pairs(query.order_by(accounts.c.login))

    def delete_accounts(self, logins: Sequence[str]) -> None:
        """Deletes accounts, by login, and their sessions."""
        with self._writing() as writing:
            these = select(accounts.c.id).where(accounts.c.login.in_(logins))
            writing.conn.execute(delete(sessions).where(sessions.c.account.in_(these)))
            writing.conn.execute(delete(accounts).where(accounts.c.login.in_(logins)))

    def last_days(self) -> dict[str, dict[str, str]]:
        """For everybody who has a name, by slug, the last day of each kind of thing about her.

        Kinds: `entry` about her, `scored` by her, `award` of hers ends.
        """
        found: dict[str, dict[str, str]] = {}
        with self._reading() as reading:
            for kind, query in _LAST.items():
                for ref, day in reading.conn.execute(query):
                    found.setdefault(reading.names.handle(ref), {})[kind] = day[:10]
            named = set(reading.conn.scalars(select(identity.c.handle)))
        return {slug: days for slug, days in found.items() if slug in named}

    def _pairs(self, query: Select[Any, Any]) -> tuple[tuple[Any, str], ...]:
        with self._reading() as reading:
            return tuple((row[0], str(row[1])) for row in reading.conn.execute(query))


_LAST = {
    "entry": select(journal.c.about, func.max(journal.c.at))
    .where(journal.c.about.is_not(None))
    .group_by(journal.c.about),
    "scored": select(sheets.c.assessor, func.max(sheets.c.day)).group_by(sheets.c.assessor),
    "award": select(awards.c.candidate, func.max(awards.c.last_day)).group_by(awards.c.candidate),
}
