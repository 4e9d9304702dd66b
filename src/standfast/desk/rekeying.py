"""Changing the school's keys: a new one, the standby for one that is gone, a revoked one.

Each change is made under the book's turn to write, since two at once would each write a list that
does not know of the other; and a new key is on disk before the list that names it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, TypeAlias

from standfast.desk.keyfiles import KeyMade, instant, keep, listed, write
from standfast.desk.keyring import TRUST, Keyring, keyring, open_key, signing_key
from standfast.desk.opening import Desk
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey

Changes: TypeAlias = Mapping[str, Mapping[str, Any]]
"""What is listed otherwise from now on, by the text of the key."""


def rotate(desk: Desk, passphrase: str) -> KeyMade:
    """A new key for what is signed from now on; the old ones stay listed and keep what they signed.

    Raises:
        StandfastError: another passphrase.
    """
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey

    with desk.book.together():  # one at a time: else the second list would forget the first's key
        ring, old = keyring(desk), signing_key(desk, passphrase)
        now = _after(ring, desk.moment.now)
        new = SecretKey(desk.moment.random(32))
        more = ListedKey(key=new.public.multikey, since=instant(now))
        made = keep(ring.folder, new, passphrase, desk.moment.random, standby=False)
        _relist(desk, ring, {}, old, now, more)
    return made


def _after(ring: Keyring, now: datetime) -> datetime:
    """Now, or where the clock went back, a second after all that the list knows.

    The newest key signs, and others take no list that is older than theirs.
    """
    told = [ring.signed.file.made, *(one.since for one in ring.signed.file.keys)]
    return max(now, max(map(datetime.fromisoformat, told)) + timedelta(seconds=1))


def replace_lost(desk: Desk, passphrase: str, *, stolen: bool) -> tuple[KeyMade, KeyMade]:
    """The standby key signs from now on, and a new standby is made.

    Lost: nobody else has it, so nothing that it signed becomes invalid.  Stolen: it is listed as
    revoked from now on, and what it signed counts only as far as the record book shows it.

    Raises:
        StandfastError: another passphrase.
        StandfastError: the standby key's file is not here.
    """
    with desk.book.together():
        ring = keyring(desk)
        now = _after(ring, desk.moment.now)
        key = open_key(desk, ring.standby.key, passphrase)
        lost = {"revoked": instant(now)} if stolen else {}
        promoted = {"standby": False, "since": instant(now)}
        changes: Changes = {ring.signing.key: lost, ring.standby.key: promoted}
        made = _with_a_new_standby(desk, ring, changes, key, now, passphrase)
    return KeyMade(ring.file_of(key.public.multikey), key.public.thumbprint, standby=False), made


def revoke(desk: Desk, fingerprint: str, passphrase: str) -> KeyMade | None:
    """Lists a key as revoked that does not sign any more, or the standby: somebody else has it.

    What it signed counts from now on only as far as the record book shows it.  In the place of a
    standby another one is made, which is given back.

    Raises:
        Refused: it is none of the school's, signs now or is revoked already.
        StandfastError: another passphrase.
    """
    with desk.book.together():
        ring, found = keyring(desk), to_revoke(desk, fingerprint)
        key, now = signing_key(desk, passphrase), _after(ring, desk.moment.now)
        changes = {found.key: {"revoked": instant(now)}}
        if found.standby:
            return _with_a_new_standby(desk, ring, changes, key, now, passphrase)
        _relist(desk, ring, changes, key, now)
    return None


def to_revoke(desk: Desk, fingerprint: str) -> ListedKey:
    """The key of that fingerprint, if it can be revoked.

    Raises:
        Refused: it is none of the school's, signs now or is revoked already.
    """
    from standfast.seal.keys import PublicKey

    ring = keyring(desk)
    keys = {PublicKey.of(one.key).thumbprint: one for one in ring.signed.file.keys}
    found = keys.get(fingerprint)
    if found is None:
        why = "it is none of this school's keys; 'standfast keys show' lists them"
    elif found.revoked is not None:
        why = f"it was revoked on {found.revoked[:10]}"
    elif found == ring.signing:
        why = "it signs now: 'standfast keys lost --stolen' lets the standby take its place"
    else:
        return found
    raise Refused("nothing was revoked", [why])


def _with_a_new_standby(
    desk: Desk,
    ring: Keyring,
    changes: Changes,
    by: SecretKey,
    now: datetime,
    passphrase: str,
) -> KeyMade:
    """The list with these changes and a new standby key, which is on disk before the list."""
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey

    new = SecretKey(desk.moment.random(32))
    spare = ListedKey(key=new.public.multikey, since=instant(now), standby=True)
    made = keep(ring.folder, new, passphrase, desk.moment.random)
    _relist(desk, ring, changes, by, now, spare)
    return made


def _relist(
    desk: Desk,
    ring: Keyring,
    changes: Changes,
    by: SecretKey,
    now: datetime,
    *more: ListedKey,
) -> None:
    """Writes the list with these changes, each under the text of its key."""
    keys = (one.model_copy(update=changes.get(one.key, {})) for one in ring.signed.file.keys)
    whole = listed(ring.signed.file.issuer, desk.school.name, (*keys, *more), by, now)
    write(ring.folder / TRUST, whole, 0o644)
