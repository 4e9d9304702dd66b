"""A paper as a file, known by every byte but those of the receipt inside of it.

What a reader of a PDF shows can be changed in more ways than anybody can list: a box over a name,
another font, a note, a page, a later version behind the first.  So the file as a whole is hashed as
the school made it, with spaces where the receipt is to stand, and the entry in the record book
tells that hash.  The receipt has that entry, and stands in the room that was left for it: whoever
has the file puts spaces there again, and needs nobody.
"""

from __future__ import annotations

from hashlib import sha256

MOST_OF_A_RECEIPT = 6000
"""Bytes beside what the entry tells of the certificate: the head, and forty steps to it."""


def room_for(told: bytes) -> bytes:
    """Spaces for a receipt of an entry that tells this."""
    return b" " * (2 * len(told) + MOST_OF_A_RECEIPT)  # quotes take two in text inside of text


def hash_of(paper: bytes, receipt: bytes) -> str:
    """SHA-256 of the paper with spaces for that receipt, hexadecimal; empty when it is not in it.

    The receipt as it lies in the file, with the spaces that follow it.  Of a receipt that stands
    twice nobody knows which was the room.
    """
    if not receipt.strip() or paper.count(receipt) != 1:
        return ""
    return sha256(paper.replace(receipt, b" " * len(receipt))).hexdigest()


def filled(paper: bytes, room: bytes, receipt: bytes) -> bytes:
    """The paper with the receipt in its room.

    Raises:
        ValueError: the receipt is too long, or the room is not there once.
    """
    begins = b"stream\n"
    if len(receipt) > len(room) or paper.count(begins + room + b"\n") != 1:
        raise ValueError("the paper has no room for the receipt")
    return paper.replace(begins + room, begins + receipt.ljust(len(room)))
