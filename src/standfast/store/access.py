"""Who may come in over the web: accounts, sessions, devices, and failures to sign in.

No part of the record: nothing here says what was seen or decided, so nothing is in the journal.
Passwords come hashed; of tokens only the SHA-256 is kept, so that who reads the file cannot come
in with it.  A person is an opaque id here as in the journal; erasing the person takes the account.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from sqlalchemy import Row, Select, delete, insert, select, update

from standfast.model.account import Account, Device, Role
from standfast.problems import NotFound, Refused
from standfast.store.journal import instant
from standfast.store.tables import accounts, devices, failures, sessions
from standfast.store.transactions import Transactions
from standfast.store.writing import Reading


@dataclass(frozen=True)
class Secrets:
    """What an account is checked against."""

    password: str
    pin: str | None


@dataclass(frozen=True)
class Session:
    """Somebody who signed in."""

    account: Account
    began: datetime
    seen: datetime


@dataclass(frozen=True)
class Failures:
    """How often signing in failed since it last went well."""

    count: int
    last: datetime


class Access:
    """The accounts of one record book; `Book.access` gives it.

    Raised by all: `RecordBookError` when the book cannot be read or written.
    """

    def __init__(self, transactions: Transactions) -> None:
        self._reading = transactions.reading
        self._writing = transactions.writing

    # --- accounts -------------------------------------------------------------------------

    def add(self, account: Account, secrets: Secrets, now: datetime) -> None:
        """Makes an account.

        Raises:
            Refused: the login is taken.
            NotFound: the person is not in the book.
        """
        with self._writing() as writing:
            taken = select(accounts.c.id).where(accounts.c.login == account.login)
            if writing.conn.scalar(taken) is not None:
                raise Refused(f"the login {account.login} is taken; choose another")
            whose = None if account.person is None else writing.names.ref(account.person)
            told = (json.dumps(account.roles), secrets.password, secrets.pin, instant(now))
            row = (account.id, account.login, whose, *told, None)
            writing.conn.execute(insert(accounts).values(row))

    def all(self) -> tuple[Account, ...]:
        """Every account, closed ones too, by login."""
        with self._reading() as reading:
            rows = reading.conn.execute(_ACCOUNTS.order_by(accounts.c.login))
            return tuple(_account(reading, row) for row in rows)

    def find(self, login: str) -> tuple[Account, Secrets] | None:
        """The account of that login, closed ones too, and what it is checked against."""
        query = select(accounts).where(accounts.c.login == login)
        with self._reading() as reading:
            row = reading.conn.execute(query).one_or_none()
            return row and (_account(reading, row), Secrets(row.password, row.pin))

    def change(
        self,
        login: str,
        *,
        roles: Iterable[Role] | None = None,
        password: str | None = None,
        pin: str | None = None,
    ) -> None:
        """Changes what is named; whoever is signed in with the account must do so again.

        Raises:
            NotFound: no such account.
        """
        told = {
            "roles": None if roles is None else json.dumps(sorted(roles)),
            "password": password,
            "pin": pin,
        }
        self._change(login, {name: value for name, value in told.items() if value is not None})

    def close(self, login: str, now: datetime) -> None:
        """Nobody comes in with the account any more; its sessions end.

        Raises:
            NotFound: no such account.
        """
        self._change(login, {"closed": instant(now)})

    def _change(self, login: str, values: dict[str, str]) -> None:
        with self._writing() as writing:
            rows = writing.conn.execute(select(accounts.c.login, accounts.c.id))
            known = {row.login: row.id for row in rows}
            if login not in known:
                raise NotFound("account", login, known)
            if values:
                of = accounts.c.id == known[login]
                writing.conn.execute(update(accounts).where(of).values(values))
            writing.conn.execute(delete(sessions).where(sessions.c.account == known[login]))

    # --- sessions -------------------------------------------------------------------------

    def begin_session(self, account: str, token: bytes, now: datetime) -> None:
        """Keeps that somebody signed in; `account` is its id, the token random."""
        row = (_hashed(token), account, instant(now), instant(now))
        with self._writing() as writing:
            writing.conn.execute(insert(sessions).values(row))

    def session(self, token: bytes) -> Session | None:
        """Whose session it is; None for one that is not there or whose account is closed."""
        query = (
            select(accounts, sessions.c.began, sessions.c.seen)
            .join(sessions, sessions.c.account == accounts.c.id)
            .where(sessions.c.token == _hashed(token), accounts.c.closed.is_(None))
        )
        with self._reading() as reading:
            row = reading.conn.execute(query).one_or_none()
            if row is None:
                return None
            return Session(_account(reading, row), _moment(row.began), _moment(row.seen))

    def see_session(self, token: bytes, now: datetime) -> None:
        """Keeps that the session was used."""
        of = sessions.c.token == _hashed(token)
        with self._writing() as writing:
            writing.conn.execute(update(sessions).where(of).values(seen=instant(now)))

    def end_session(self, token: bytes) -> None:
        """Ends it, if it is there."""
        with self._writing() as writing:
            writing.conn.execute(delete(sessions).where(sessions.c.token == _hashed(token)))

    def end_sessions(self, *, unseen_since: datetime, begun_by: datetime) -> None:
        """Ends those that were not used since, and those that began that early."""
        idle = sessions.c.seen < instant(unseen_since)
        old = sessions.c.began < instant(begun_by)
        with self._writing() as writing:
            writing.conn.execute(delete(sessions).where(idle | old))

    # --- devices --------------------------------------------------------------------------

    def enrol(self, device: Device, token: bytes) -> None:
        """Lets a device send what is scored on it."""
        row = (device.id, device.name, _hashed(token), instant(device.enrolled), device.by, None)
        with self._writing() as writing:
            writing.conn.execute(insert(devices).values(row))

    def devices(self) -> tuple[Device, ...]:
        """Every device that was ever enrolled, oldest first."""
        with self._reading() as reading:
            return tuple(map(_device, reading.conn.execute(_DEVICES)))

    def device(self, token: bytes) -> Device | None:
        """Which device it is; None when it is not there or was revoked."""
        query = _DEVICES.where(devices.c.token == _hashed(token), devices.c.revoked.is_(None))
        with self._reading() as reading:
            row = reading.conn.execute(query).one_or_none()
            return None if row is None else _device(row)

    def revoke(self, device: str, now: datetime) -> None:
        """Nothing is taken from the device of that id any more.

        Raises:
            NotFound: no such device.
        """
        with self._writing() as writing:
            known = tuple(writing.conn.scalars(select(devices.c.id)))
            if device not in known:
                raise NotFound("device", device, known)
            of = (devices.c.id == device) & devices.c.revoked.is_(None)
            writing.conn.execute(update(devices).where(of).values(revoked=instant(now)))

    # --- failures -------------------------------------------------------------------------

    def failures(self, whose: str) -> Failures | None:
        """How often and when last it failed; None when it did not."""
        query = select(failures.c.times, failures.c.last).where(failures.c.whose == whose)
        with self._reading() as reading:
            row = reading.conn.execute(query).one_or_none()
            return None if row is None else Failures(row.times, _moment(row.last))

    def failed(self, whose: str, now: datetime) -> None:
        """Counts one more."""
        of = failures.c.whose == whose
        with self._writing() as writing:
            more = {"times": failures.c.times + 1, "last": instant(now)}
            if not writing.conn.execute(update(failures).where(of).values(more)).rowcount:
                writing.conn.execute(insert(failures).values((whose, 1, instant(now))))

    def went_well(self, whose: str) -> None:
        """Forgets them."""
        with self._writing() as writing:
            writing.conn.execute(delete(failures).where(failures.c.whose == whose))


def forget_accounts(writing: Reading, person: str) -> None:
    """Deletes the accounts of a person, by opaque id, and their sessions."""
    theirs = select(accounts.c.id).where(accounts.c.person == person)
    writing.conn.execute(delete(sessions).where(sessions.c.account.in_(theirs)))
    writing.conn.execute(delete(accounts).where(accounts.c.person == person))


_ACCOUNTS: Select[tuple[object, ...]] = select(accounts)
_DEVICES: Select[tuple[object, ...]] = select(devices).order_by(devices.c.enrolled, devices.c.id)


def _hashed(token: bytes) -> bytes:
    return sha256(token).digest()


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _account(reading: Reading, row: Row[tuple[object, ...]]) -> Account:
    return Account(
        id=row.id,
        login=row.login,
        person=None if row.person is None else reading.names.handle(row.person),
        roles=tuple(json.loads(row.roles)),
        closed=None if row.closed is None else _moment(row.closed),
    )


def _device(row: Row[tuple[object, ...]]) -> Device:
    return Device(
        id=row.id,
        name=row.name,
        enrolled=_moment(row.enrolled),
        by=row.enrolled_by,
        revoked=None if row.revoked is None else _moment(row.revoked),
    )
