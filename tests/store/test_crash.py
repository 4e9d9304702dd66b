"""A program that is killed while it records loses nothing that it has acknowledged.

SIGKILL takes the process and leaves the operating system, so this shows that transactions are
whole and acknowledged late enough; a loss of power is held only by `synchronous = EXTRA`, which
`test_connect.py` looks at.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from tests.counting import kills, say
from tests.store.killer import SERIES
from tests.store.raw import dump, rows
from tests.store.recorder import Recorder
from tests.store.school import School, open_school

from standfast.engine.decide import decide

ROOT = Path(__file__).parents[2]
SEED = 20260301
KILLS = {"sqlite": kills(80), "postgresql": kills(20)}
"""Fewer where a server that is not killed keeps what it was given."""


@pytest.mark.slow
def test_whoever_is_killed_has_kept_what_was_acknowledged_once_each(
    filled: School, kept_in: str
) -> None:
    where, before = filled.book.where, filled.book.size()
    filled.book.close()
    command = [
        sys.executable,
        "-m",
        "tests.store.killer",
        str(where),
        str(SEED),
        str(KILLS[kept_in]),
    ]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, f"seed {SEED}: {done.stderr}"
    acknowledged = int(done.stdout)
    assert acknowledged >= KILLS[kept_in], f"seed {SEED}: hardly anything was recorded"

    school = open_school(where, create=False)
    school.server = filled.server
    try:
        stored = check_nothing_lost_or_doubled(school, before, acknowledged)
    finally:
        school.book.close()
    say(
        f"writer killed {KILLS[kept_in]} times, {kept_in}: {acknowledged} entries acknowledged,"
        f" {stored} stored, 0 lost, 0 twice"
    )


def check_nothing_lost_or_doubled(school: School, before: int, acknowledged: int) -> int:
    """How many are there."""
    recorder = Recorder(school.book, SERIES)
    kept = [key for (key,) in rows(school, "SELECT id FROM journal ORDER BY seq")][before:]
    # What a child had written when it was killed may be there although nobody was told.
    assert len(kept) in {acknowledged, acknowledged + 1}, f"seed {SEED}"
    assert kept == [recorder.stamp(number).id for number in range(len(kept))], f"seed {SEED}"

    for number in range(max(0, len(kept) - 7), len(kept)):
        assert recorder.record(number).seq == before + number + 1
    assert school.book.size() == before + len(kept)

    assert school.book.audit(decide).faults == [], f"seed {SEED}"
    tables = dump(school)
    assert school.book.rebuild() == before + len(kept)
    assert dump(school) == tables, f"seed {SEED}"
    return len(kept)
