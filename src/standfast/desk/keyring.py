"""The school's keys: made, kept in files beside the record book, changed when they must be.

In the folder `keys`: a file for each secret key, which only its passphrase opens, and `trust.json`,
the signed list of public keys that others import.  Secret keys are never in the record book, and a
backup of the book does not hold them.  A second key, the standby, is made on the first day and
belongs in a safe: with it the school goes on when the first is lost or stolen.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.opening import Desk
from standfast.problems import Refused, StandfastError

if TYPE_CHECKING:
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey, Signed

FOLDER, TRUST = "keys", "trust.json"
SHORTEST_PASSPHRASE = 12
TRIED = b"Standfast tries a key before it is used"


@dataclass(frozen=True)
class KeyMade:
    """A key that is on disk and was tried."""

    file: Path
    fingerprint: str
    standby: bool


@dataclass(frozen=True)
class Keyring:
    """What is known of the school's keys without any passphrase."""

    folder: Path
    signed: Signed

    @property
    def signing(self) -> ListedKey:
        """The key that signs now: the newest that is neither standby nor revoked."""
        return self._newest(standby=False)

    @property
    def standby(self) -> ListedKey:
        """The key in the safe."""
        return self._newest(standby=True)

    def _newest(self, *, standby: bool) -> ListedKey:
        found = [
            one for one in self.signed.file.keys if one.standby is standby and one.revoked is None
        ]
        if not found:
            what = "standby key" if standby else "key that signs"
            raise Refused(f"the school has no {what} any more; make its keys anew")
        return max(found, key=lambda one: datetime.fromisoformat(one.since))

    def file_of(self, multikey: str) -> Path:
        """Where the secret half lies, if it lies there."""
        return self.folder / f"{multikey[-12:]}.pem"


def keyring(desk: Desk) -> Keyring:
    """The school's keys.

    Raises:
        StandfastError: it has none, or the list of them cannot be read.
    """
    from standfast.seal.encoding import Unreadable
    from standfast.seal.trust import read

    folder = desk.root / FOLDER
    try:
        content = (folder / TRUST).read_bytes()
    except FileNotFoundError:
        raise StandfastError(
            f"{folder}: the school has no keys yet; 'standfast keys make' makes them"
        ) from None
    try:
        return Keyring(folder, read(content))
    except Unreadable as error:
        raise StandfastError(
            f"{folder / TRUST}: {error}; take the copy that others have imported"
        ) from None


def passphrase_faults(passphrase: str) -> list[str]:
    """What is wrong with a new passphrase."""
    if len(passphrase) < SHORTEST_PASSPHRASE:
        return [f"a passphrase has {SHORTEST_PASSPHRASE} characters or more; a few words will do"]
    return []


def make(desk: Desk, issuer: str | None, passphrase: str) -> tuple[KeyMade, KeyMade]:
    """The school's first key and its standby, each in a file, and the list that others import.

    `issuer` is an https address of the school's own; without one the key itself is the name, and
    a new key will be a new name.

    Raises:
        Refused: there are keys already, or a passphrase that is too short.
        StandfastError: an address that is none, or the files cannot be written.
    """
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey

    folder = desk.root / FOLDER
    faults = passphrase_faults(passphrase)
    if (folder / TRUST).exists():
        faults.append(f"{folder} has keys already; 'standfast keys rotate' makes a new one")
    if faults:
        raise Refused("no key was made", faults)
    first, standby = (SecretKey(desk.moment.random(32)) for _ in range(2))
    name = issuer or f"did:key:{first.public.multikey}"
    now = _instant(desk.moment.now)
    keys = (
        ListedKey(key=first.public.multikey, since=now),
        ListedKey(key=standby.public.multikey, since=now, standby=True),
    )
    listed = _listed(desk, name, keys, first)
    made = (_kept(desk, first, passphrase, standby=False), _kept(desk, standby, passphrase))
    _write(folder / TRUST, listed, 0o644)
    return made


def open_key(desk: Desk, multikey: str, passphrase: str) -> SecretKey:
    """A secret key of the school's.

    Raises:
        Refused: another passphrase.
        StandfastError: its file is not here, or holds another key.
    """
    from standfast.seal.encoding import Unreadable
    from standfast.seal.keys import from_pem

    file = keyring(desk).file_of(multikey)
    try:
        key = from_pem(file.read_bytes(), passphrase)
    except FileNotFoundError:
        raise StandfastError(
            f"{file}: the key is not here; bring it back from where it is kept"
        ) from None
    except Unreadable as error:
        raise StandfastError(f"{file}: {error}") from None
    if key.public.multikey != multikey:
        raise StandfastError(f"{file}: holds another key than the list names")
    return key


def signing_key(desk: Desk, passphrase: str) -> SecretKey:
    """The key that signs now; raises as `open_key`."""
    return open_key(desk, keyring(desk).signing.key, passphrase)


def rotate(desk: Desk, passphrase: str) -> KeyMade:
    """A new key for what is signed from now on; the old ones stay listed and keep what they signed.

    Raises:
        Refused: another passphrase.
    """
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey

    ring, old = keyring(desk), signing_key(desk, passphrase)
    new = SecretKey(desk.moment.random(32))
    more = ListedKey(key=new.public.multikey, since=_instant(desk.moment.now))
    listed = _listed(desk, ring.signed.file.issuer, (*ring.signed.file.keys, more), old)
    made = _kept(desk, new, passphrase, standby=False)
    _write(ring.folder / TRUST, listed, 0o644)
    return made


def replace_lost(desk: Desk, passphrase: str, *, stolen: bool) -> tuple[KeyMade, KeyMade]:
    """The standby key signs from now on, and a new standby is made.

    Lost: nobody else has it, so nothing that it signed becomes invalid.  Stolen: it is listed as
    revoked from now on, and what it signed counts only as far as the record book shows it.

    Raises:
        Refused: another passphrase.
        StandfastError: the standby key's file is not here.
    """
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey

    ring = keyring(desk)
    lost, now = ring.signing, _instant(desk.moment.now)
    key = open_key(desk, ring.standby.key, passphrase)
    new = SecretKey(desk.moment.random(32))
    revoked = {"revoked": now} if stolen else {}
    keys = tuple(
        one.model_copy(update=revoked)
        if one == lost
        else one.model_copy(update={"standby": False, "since": now})
        if one.key == key.public.multikey
        else one
        for one in ring.signed.file.keys
    )
    spare = ListedKey(key=new.public.multikey, since=now, standby=True)
    listed = _listed(desk, ring.signed.file.issuer, (*keys, spare), key)
    made = _kept(desk, new, passphrase)
    _write(ring.folder / TRUST, listed, 0o644)
    return KeyMade(ring.file_of(key.public.multikey), key.public.thumbprint, standby=False), made


def paper_copy(desk: Desk, passphrase: str, *, standby: bool) -> str:
    """The secret as text of 48 letters, for a sheet of paper in a safe.

    Raises:
        Refused: another passphrase.
    """
    ring = keyring(desk)
    return open_key(desk, (ring.standby if standby else ring.signing).key, passphrase).multikey


def bring(desk: Desk, text: str, passphrase: str) -> KeyMade:
    """Brings a key back from its paper copy, spaces and line ends as they may be.

    Raises:
        Refused: it is none of the school's keys, or a passphrase that is too short.
    """
    from standfast.seal.encoding import Unreadable
    from standfast.seal.keys import SecretKey

    ring, faults = keyring(desk), passphrase_faults(passphrase)
    try:
        key = SecretKey.of("".join(text.split()))
    except Unreadable:
        raise Refused(
            "nothing was brought back", ["a letter is wrong: read it once more"]
        ) from None
    listed = ring.signed.file.find(key.public.multikey)
    if listed is None:
        faults.append("it is a key, but none of this school's")
    if faults or listed is None:
        raise Refused("nothing was brought back", faults)
    return _kept(desk, key, passphrase, standby=listed.standby)


def _kept(desk: Desk, key: SecretKey, passphrase: str, *, standby: bool = True) -> KeyMade:
    """Writes the key, reads it back, and tries it, before anything depends on it."""
    from standfast.seal.keys import from_pem, to_pem

    folder = desk.root / FOLDER
    file = folder / f"{key.public.multikey[-12:]}.pem"
    _write(file, to_pem(key, passphrase, desk.moment.random), 0o600)
    back = from_pem(file.read_bytes(), passphrase)
    if not key.public.verifies(back.sign(TRIED), TRIED):
        raise StandfastError(f"{file}: the key that was written does not sign; try another disk")
    return KeyMade(file, key.public.thumbprint, standby)


def _listed(desk: Desk, issuer: str, keys: Iterable[ListedKey], by: SecretKey) -> bytes:
    """The list of the school's keys, signed."""
    from pydantic import ValidationError

    from standfast.seal.encoding import Unreadable
    from standfast.seal.trust import made

    try:
        return made(issuer, desk.school.name, tuple(keys), by, desk.moment.now).content
    except (ValidationError, Unreadable):
        raise StandfastError(
            f"{issuer}: no address that a school can be known by; write https:// and the school's"
            " own site, such as https://school.example/issuer"
        ) from None


def _write(file: Path, content: bytes, mode: int) -> None:
    """The file whole or not at all, for nobody else's eyes when it is secret."""
    half = file.with_name(f".{file.name}.{os.getpid()}")
    try:
        file.parent.mkdir(mode=0o700, exist_ok=True)
        with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        half.replace(file)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise StandfastError(f"{file}: {error.strerror}; check who may write there") from None


def _instant(now: datetime) -> str:
    return now.strftime("%Y-%m-%dT%H:%M:%SZ")
