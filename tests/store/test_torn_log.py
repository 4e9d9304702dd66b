"""A log that was torn while it was written: what was acknowledged before is there, once.

SQLite writes a transaction as frames at the end of the log beside the file (`-wal`), each with a
checksum that goes on from the one before; a loss of power may leave any part of the last ones.
Source: the SQLite file format, section 4 (write-ahead log).
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.engine import made
from tests.store.school import School, open_school

from standfast.engine.decide import decide

CUTS, FLIPS = 50, 50


@pytest.fixture
def torn(tmp_path: Path) -> tuple[Path, int, int, int]:
    """A book with two acknowledged entries in its log, as copied while it was open.

    Gives the copy's folder, the entries before the last, and the log's length then and now.
    """
    (tmp_path / "open").mkdir()
    school = open_school(tmp_path / "open")
    school.fill()
    log = tmp_path / "open" / "standfast.db-wal"
    school.book.put_people([made.person("dora")], school.stamp)
    before, length = school.book.size(), log.stat().st_size
    school.book.put_people([made.person("eva")], school.stamp)
    copy = tmp_path / "copy"
    copy.mkdir()
    for name in ("standfast.db", "standfast.db-wal"):
        shutil.copyfile(tmp_path / "open" / name, copy / name)
    school.book.close()
    return copy, before, length, (copy / "standfast.db-wal").stat().st_size


def opened(copy: Path, into: Path, change: Callable[[bytearray], bytes]) -> School:
    """The book with its log changed."""
    shutil.rmtree(into, ignore_errors=True)
    into.mkdir()
    shutil.copyfile(copy / "standfast.db", into / "standfast.db")
    content = change(bytearray((copy / "standfast.db-wal").read_bytes()))
    (into / "standfast.db-wal").write_bytes(content)
    return open_school(into, create=False)


def looked_at(school: School, before: int) -> int:
    """How many of the last entry are there: 0 or 1; what came before it is whole."""
    try:
        found = school.book.size()
        assert found in {before, before + 1}
        assert school.book.find_person("dora") is not None
        assert (school.book.find_person("eva") is not None) is (found == before + 1)
        assert school.book.audit(decide).clean
    finally:
        school.book.close()
    return found - before


def test_a_log_that_was_cut_keeps_all_before_the_last_entry(
    torn: tuple[Path, int, int, int], tmp_path: Path
) -> None:
    copy, before, length, whole = torn
    chance = random.Random(3)
    assert whole > length
    for cut in sorted(chance.sample(range(length, whole), CUTS)):

        def shortened(log: bytearray, at: int = cut) -> bytes:
            return bytes(log[:at])

        assert looked_at(opened(copy, tmp_path / "cut", shortened), before) == 0
    assert looked_at(opened(copy, tmp_path / "cut", bytes), before) == 1


def test_a_log_with_other_bytes_at_its_end_keeps_all_before_the_last_entry(
    torn: tuple[Path, int, int, int], tmp_path: Path
) -> None:
    copy, before, length, whole = torn
    chance = random.Random(5)

    def flipped(log: bytearray) -> bytes:
        at = chance.randrange(length, whole)
        log[at] ^= 1 << chance.randrange(8)
        return bytes(log)

    kept = sum(looked_at(opened(copy, tmp_path / "bit", flipped), before) for _ in range(FLIPS))

    # A frame's checksum covers all of it, so that hardly any flip goes unseen; none adds anything.
    assert kept == 0
