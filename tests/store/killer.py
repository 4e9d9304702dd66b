"""Kills whoever records into a book, again and again, at moments that come from a seed.

A program of its own, with one thread, so that its children are forked warm and quickly:
`python -m tests.store.killer WHERE SEED KILLS` prints how many entries were acknowledged.
"""

from __future__ import annotations

import os
import select
import signal
import sys
import time
import traceback
from random import Random

from tests.store.recorder import Recorder

from standfast.store.connect import open_book

SERIES = 1
_PATIENCE = 30.0


def record(where: str, first: int, random: Random, acknowledged: int) -> None:
    """Records from number `first` on, and writes one byte when an entry was acknowledged."""
    recorder = Recorder(open_book(where, random=random.randbytes), SERIES)
    number = first
    while True:
        entry = recorder.record(number)
        if entry.id != recorder.stamp(number).id:
            raise SystemExit(f"entry {number} was acknowledged as {entry.id}")
        os.write(acknowledged, b"+")
        number += 1


def start(where: str, first: int, random: Random) -> tuple[int, int]:
    """The process id of a child that records, and what it acknowledges with."""
    read, write = os.pipe()
    child = os.fork()
    if child:
        os.close(write)
        return child, read
    try:
        os.close(read)
        record(where, first, random, write)
    except BaseException:  # noqa: BLE001 - a forked child must never go on as its parent
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(3)


def killed(child: int, read: int, random: Random) -> int:
    """Kills the child after a few of its entries; gives how many it acknowledged in all."""
    wanted, count = random.randrange(5), 0
    while count < wanted:
        if not select.select([read], [], [], _PATIENCE)[0] or not (some := os.read(read, 100)):
            break
        count += len(some)
    time.sleep(random.uniform(0, 0.003 if wanted else 0.05))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    while some := os.read(read, 100):
        count += len(some)
    os.close(read)
    if not os.WIFSIGNALED(status):
        raise SystemExit(f"the child ended by itself, with {os.waitstatus_to_exitcode(status)}")
    return count


def main(where: str, seed: int, kills: int) -> None:
    """Each child begins with the last entry that was acknowledged: a retry that adds nothing."""
    random, acknowledged = Random(seed), 0
    for _ in range(kills):
        first = max(acknowledged - 1, 0)
        child, read = start(where, first, Random(random.random()))
        acknowledged = max(acknowledged, first + killed(child, read, random))
    sys.stdout.write(str(acknowledged))


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
