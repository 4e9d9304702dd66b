"""The school's keys: made, kept in files beside the record book, changed when they must be.

In the folder `keys`: a file for each secret key, which only its passphrase opens, and `trust.json`,
the signed list of public keys that others import.  Secret keys are never in the record book, and a
backup of the book does not hold them.  A second key, the standby, is made on the first day and
belongs in a safe: with it the school goes on when the first is lost or stolen.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.keyfiles import KeyMade, file_of, instant, keep, listed, secrets_in, write
from standfast.desk.opening import Desk
from standfast.problems import Refused, StandfastError

if TYPE_CHECKING:
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey, Signed

FOLDER, TRUST = "keys", "trust.json"
FROM_OTHERS = "take the copy that others have imported, or that the school publishes"
SHORTEST_PASSPHRASE = 12


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
        return file_of(self.folder, multikey)


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
            f"{folder / TRUST}: is missing, and key files are here; {FROM_OTHERS}"
            if secrets_in(folder)
            else f"{folder}: the school has no keys yet; 'standfast keys make' makes them"
        ) from None
    except OSError as error:
        raise StandfastError(f"{folder / TRUST}: {error.strerror}; {FROM_OTHERS}") from None
    try:
        return Keyring(folder, read(content))
    except Unreadable as error:
        raise StandfastError(f"{folder / TRUST}: {error}; {FROM_OTHERS}") from None


def check_passphrase(passphrase: str) -> None:
    """Returns when it will do for a new one.

    Raises:
        StandfastError: it is too short, or no text.
    """
    if len(passphrase) < SHORTEST_PASSPHRASE:
        raise StandfastError(
            f"a passphrase has {SHORTEST_PASSPHRASE} characters or more; a few words will do"
        )
    if any("\ud800" <= letter <= "\udfff" for letter in passphrase):
        raise StandfastError("a passphrase is text in UTF-8, so that every machine reads it alike")


ISSUER = re.compile(r"https://[a-z0-9.:-]+(/[A-Za-z0-9_~-][A-Za-z0-9._~-]*)+")
TAKEN = {"v", "verify.html", "trust.json", "status", "achievements"}
"""Names of what else lies beside the issuer's document."""


def issuer_fault(issuer: str) -> str:
    """Why a school cannot be known by that address; empty when it can.

    Its last part becomes the name of a file, beside which all else is published.
    """
    if ISSUER.fullmatch(issuer) is None:
        return (
            f"{issuer}: no address that a school can be known by; write https://, the school's own"
            " site and the name of a file there, such as https://school.example/issuer.json"
        )
    if issuer.rpartition("/")[2] in TAKEN:
        return f"{issuer}: something else will lie there; end it with /issuer.json"
    return ""


def make(desk: Desk, issuer: str | None, passphrase: str) -> tuple[KeyMade, KeyMade]:
    """The school's first key and its standby, each in a file, and the list that others import.

    `issuer` is an https address of the school's own; without one the key itself is the name, and
    a new key will be a new name.

    Raises:
        Refused: there are keys already.
        StandfastError: a passphrase that is too short, an address that is none, or the files
            cannot be written.
    """
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey

    check_passphrase(passphrase)
    folder = desk.root / FOLDER
    first, standby = (SecretKey(desk.moment.random(32)) for _ in range(2))
    name = issuer or f"did:key:{first.public.multikey}"
    now = instant(desk.moment.now)
    keys = (
        ListedKey(key=first.public.multikey, since=now),
        ListedKey(key=standby.public.multikey, since=now, standby=True),
    )
    with desk.book.together():
        check_can_make(desk, issuer)
        whole = listed(name, desk.school.name, keys, first, desk.moment.now)
        random = desk.moment.random
        made = (
            keep(folder, first, passphrase, random, standby=False),
            keep(folder, standby, passphrase, random),
        )
        write(folder / TRUST, whole, 0o644)
    return made


def check_can_make(desk: Desk, issuer: str | None) -> None:
    """Returns when the school has no keys yet, and may be known by that address.

    Raises:
        Refused: there are keys already.
        StandfastError: an address that is none, or the folder cannot be read.
    """
    if issuer is not None and issuer_fault(issuer):
        raise StandfastError(issuer_fault(issuer))
    if faults := [*_there_already(desk.root / FOLDER)]:
        raise Refused("no key was made", faults)


def _there_already(folder: Path) -> Iterator[str]:
    """Why no first key is made there."""
    try:
        whole = (folder / TRUST).exists()
    except OSError as error:
        raise StandfastError(f"{folder}: {error.strerror}; check who may read it") from None
    if whole:
        yield f"{folder} has keys already; 'standfast keys rotate' makes a new one"
    elif secrets_in(folder):
        yield f"{folder} has key files and no {TRUST}: {FROM_OTHERS}; or move the files away"


def open_key(desk: Desk, multikey: str, passphrase: str) -> SecretKey:
    """A secret key of the school's.

    Raises:
        StandfastError: another passphrase.
        StandfastError: its file is not here, or holds another key.
    """
    from standfast.seal.encoding import Unreadable
    from standfast.seal.keys import from_pem

    file = keyring(desk).file_of(multikey)
    try:
        key = from_pem(file.read_bytes(), passphrase)
    except FileNotFoundError:
        raise _not_here(file) from None
    except OSError as error:
        raise StandfastError(f"{file}: {error.strerror}; check who may read it") from None
    except Unreadable as error:
        raise StandfastError(f"{file}: {error}") from None
    if key.public.multikey != multikey:
        raise StandfastError(f"{file}: holds another key than the list names")
    return key


def check_at_hand(desk: Desk, *, standby: bool = False) -> None:
    """Returns when the key that signs, or the standby, can be opened with its passphrase.

    Raises:
        StandfastError: the school has no keys, or its file is not here.
    """
    ring = keyring(desk)
    file = ring.file_of((ring.standby if standby else ring.signing).key)
    if not file.exists():
        raise _not_here(file)


def _not_here(file: Path) -> StandfastError:
    return StandfastError(f"{file}: the key is not here; bring it back from where it is kept")


def signing_key(desk: Desk, passphrase: str) -> SecretKey:
    """The key that signs now; raises as `open_key`."""
    return open_key(desk, keyring(desk).signing.key, passphrase)


def paper_copy(desk: Desk, passphrase: str, *, standby: bool) -> str:
    """The secret as text of 48 letters, for a sheet of paper in a safe.

    Raises:
        StandfastError: another passphrase.
    """
    ring = keyring(desk)
    return open_key(desk, (ring.standby if standby else ring.signing).key, passphrase).multikey


def bring(desk: Desk, text: str, passphrase: str) -> KeyMade:
    """Brings a key back from its paper copy, spaces and line ends as they may be.

    Raises:
        Refused: it is none of the school's keys.
        StandfastError: a passphrase that is too short.
    """
    from standfast.seal.encoding import Unreadable
    from standfast.seal.keys import SecretKey

    ring = keyring(desk)
    check_passphrase(passphrase)
    try:
        key = SecretKey.of("".join(text.split()))
    except Unreadable:
        raise Refused(
            "nothing was brought back", ["a letter is wrong: read it once more"]
        ) from None
    known = ring.signed.file.find(key.public.multikey)
    if known is None:
        raise Refused("nothing was brought back", ["it is a key, but none of this school's"])
    return keep(ring.folder, key, passphrase, desk.moment.random, standby=known.standby)
