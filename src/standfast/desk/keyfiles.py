"""Files of the school's keys: written whole, for nobody else's eyes, and tried before use."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.problems import StandfastError

if TYPE_CHECKING:
    from standfast.seal.keys import SecretKey
    from standfast.seal.trust import ListedKey

TRIED = b"Standfast tries a key before it is used"


@dataclass(frozen=True)
class KeyMade:
    """A key that is on disk and was tried."""

    file: Path
    fingerprint: str
    standby: bool


def file_of(folder: Path, multikey: str) -> Path:
    """Where the secret half of a key lies, if it lies there."""
    return folder / f"{multikey[-12:]}.pem"


def secrets_in(folder: Path) -> list[Path]:
    """The files of secret keys in that folder."""
    return sorted(folder.glob("*.pem"))


def keep(
    folder: Path,
    key: SecretKey,
    passphrase: str,
    random: Callable[[int], bytes],
    *,
    standby: bool = True,
) -> KeyMade:
    """Writes the key, reads it back, and tries it, before anything depends on it.

    `random` gives so many random bytes.

    Raises:
        StandfastError: it cannot be written, or does not sign.
    """
    from standfast.seal.keys import from_pem, to_pem

    file = file_of(folder, key.public.multikey)
    write(file, to_pem(key, passphrase, random), 0o600)
    back = from_pem(file.read_bytes(), passphrase)
    if not key.public.verifies(back.sign(TRIED), TRIED):
        raise StandfastError(f"{file}: the key that was written does not sign; try another disk")
    return KeyMade(file, key.public.thumbprint, standby)


def listed(
    issuer: str, name: str, keys: Iterable[ListedKey], by: SecretKey, now: datetime
) -> bytes:
    """The list of the keys of the school of that name, signed.

    Raises:
        StandfastError: the issuer is no address.
    """
    from pydantic import ValidationError

    from standfast.seal.encoding import Unreadable
    from standfast.seal.trust import made

    try:
        return made(issuer, name, tuple(keys), by, now).content
    except (ValidationError, Unreadable):
        raise StandfastError(
            f"{issuer}: no address that a school can be known by; write https:// and the school's"
            " own site, such as https://school.example/issuer"
        ) from None


def write(file: Path, content: bytes, mode: int) -> None:
    """The file whole or not at all, for nobody else's eyes when it is secret.

    Raises:
        StandfastError: it cannot be written.
    """
    half = file.with_name(f".{file.name}.{os.getpid()}")
    try:
        file.parent.mkdir(mode=0o700, exist_ok=True)
        half.unlink(missing_ok=True)
        with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        half.replace(file)
        durable(file.parent)
    except OSError as error:
        raise StandfastError(f"{file}: {error.strerror}; check who may write there") from None
    finally:
        with suppress(OSError):
            half.unlink(missing_ok=True)


def durable(folder: Path) -> None:
    """The new names in the folder too survive a loss of power."""
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def instant(now: datetime) -> str:
    """As it stands in the list."""
    return now.strftime("%Y-%m-%dT%H:%M:%SZ")
