"""A long file under a passphrase, in pieces of which none can be changed, left out or moved.

    line      "standfast backup 1" and a line feed: the form of all that follows
    salt      16 random bytes
    first     7 random bytes, the beginning of every nonce
    mark      HMAC-SHA256 over the above; only the right passphrase gives it
    pieces    each 65,536 bytes, the last one as long as it is, with 16 bytes of its tag

scrypt makes 64 bytes of the passphrase (NFC): a key for AES-256-GCM and one for the mark.  The
nonce of a piece is `first`, its number in 4 bytes and 1 byte that says whether it is the last, so
that a file that was cut, joined or put in another order does not open.  The mark tells a wrong
passphrase from a changed file, and that one file opens under one key only.

Source: Hoang, Reyhanitabar, Rogaway & Vizar (2015), Online Authenticated-Encryption and its
Nonce-Reuse Misuse-Resistance: STREAM; RFC 7914 (scrypt); NIST SP 800-38D (GCM); RFC 2104 (HMAC);
RFC 8265, section 4.2 (passphrases).
"""

from __future__ import annotations

import hmac
import io
import unicodedata
from collections.abc import Callable
from typing import TYPE_CHECKING, BinaryIO

from standfast.problems import StandfastError
from standfast.seal.encoding import Unreadable

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

LINE = b"standfast backup 1\n"
ANY_LINE = b"standfast backup "
SALT, FIRST, MARK, TAG = 16, 7, 32, 16
"""Bytes."""
PIECE = 1 << 16
MOST_PIECES = 1 << 32

COST, BLOCK, PARALLEL = 1 << 17, 8, 1
"""scrypt: 128 MiB and half a second for each guess.  OWASP, Password Storage (from memory)."""

CHANGED = "the file was changed or is damaged: take another copy"
CUT = "the file ends too early: take another copy"


def stretched(passphrase: str, salt: bytes) -> bytes:
    """64 bytes of the passphrase: what locks the pieces, and what makes the mark."""
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    typed = unicodedata.normalize("NFC", passphrase).encode()
    return Scrypt(salt=salt, length=64, n=COST, r=BLOCK, p=PARALLEL).derive(typed)


class Locked(io.RawIOBase):
    """Writes a file under the passphrase; whole when it was closed.

    `random` gives so many random bytes.
    """

    def __init__(self, out: BinaryIO, passphrase: str, random: Callable[[int], bytes]) -> None:
        super().__init__()
        salt, first = random(SALT), random(FIRST)
        self._out = out
        self._pieces = _Pieces(passphrase, salt, first)
        self._rest = bytearray()
        out.write(self._pieces.head + self._pieces.mark)

    def writable(self) -> bool:
        """Yes."""
        return True

    def write(self, content: bytes) -> int:  # type: ignore[override]  # bytes is all we give it
        """Takes more of the content."""
        self._rest += content
        while len(self._rest) > PIECE:  # what fills a piece may be the last: it waits for more
            self._out.write(self._pieces.lock(bytes(self._rest[:PIECE]), last=False))
            del self._rest[:PIECE]
        return len(content)

    def close(self) -> None:
        """Writes the last piece; the file beneath stays open."""
        if not self.closed:
            self._out.write(self._pieces.lock(bytes(self._rest), last=True))
            self._rest.clear()
        super().close()


class Unlocked(io.RawIOBase):
    """Reads a file that was locked; read to its end, it is whole and as it was written.

    Raises:
        Unreadable: no such file, one of a later form, changed or cut.
        StandfastError: another passphrase.
    """

    def __init__(self, file: BinaryIO, passphrase: str) -> None:
        super().__init__()
        _check_line(file.read(len(LINE)))
        salt, first, mark = file.read(SALT), file.read(FIRST), file.read(MARK)
        if len(mark) != MARK:
            raise Unreadable(CUT)
        self._pieces = _Pieces(passphrase, salt, first)
        if not hmac.compare_digest(mark, self._pieces.mark):
            raise StandfastError(
                "this passphrase does not open the backup; mind capital letters"
                " (or the beginning of the file was changed)"
            )
        self._file = file
        self._next = file.read(PIECE + TAG)
        if not self._next:
            raise Unreadable(CUT)
        self._open = memoryview(b"")

    def readable(self) -> bool:
        """Yes."""
        return True

    def readinto(self, into: memoryview) -> int:  # type: ignore[override]  # as io calls it
        """Gives more of the content; 0 at its end."""
        while not self._open and self._next:
            locked, self._next = self._next, self._file.read(PIECE + TAG)
            self._open = memoryview(self._pieces.unlock(locked, last=not self._next))
        some = self._open[: len(into)]
        into[: len(some)] = some
        self._open = self._open[len(some) :]
        return len(some)


def _check_line(line: bytes) -> None:
    if line == LINE:
        return
    if line.startswith(ANY_LINE):
        raise Unreadable("a later version of standfast wrote this backup; update standfast")
    raise Unreadable("this is no backup of a record book")


class _Pieces:
    """The pieces of one file, in their order."""

    def __init__(self, passphrase: str, salt: bytes, first: bytes) -> None:
        from cryptography.hazmat.primitives.ciphers.aead import AESGCM

        keys = stretched(passphrase, salt)
        self.head = LINE + salt + first
        self.mark = hmac.digest(keys[32:], self.head, "sha256")
        self._aes: AESGCM = AESGCM(keys[:32])
        self._first, self._number = first, 0

    def lock(self, content: bytes, *, last: bool) -> bytes:
        """The next piece, with its tag."""
        return self._aes.encrypt(self._nonce(last=last), content, None)

    def unlock(self, locked: bytes, *, last: bool) -> bytes:
        """What is in the next piece."""
        from cryptography.exceptions import InvalidTag

        nonce = self._nonce(last=last)
        try:
            return self._aes.decrypt(nonce, locked, None)
        except (InvalidTag, ValueError):
            raise Unreadable(CHANGED) from None

    def _nonce(self, *, last: bool) -> bytes:
        if self._number >= MOST_PIECES:
            raise Unreadable("the file has more pieces than can be told apart")
        number, self._number = self._number, self._number + 1
        return self._first + number.to_bytes(4, "big") + bytes([last])
