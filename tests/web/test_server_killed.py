"""The web server is killed under load, again and again: what it acknowledged is stored, once.

`python -m standfast.web` as `standfast serve` starts it, real requests over the loopback, SIGKILL
at moments that come from a seed, also while the server starts.  Two assessors send lessons in
batches and sign them; a batch that got no answer is sent again, as the page beside the mat does.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from random import Random
from threading import Event, Thread

import pytest
from tests.counting import kills, say
from tests.web.conftest import move_to
from tests.web.load import check_all_once, come_in
from tests.web.program import Program

KILLS = kills(3)
"""Half of them with the book in a file, half in PostgreSQL."""
SEED = 20260304


@pytest.fixture(params=["sqlite", "postgresql"])
def folder(school: Path, request: pytest.FixtureRequest) -> Path:
    """The school's folder, its book in a file or in PostgreSQL."""
    if request.param == "postgresql":
        move_to(request.getfixturevalue("cluster"), school)
    return school


@pytest.fixture
def program(folder: Path) -> Iterator[Program]:
    found = Program(folder)
    found.start()
    yield found
    found.kill()


def kill_again_and_again(
    program: Program, times: int, chance: Random, threads: list[Thread]
) -> int:
    """Kills the server so often; gives how often while it was starting."""
    starting = 0
    for kill in range(1, times + 1):
        if kill % 5 == 0:
            starting += 1
            time.sleep(chance.uniform(0, 1.0))
        else:
            program.answers()
            time.sleep(chance.uniform(0, 0.4))
        program.kill()
        program.start()
        assert all(one.is_alive() for one in threads)
    program.answers()
    return starting


@pytest.mark.slow
def test_a_server_that_is_killed_has_kept_what_it_acknowledged_once(
    program: Program, folder: Path
) -> None:
    in_a_file = (folder / "standfast.db").exists()
    times = KILLS - KILLS // 2 if in_a_file else KILLS // 2
    program.answers()
    assessors = [
        come_in(program.address, "hana", 0x100000),
        come_in(program.address, "leilani", 0x900000),
    ]
    ended, chance = Event(), Random(SEED)
    threads = [
        Thread(target=one.work, args=(program.address, ended, Random(one.first)))
        for one in assessors
    ]
    for one in threads:
        one.start()
    try:
        starting = kill_again_and_again(program, times, chance, threads)
        time.sleep(0.2)
    finally:
        ended.set()
        for one in threads:
            one.join()
    assert [one.fault for one in assessors] == [None, None], f"seed {SEED}"
    assert [one.refused for one in assessors] == [0, 0]
    told, sheets = check_all_once(folder, assessors)
    say(
        f"server killed {times} times ({starting} while it started), book in"
        f" {'a file' if in_a_file else 'PostgreSQL'}: {told} records and {sheets} signed sheets"
        f" acknowledged, 0 lost, 0 twice; {sum(one.again for one in assessors)} times sent again"
    )
