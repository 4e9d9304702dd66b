"""A disk on which nothing more fits: told, and everything that was acknowledged is there.

A limit on the size of files (RLIMIT_FSIZE) stands in for the full disk: the write itself fails in
the operating system, halfway, as on a full disk, and neither root nor a mount is needed for it.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from textwrap import dedent

import pytest
from tests.store.raw import rows
from tests.store.recorder import Recorder
from tests.store.school import School, open_school

from standfast.engine.decide import decide

ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.of_the_file

UNTIL_IT_IS_FULL = dedent("""
    import os, resource, sys
    from pathlib import Path
    from standfast.problems import RecordBookError
    from standfast.store.connect import open_book
    from tests.store.recorder import Recorder

    with open_book(Path(sys.argv[1]), random=os.urandom) as book:
        resource.setrlimit(resource.RLIMIT_FSIZE, (250_000, 250_000))
        recorder = Recorder(book, 1)
        for number in range(500):
            try:
                recorder.record(number)
            except RecordBookError as error:
                sys.stderr.write(str(error))
                break
            print(number, flush=True)
        assert book.size() > 0, "a full disk keeps nobody from reading"
""")


def test_a_file_that_cannot_grow_is_told_and_keeps_what_was_acknowledged(filled: School) -> None:
    before, folder = filled.book.size(), filled.book.file.parent
    filled.book.close()
    command = [sys.executable, "-c", UNTIL_IT_IS_FULL, str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    acknowledged = len(done.stdout.split())

    assert done.returncode == 0, done.stderr
    assert 0 < acknowledged < 500
    assert done.stderr.startswith(f"{filled.book.file}: the disk ")
    assert "full" in done.stderr
    assert done.stderr.endswith("nothing of this was kept")

    school = open_school(folder, create=False, seed=9)  # other ids than those that are in it
    try:
        recorder = Recorder(school.book, 1)
        kept = [key for (key,) in rows(school, "SELECT id FROM journal ORDER BY seq")][before:]
        assert kept == [recorder.stamp(number).id for number in range(acknowledged)]
        assert recorder.record(acknowledged).seq == before + acknowledged + 1
        assert school.book.audit(decide).faults == []
    finally:
        school.book.close()
