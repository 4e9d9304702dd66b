"""A long file under a passphrase: opens whole and as it was written, or not at all."""

from __future__ import annotations

import hashlib
import hmac
import io
from random import Random

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from standfast.problems import StandfastError
from standfast.seal import locking
from standfast.seal.encoding import Unreadable
from standfast.seal.locking import FIRST, LINE, MARK, PIECE, SALT, TAG, Locked, Unlocked

WORDS = "four plain words here"
HEAD = len(LINE) + SALT + FIRST + MARK
LENGTHS = (0, 1, PIECE - 1, PIECE, PIECE + 1, 2 * PIECE, 3 * PIECE + 5)


COST = locking.COST


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stretching a passphrase takes half a second, and a changed salt asks for it anew."""
    monkeypatch.setattr(locking, "COST", 16)


def locked(content: bytes, words: str = WORDS, seed: int = 1) -> bytes:
    out = io.BytesIO()
    with Locked(out, words, Random(seed).randbytes) as file:
        for at in range(0, len(content), 1000):
            file.write(content[at : at + 1000])
    return out.getvalue()


def unlocked(content: bytes, words: str = WORDS) -> bytes:
    with io.BufferedReader(Unlocked(io.BytesIO(content), words)) as file:
        return file.read()


def sample(length: int) -> bytes:
    return Random(length).randbytes(length)


@pytest.mark.parametrize("length", LENGTHS)
def test_it_opens_as_it_was_written(length: int) -> None:
    content = sample(length)
    file = locked(content)

    assert unlocked(file) == content
    pieces = max(1, -(-length // PIECE))
    assert len(file) == HEAD + length + pieces * TAG


@pytest.mark.parametrize("length", [0, PIECE + 1])
def test_another_program_opens_it_by_what_is_written_of_it(
    length: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stretched by the scrypt of OpenSSL as Python has it, by the figures of the docstring."""
    monkeypatch.setattr(locking, "COST", COST)
    content, file = sample(length), locked(sample(length))
    line, salt, first, mark = file[:19], file[19:35], file[35:42], file[42:74]
    keys = hashlib.scrypt(WORDS.encode(), salt=salt, n=131_072, r=8, p=1, dklen=64, maxmem=1 << 28)
    assert mark == hmac.digest(keys[32:], line + salt + first, "sha256")

    opened, rest, number = b"", file[74:], 0
    while rest:
        piece, rest = rest[: 65_536 + 16], rest[65_536 + 16 :]
        nonce = first + number.to_bytes(4, "big") + (b"\x00" if rest else b"\x01")
        opened += AESGCM(keys[:32]).decrypt(nonce, piece, None)
        number += 1
    assert opened == content


def test_another_passphrase_is_told_from_a_changed_file() -> None:
    file = locked(b"something")

    with pytest.raises(StandfastError, match="this passphrase does not open"):
        unlocked(file, "four plain words there")
    with pytest.raises(Unreadable, match="changed or is damaged"):
        unlocked(file[:-1] + bytes([file[-1] ^ 1]))


def test_a_letter_with_its_mark_after_it_is_the_same_letter() -> None:
    assert unlocked(locked(b"x", "vier W\u00f6rter hier"), "vier Wo\u0308rter hier") == b"x"


def test_no_byte_can_be_changed() -> None:
    file = locked(sample(40))

    for at in range(len(file)):
        for bit in (1, 0x80):
            other = file[:at] + bytes([file[at] ^ bit]) + file[at + 1 :]
            with pytest.raises((Unreadable, StandfastError)):
                unlocked(other)


def test_it_can_be_cut_nowhere_and_nothing_be_added() -> None:
    file = locked(sample(40))

    for length in range(len(file)):
        with pytest.raises((Unreadable, StandfastError)):
            unlocked(file[:length])
    for more in (b"\x00", b"x" * TAG, file):
        with pytest.raises(Unreadable):
            unlocked(file + more)


@pytest.mark.parametrize("length", [PIECE, 2 * PIECE, 3 * PIECE + 5])
def test_pieces_keep_their_number_place_and_end(length: int) -> None:
    file = locked(sample(length))
    head, body = file[:HEAD], file[HEAD:]
    step = PIECE + TAG
    pieces = [body[at : at + step] for at in range(0, len(body), step)]
    others = [pieces[:-1], pieces[1:], [*pieces, pieces[-1]], [*pieces, pieces[0]], pieces[::-1]]

    for other in others:
        if other != pieces:
            with pytest.raises(Unreadable):
                unlocked(head + b"".join(other))


def test_pieces_of_another_file_under_the_same_passphrase_do_not_fit() -> None:
    one, other = locked(sample(2 * PIECE), seed=1), locked(sample(2 * PIECE), seed=2)

    with pytest.raises(Unreadable):
        unlocked(one[: HEAD + PIECE + TAG] + other[HEAD + PIECE + TAG :])


def test_two_files_of_one_content_have_nothing_in_common() -> None:
    one, other = locked(b"x" * 64, seed=1), locked(b"x" * 64, seed=2)

    assert one[HEAD : HEAD + 64] != other[HEAD : HEAD + 64]
    assert b"x" * 8 not in one


def test_a_later_form_and_any_other_file_are_told_apart() -> None:
    file = locked(b"something")

    with pytest.raises(Unreadable, match="later version"):
        unlocked(file.replace(b"backup 1\n", b"backup 2\n", 1))
    with pytest.raises(Unreadable, match="no backup"):
        unlocked(b"%PDF-1.7 and so on")
    with pytest.raises(Unreadable, match="no backup"):
        unlocked(b"")
