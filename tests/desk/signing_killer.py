"""Kills whoever signs all certificates, at moments that come from a seed, and counts what is there.

A program of its own, with one thread, so that its children are forked warm and quickly:
`python -m tests.desk.signing_killer SCHOOL OUT SEED KILLS` prints what it counted, as JSON.
"""

from __future__ import annotations

import json
import os
import secrets
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable
from functools import partial
from hashlib import sha256
from pathlib import Path
from random import Random

from tests.cli.conftest import PASSPHRASE
from tests.cli.further_awards import NOW, further_awards

from standfast.desk import giving
from standfast.desk.copying import nobody_watches
from standfast.desk.opening import Moment, open_desk

AWARDS = 3
"""New ones before each kill."""


def sign_all(school: Path, out: Path) -> giving.Gave:
    """What `standfast sign --all` does."""
    with open_desk(school, Moment(NOW, "test", secrets.token_bytes)) as desk:
        return giving.give_out_all(desk, PASSPHRASE, out, nobody_watches)


def forked(do: Callable[[], object]) -> int:
    """The process id of a child that does it."""
    child = os.fork()
    if child:
        return child
    code = 3
    try:
        do()
        code = 0
    except BaseException:  # noqa: BLE001 - a forked child must never go on as its parent
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(code)


STEPS = 5 * AWARDS + 1
"""Of each a file that is waited for, a page that gets its name, a receipt, two that come into
place; and once their folder."""


def killed_at(step: int, school: Path, out: Path) -> None:
    """Signs, and is killed before the file system does that step of its work."""
    done = 0

    def counting(whole: Callable[..., object]) -> Callable[..., object]:
        def counted(*given: object) -> object:
            nonlocal done
            if done == step:
                os.kill(os.getpid(), signal.SIGKILL)
            done += 1
            return whole(*given)

        return counted

    setattr(os, "fsync", counting(os.fsync))  # noqa: B010 - the child's own
    setattr(Path, "replace", counting(Path.replace))  # noqa: B010
    sign_all(school, out)


def entered(school: Path) -> dict[str, list[str]]:
    """For each award's number the hashes of its certificates that are in the book."""
    with open_desk(school, Moment(NOW, "test", secrets.token_bytes)) as desk:
        numbers = {one.award.id: one.award.number for one in desk.book.awards()}
        found: dict[str, list[str]] = {number: [] for number in numbers.values()}
        for one in desk.book.issued():
            found[numbers[one.award]].append(one.digest)
    return found


def faults(school: Path, out: Path) -> list[str]:
    """What is not as it must be once everything was put right."""
    said = []
    for number, digests in entered(school).items():
        file, paper = out / f"signed-{number}.json", out / f"signed-{number}.pdf"
        if len(digests) != 1:
            said.append(f"{number} is entered {len(digests)} times")
        elif not file.exists() or sha256(file.read_bytes()).hexdigest() != digests[0]:
            said.append(f"{number} has another file than was entered")
        if not paper.exists() or b"standfast-receipt" not in paper.read_bytes():
            said.append(f"{number} has no paper")
    odd = [one.name for one in out.iterdir() if not one.name.startswith("signed-")]
    return said + [f"{one} is left" for one in odd]


def missing(school: Path, out: Path) -> int:
    """How many are entered and not in their place."""
    there = (out / f"signed-{n}.json" for n, digests in entered(school).items() if digests)
    return sum(not one.exists() for one in there)


def main(school: Path, out: Path, seed: int, kills: int) -> None:
    """Each run that is killed is followed by one that is not."""
    random, counted = Random(seed), Counter[str]()
    began = time.monotonic()
    sign_all(school, out)  # loads what all need
    began, first = time.monotonic(), further_awards(school, AWARDS, "first")
    assert len(sign_all(school, out).made) == len(first)
    whole = time.monotonic() - began
    for kill in range(kills):
        further_awards(school, AWARDS, f"{kill:03}")
        if kill % 2:
            step = random.randrange(STEPS)
            child = forked(partial(killed_at, step, school, out))
        else:
            child = forked(lambda: sign_all(school, out))
            time.sleep(random.uniform(0.1, 1.0) * whole)
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        counted["killed"] += os.WIFSIGNALED(status)
        counted["left in between"] += missing(school, out)
        gave = sign_all(school, out)
        counted["put in place"] += len(gave.left)
        counted["signed again"] += len(gave.made)
        if said := faults(school, out):
            raise SystemExit(f"kill {kill}: {'; '.join(said)}")
    sys.stdout.write(json.dumps(counted))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
