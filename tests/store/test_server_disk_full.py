"""A PostgreSQL server whose disk is full: told, nothing half kept, and it goes on afterwards.

The disk is a small file system in memory, which only root can mount: elsewhere this is left out.
Where the tables lie it ends one transaction; where the server's log lies (the write-ahead log) the
server gives up as a whole, and what it had acknowledged is in the log that was written.
"""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import mkdtemp

import pytest
from tests.conftest import or_left_out
from tests.engine import made
from tests.store.cluster import KEEPER, OWNER, Cluster, running
from tests.store.raw import rows
from tests.store.recorder import Recorder
from tests.store.school import School, open_school

from standfast.engine.decide import decide
from standfast.model.sheet import Sheet
from standfast.problems import RecordBookError

MIB = 1 << 20
_PATIENCE = 30.0


@contextmanager
def small_disk(mib: int) -> Iterator[Path]:
    """A disk with so much room."""
    if os.geteuid() != 0:
        pytest.skip("only root can mount a small disk")
    folder = Path(mkdtemp(prefix="standfast-disk-"))
    mounted = ["mount", "-t", "tmpfs", "-o", f"size={mib}m", "tmpfs", str(folder)]
    told = subprocess.run(mounted, capture_output=True, text=True, check=False)
    try:
        if told.returncode:
            pytest.skip(f"no small disk to be had here: {told.stderr.strip()}")
        folder.chmod(0o777)
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], capture_output=True, check=False)
        folder.rmdir()


def opened(cluster: Cluster, database: str) -> School:
    school = open_school(cluster.address(KEEPER, database))
    school.fill()
    school.server = lambda: cluster.connect("super", database, "barn")
    return school


def until_refused(record: Callable[[int], object], first: int) -> tuple[str, int]:
    """Records numbers from the first; what was said of the first that was refused, and which."""
    for number in range(first, first + 20_000):
        try:
            record(number)
        except RecordBookError as error:
            return str(error), number
    pytest.fail("the disk is never full")


def long_sheet(number: int) -> Sheet:
    """Of letters that do not repeat, since a database shortens those that do."""
    words = "".join(chr(0x4E00 + (number * 7919 + n * 104_729) % 20_000) for n in range(1900))
    return made.sheet(number, notes=[{"text": words}] * 20)


def test_a_full_disk_under_the_tables_is_told_and_keeps_nothing_of_what_did_not_fit(
    cluster: Cluster,
) -> None:
    with small_disk(14) as disk:
        place = disk / "tables"
        place.mkdir()
        owner = (cluster.folder / "data").stat()
        os.chown(place, owner.st_uid, owner.st_gid)
        cluster.do(f"CREATE TABLESPACE small LOCATION '{place}'")
        cluster.do(f"CREATE DATABASE small TEMPLATE founded TABLESPACE small OWNER {OWNER}")
        school = opened(cluster, "small")
        before = school.book.size()
        said, taken = until_refused(lambda number: school.take(long_sheet(number)), 10)
        taken -= 10
        assert "the server's disk is full: make room and try again" in said
        assert said.endswith("nothing of this was kept")
        assert taken > 0
        assert school.book.size() == before + taken
        assert school.book.audit(decide).faults == []

        subprocess.run(["mount", "-o", "remount,size=64m", str(disk)], check=True)
        school.take(made.sheet(99_999, notes=[{"text": "there is room"}]))
        assert school.book.size() == before + taken + 1
        school.book.close()
        cluster.do("DROP DATABASE small")
        cluster.do("DROP TABLESPACE small")


def fill_up(disk: Path, leave: int) -> Path:
    """Takes all room but so many bytes."""
    filler = disk / "filler"
    with filler.open("wb") as out, suppress(OSError):
        while True:
            out.write(bytes(MIB))
            out.flush()
    os.truncate(filler, max(filler.stat().st_size - leave, 0))
    return filler


def test_a_full_disk_under_the_log_ends_the_server_and_loses_nothing_acknowledged() -> None:
    with small_disk(200) as disk, or_left_out(), running(durable=True, parent=disk) as cluster:
        school = opened(cluster, cluster.new_database("founded"))
        before, recorder = school.book.size(), Recorder(school.book, 1)
        for number in range(20):
            recorder.record(number)
        filler = fill_up(disk, leave=MIB // 2)
        said, acknowledged = until_refused(recorder.record, 20)
        assert any(w in said for w in ("does not answer", "disk is full", "or not")), said

        filler.unlink()
        begin_again(cluster, school)
        while recorder.record(acknowledged).seq < before + acknowledged + 1:
            acknowledged += 1
        kept = [key for (key,) in rows(school, "SELECT id FROM journal ORDER BY seq")][before:]
        assert kept == [recorder.stamp(number).id for number in range(acknowledged + 1)]
        assert school.book.audit(decide).faults == []
        school.book.close()


def begin_again(cluster: Cluster, school: School) -> None:
    """Waits until the server has recovered; starts it where it gave up."""
    given_up = time.monotonic() + _PATIENCE
    while True:
        try:
            school.book.size()
        except RecordBookError:
            assert time.monotonic() < given_up, "the server does not come back"
            if not (cluster.folder / "data" / "postmaster.pid").exists():
                cluster.start()
            time.sleep(0.05)
        else:
            return
