"""Keys made by whoever writes a thing down first: UUIDv7 (RFC 9562).

A key made before the thing is sent makes a retry the same thing.  Keys sort by the millisecond
in which they were made, so that an index over them grows at its end.
"""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from uuid import UUID

from standfast.problems import StandfastError

RANDOM_BYTES = 10
"""How many random bytes `uuid7` asks for; 74 of their 80 bits are used."""

_EPOCH = datetime(1970, 1, 1, tzinfo=timezone.utc)
_LATEST = 1 << 48
_VERSION = 7 << 76
_VARIANT = 0b10 << 62


def uuid7(at: datetime, random: bytes) -> str:
    """A UUIDv7 in lower case for that instant, filled up with 10 random bytes.

    Bits: 48 of milliseconds since 1970-01-01T00:00Z, 4 of version, 12 random, 2 of variant, 62
    random.  The same instant and bytes give the same key.

    Raises:
        ValueError: not 10 bytes, an instant without an offset, or one before 1970 or past 10889.

    Source: RFC 9562 (Davis, Peabody & Leach, 2024), section 5.7.
    """
    if len(random) != RANDOM_BYTES:
        raise ValueError(f"a key takes {RANDOM_BYTES} random bytes, not {len(random)}")
    if at.utcoffset() is None:
        raise ValueError(f"'{at.isoformat()}' has no offset; a key needs an instant")
    milliseconds = (at - _EPOCH) // timedelta(milliseconds=1)
    if not 0 <= milliseconds < _LATEST:
        raise ValueError(f"{at.isoformat()} is outside what a key can hold: 1970 to 10889")
    bits = int.from_bytes(random, "big")
    high, low = bits >> 62 & 0xFFF, bits & (1 << 62) - 1
    return str(UUID(int=milliseconds << 80 | _VERSION | high << 64 | _VARIANT | low))


def key_made_at(key: str) -> datetime:
    """The instant, to the millisecond and in UTC, at which a UUIDv7 says it was made.

    Raises:
        StandfastError: the key is no UUIDv7.
    """
    try:
        read = UUID(key)
    except ValueError:
        raise StandfastError(f"'{key}' is no UUID") from None
    if read.version != 7:  # noqa: PLR2004 - RFC 9562, section 4.2
        raise StandfastError(f"'{key}' is no UUID of version 7")
    return _EPOCH + timedelta(milliseconds=read.int >> 80)
