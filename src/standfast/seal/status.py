"""Which certificates were taken back: one bit for each, in a signed list that ends soon.

Source: W3C Bitstring Status List 1.0 (2025).
"""

from __future__ import annotations

import gzip
import zlib
from collections.abc import Callable, Collection, Iterable

from standfast.seal.encoding import Unreadable, base64url, from_base64url

LEAST_PLACES = 131_072
"""So many places at least, so that a place tells nothing about whose it is."""
MOST_BYTES = 1 << 24
"""Of a list that is read: 134 million places."""


def encoded(taken_back: Iterable[int], places: int = LEAST_PLACES) -> str:
    """The list as text: multibase u, base64url of the bits under gzip; place 0 is the left-most.

    Raises:
        ValueError: too few places, or a place outside.
    """
    if places < LEAST_PLACES or places % 8:
        raise ValueError(f"a list has {LEAST_PLACES} places at least, by eights")
    bits = bytearray(places // 8)
    for place in taken_back:
        if not 0 <= place < places:
            raise ValueError(f"place {place} is outside 0 to {places - 1}")
        bits[place // 8] |= 0x80 >> place % 8
    return "u" + base64url(gzip.compress(bytes(bits), mtime=0))


def is_set(text: str, place: int) -> bool:
    """Whether the bit of that place is set.

    Raises:
        Unreadable: no list, one of too few places, or a place outside; with the word of the
            standard for it.
    """
    if not text.startswith("u"):
        raise Unreadable("the list begins with u")
    bits = _unpacked(from_base64url(text[1:]))
    if len(bits) * 8 < LEAST_PLACES:
        raise Unreadable("STATUS_LIST_LENGTH_ERROR: fewer places than a list must have")
    if place >= len(bits) * 8:
        raise Unreadable("RANGE_ERROR: the place is outside the list")
    return bool(bits[place // 8] & 0x80 >> place % 8)


def _unpacked(packed: bytes) -> bytes:
    """At most so much: a few bytes can claim to be gigabytes."""
    reader = zlib.decompressobj(wbits=31)
    try:
        bits = reader.decompress(packed, MOST_BYTES)
    except zlib.error:
        raise Unreadable("the list cannot be unpacked") from None
    if reader.unconsumed_tail or not reader.eof or reader.unused_data:
        raise Unreadable("the list cannot be unpacked whole")
    return bits


def free_place(
    taken: Collection[int], random: Callable[[int], bytes], places: int = LEAST_PLACES
) -> int:
    """A place that nobody has, at random, so that it says nothing about when it was given.

    Raises:
        ValueError: more than half are given: a new list is due.
    """
    if 2 * len(taken) > places:
        raise ValueError("more than half of the places are given; begin a new list")
    while True:
        place = int.from_bytes(random(4), "big") % places
        if place not in taken:
            return place
