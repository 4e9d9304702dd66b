"""Coming in over the web: accounts, signing in, and waiting after too many failures."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from typing import TYPE_CHECKING, TypeAlias

from standfast.desk.opening import Desk
from standfast.desk.people import person as person_of
from standfast.model.account import ROLES, Account, Device, Role
from standfast.problems import Refused, StandfastError

if TYPE_CHECKING:
    from argon2 import PasswordHasher

    from standfast.store.access import Session

TOKEN_BYTES = 32
IDLE = timedelta(hours=12)
"""A session that was not used for so long has ended: ours, no source."""
LONGEST = timedelta(days=14)
"""However much it is used: ours, no source."""
SEEN_AGAIN = timedelta(minutes=5)
"""How often it is kept that a session was used, so that reading a page seldom writes."""
SHORTEST_PASSWORD = 12
LONGEST_SECRET = 200
PIN = re.compile(r"^\d{4,8}$")
FREE_TRIES, FREE_FROM_ADDRESS = 5, 20
"""Failures before one must wait: with a login, and from an address, which a studio may share."""
FIRST_WAIT, LONGEST_WAIT = timedelta(seconds=30), timedelta(minutes=15)
"""Then the next try must wait, twice as long after each.  All of these are ours, no source."""
FORGOTTEN = timedelta(days=1)
"""After so long without another, failures count no more."""


class TooSoon(StandfastError):  # noqa: N818 - said to a person who must wait
    """Too many failures; `wait` says how long until the next try."""

    def __init__(self, wait: timedelta) -> None:
        self.wait = wait
        seconds = max(1, round(wait.total_seconds()))
        super().__init__(f"too many tries went wrong; wait {seconds} seconds and try again")


class Ended(Exception):  # noqa: N818 - leads to the door, is no fault
    """A session has ended by itself; `account` is whose it was."""

    def __init__(self, account: Account) -> None:
        self.account = account
        super().__init__("the session has ended")


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()


def hashed(secret: str) -> str:
    """The secret as it is kept: Argon2id with the parameters of RFC 9106 for 64 MiB."""
    return _hasher().hash(secret)


@cache
def nobodys() -> str:
    """What a password for no account is checked against, so that it takes as long."""
    return hashed("nobody has this password")


def matches(kept: str, secret: str) -> bool:
    """Whether it is the secret that was kept."""
    from argon2.exceptions import VerifyMismatchError

    if len(secret) > LONGEST_SECRET:
        return False
    try:
        return _hasher().verify(kept, secret)
    except VerifyMismatchError:
        return False


def add_account(
    desk: Desk,
    login: str,
    roles: Iterable[Role],
    password: str,
    *,
    person: str | None = None,
    pin: str | None = None,
) -> Account:
    """Makes an account.

    Raises:
        Refused: login taken, no role, assessor or certifier who is nobody in the book, somebody
            who has an account, a password or PIN that is too easy.
        NotFound: no such person.
    """
    from standfast.store.access import Secrets

    wanted = tuple(role for role in ROLES if role in set(roles))
    if person is not None:
        person = person_of(desk, person).id
    faults = [*_account_faults(wanted, person), *secret_faults(password, pin)]
    refuse([*faults, *_another(desk, person)])
    account = Account(id=desk.new_key(), login=login, person=person, roles=wanted)
    secrets = Secrets(hashed(password), None if pin is None else hashed(pin))
    desk.book.access.add(account, secrets, desk.moment.now)
    return account


def refuse(faults: Iterable[str]) -> None:
    """Nothing, when there are no faults.

    Raises:
        Refused: with all of them.
    """
    found = list(faults)
    if found:
        raise Refused("nothing was changed", found)


def _account_faults(roles: tuple[Role, ...], person: str | None) -> Iterable[str]:
    if not roles:
        yield f"an account needs a role: {', '.join(ROLES)}"
    if person is None and {"assessor", "certifier"} & set(roles):
        yield "assessors and certifiers are somebody in the record book; name the person"


def _another(desk: Desk, person: str | None) -> Iterable[str]:
    """One person, one account: what comes from a shared device must be somebody's alone."""
    for one in desk.book.access.all():
        if person is not None and one.person == person and one.closed is None:
            yield f"{person} has the account {one.login}; change or close that one"


def secret_faults(password: str | None, pin: str | None) -> Iterable[str]:
    """What is wrong with a new password and a new PIN."""
    if password is not None and not SHORTEST_PASSWORD <= len(password) <= LONGEST_SECRET:
        yield (
            f"a password has {SHORTEST_PASSWORD} to {LONGEST_SECRET} characters; a few words in a"
            " row are long and easy to keep in mind"
        )
    if pin is not None and not PIN.match(pin):
        yield "a PIN has 4 to 8 digits"


def change_account(
    desk: Desk,
    login: str,
    *,
    roles: Iterable[Role] | None = None,
    password: str | None = None,
    pin: str | None = None,
    shown: Trying | None = None,
) -> None:
    """Changes roles, password or PIN; whoever is signed in with it must do so again.

    With `shown`, the secret by which somebody showed that it is hers, nothing is changed once that
    is another.

    Raises:
        NotFound: no such account.
        Refused: as for a new one, or the secret is another by now.
    """
    known = desk.book.access.find(login)
    faults = list(secret_faults(password, pin))
    wanted = None if roles is None else tuple(role for role in ROLES if role in set(roles))
    if known is not None and wanted is not None:
        faults += _account_faults(wanted, known[0].person)
    refuse(faults)
    new = [None if secret is None else hashed(secret) for secret in (password, pin)]
    with desk.book.together():
        if shown is not None and not _holds(desk, shown):
            refuse([f"the account was changed meanwhile; sign in as {login} again"])
        desk.book.access.change(login, roles=wanted, password=new[0], pin=new[1])


# --- signing in -----------------------------------------------------------------------------


Counted: TypeAlias = "tuple[tuple[str, int], ...]"


@dataclass(frozen=True)
class Trying:
    """Somebody who gave a login and a secret, before the secret was checked.

    Checking takes a tenth of a second on purpose, so whoever serves many does it elsewhere:
    `matches(trying.kept, secret)`, then `sign_in`.
    """

    login: str
    account: Account | None
    kept: str
    counted: Counted
    """Under which names a failure is counted, and how many are free."""


def begin_sign_in(desk: Desk, login: str, address: str) -> Trying:
    """What to check the password of that login against.

    Raises:
        TooSoon: too many tries with that login, or from that address, went wrong.
    """
    counted = ((f"login:{login[:64]}", FREE_TRIES), (f"from:{address}", FREE_FROM_ADDRESS))
    refuse_too_soon(desk, counted)
    known = desk.book.access.find(login)
    if known is None or known[0].closed:
        return Trying(login, None, nobodys(), counted)
    return Trying(login, known[0], known[1].password, counted)


def refuse_too_soon(desk: Desk, counted: Counted) -> None:
    """Nothing, when the next try may come now.

    Raises:
        TooSoon: it may not.
    """
    now = desk.moment.now
    for whose, free in counted:
        found = desk.book.access.failures(whose)
        if found is None or found.last - now > LONGEST_WAIT:
            continue  # counted by a clock that was wrong: nobody is kept out until it is right
        until = found.last + wait_after(found.count, free)
        if until > now:
            raise TooSoon(until - now)


def wait_after(count: int, free: int = FREE_TRIES) -> timedelta:
    """How long the next try must wait after so many failures, the last of which was now.

    >>> [wait_after(count).seconds for count in (4, 5, 6, 9, 99)]
    [0, 30, 60, 480, 900]
    """
    if count < free:
        return timedelta()
    doubled = FIRST_WAIT * int(2 ** min(count - free, 10))
    return min(doubled, LONGEST_WAIT)


def count_failure(desk: Desk, counted: Counted) -> None:
    """Counts one more under each name."""
    access, now = desk.book.access, desk.moment.now
    for whose, _ in counted:
        found = access.failures(whose)
        if found and now - found.last > FORGOTTEN:
            access.went_well(whose)
        access.failed(whose, now)


def sign_in(desk: Desk, trying: Trying, *, matched: bool) -> bytes | None:
    """The token of a new session; None, and a failure counted, when it did not match.

    What matched a password that is another by now lets nobody in.
    """
    access = desk.book.access
    with desk.book.together():
        if trying.account is None or not matched or not _holds(desk, trying):
            count_failure(desk, trying.counted)
            return None
        access.went_well(trying.counted[0][0])  # the login; an address may be somebody else's too
        token = desk.moment.random(TOKEN_BYTES)
        access.begin_session(trying.account.id, token, desk.moment.now)
    return token


def _holds(desk: Desk, trying: Trying) -> bool:
    """Whether the secret that was checked is still that of the account, and the account open."""
    known = desk.book.access.find(trying.login)
    if known is None or known[0].closed:
        return False
    return trying.kept in {known[1].password, known[1].pin}


def session_of(desk: Desk, token: bytes) -> Session | None:
    """The session of that token while it lasts.

    Raises:
        Ended: it has ended by itself; asked again, there is none.
    """
    access, now = desk.book.access, desk.moment.now
    found = access.session(token)
    if found is None:
        return None
    # Seen long after now: by a clock that was wrong, and by which it would hardly ever end.
    if abs(now - found.seen) > IDLE or now - found.began > LONGEST:
        access.end_session(token)
        raise Ended(found.account)
    if now - found.seen > SEEN_AGAIN:
        access.see_session(token, now)
    return found


def forget_old_sessions(desk: Desk) -> None:
    """Takes away the sessions that have ended by themselves."""
    now: datetime = desk.moment.now
    desk.book.access.end_sessions(unseen_since=now - IDLE, begun_by=now - LONGEST)


# --- PINs -----------------------------------------------------------------------------------


def begin_pin(desk: Desk, account: Account) -> Trying:
    """What to check a PIN of that account against; afterwards `pin_told`.

    Raises:
        TooSoon: too many tries with it went wrong.
        Refused: the account has none.
    """
    counted = ((f"pin:{account.login}", FREE_TRIES),)
    refuse_too_soon(desk, counted)
    known = desk.book.access.find(account.login)
    if known is None or known[0].closed or known[1].pin is None:
        raise Refused(
            f"{account.login} has no PIN",
            ["sign in with the password and confirm there, or have the office set a PIN"],
        )
    return Trying(account.login, known[0], known[1].pin, counted)


def pin_told(desk: Desk, trying: Trying, *, matched: bool) -> None:
    """Counts how it went.

    Raises:
        Refused: it did not match.
    """
    if not matched or not _holds(desk, trying):
        count_failure(desk, trying.counted)
        raise Refused("this is not the PIN", [f"it is that of {trying.login}; try again"])
    desk.book.access.went_well(trying.counted[0][0])


# --- devices --------------------------------------------------------------------------------


def enrol_device(desk: Desk, key: str, name: str, by: Account) -> tuple[Device, bytes]:
    """A device that may send what is scored on it, and its token, which is shown once.

    `key` is the device's id, made with the form: a form that comes again, though its device was
    revoked meanwhile, enrols nothing.

    Raises:
        Refused: another device that may send has the name, or this one was there.
    """
    with desk.book.together():
        known = desk.book.access.devices()
        if any(one.name == name and one.revoked is None for one in known):
            raise Refused(f"a device called '{name}' may send already; choose another name")
        if any(one.id == key for one in known):
            raise Refused(
                "nothing was enrolled",
                ["this form was sent before, and its device was revoked; fill it in again"],
            )
        token = desk.moment.random(TOKEN_BYTES)
        device = Device(id=key, name=name, enrolled=desk.moment.now, by=by.login)
        desk.book.access.enrol(device, token)
    return device, token
