"""UUIDv7 as in RFC 9562 (Davis, Peabody & Leach, 2024), sections 5.7 and A.6.

The example of A.6: 2022-02-22 14:22:22 -05:00, 0x017F22E279B0 milliseconds, rand_a 0xCC3, rand_b
0x18C4DC0C0C07398F.  From memory, and found the same in public tests that cite the RFC.
"""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from uuid import UUID

from standfast.model.keys import key_made_at, uuid7

EXAMPLE = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
AT = datetime(2022, 2, 22, 14, 22, 22, tzinfo=timezone(timedelta(hours=-5)))
RANDOM = (0xCC3 << 62 | 0x18C4DC0C0C07398F).to_bytes(10, "big")


def test_the_example_of_the_standard_comes_out() -> None:
    assert uuid7(AT, RANDOM) == EXAMPLE


def test_the_instant_of_the_example_is_read_back() -> None:
    assert key_made_at(EXAMPLE) == AT


def test_the_standard_library_reads_version_and_variant() -> None:
    key = UUID(uuid7(AT, b"\xff" * 10))

    assert key.version == 7
    assert key.variant == "specified in RFC 4122"
