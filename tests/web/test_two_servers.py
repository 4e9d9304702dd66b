"""Two servers on one book, and a line between that repeats and reorders: each record once."""

from __future__ import annotations

import random
import shutil
import sys
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from tests.web.conftest import Clock, Sent, Served, move_to, served
from tests.web.records import JSON, begin, key, record

ROUNDS, MARKS = 12, 40


@pytest.fixture(params=["one file", "postgresql"])
def both(
    school: Path, tmp_path: Path, request: pytest.FixtureRequest
) -> Iterator[tuple[Served, Served]]:
    """Two servers on one book; in PostgreSQL each in a folder of its own, as on two computers."""
    other_folder = school
    if request.param == "postgresql":
        move_to(request.getfixturevalue("cluster"), school)
        other_folder = Path(shutil.copytree(school, tmp_path / "another computer"))
    with served(school, Clock()) as one, served(other_folder, Clock()) as other:
        yield one, other


def taps(sheet: str, candidate: str, first: int) -> list[JSON]:
    """A lesson's marks, as a device has them."""
    head = begin(candidate) | {"sheet": sheet, "id": key(first)}
    told = {"student": "S1", "skill": "long-hang", "criterion": "feet-still", "answer": "yes"}
    marks = (
        record(n, sheet=sheet, number=first + n, kind="mark", try_=n, t=n, **told)
        for n in range(2, MARKS + 2)
    )
    return [head, *marks]


def send(visitor: httpx.Client, batch: list[JSON]) -> list[tuple[str, str]]:
    answer = visitor.post("/api/records", json={"records": batch})
    assert answer.status_code == 200, answer.text
    return [(one["id"], one["answer"]) for one in answer.json()["answers"]]


def test_two_servers_keep_each_record_once_whatever_the_line_does(
    both: tuple[Served, Served],
) -> None:
    """A proxy that repeats a batch, turns it round, and sends it to the other server too."""
    visitors = [house.visitor("hana") for house in both]
    candidate = str(visitors[0].get("/api/kits").json()["candidates"][0]["id"])
    chance = random.Random(17)
    sheets = {
        f"01a1471c-3e00-7a11-8b42-{0xA000 + n:012x}": 0xB0000 + n * 1000 for n in range(ROUNDS)
    }
    batches: list[tuple[httpx.Client, list[JSON]]] = []
    made: set[str] = set()
    for sheet, first in sheets.items():
        whole = taps(sheet, candidate, first)
        made |= {one["id"] for one in whole}
        parts = [whole[at : at + 10] for at in range(0, len(whole), 10)]
        for part in [*parts, *chance.sample(parts, 3)]:
            chance.shuffle(part)
            batches += [(visitor, list(part)) for visitor in visitors]
    chance.shuffle(batches)
    with ThreadPoolExecutor(8) as pool:
        answers = [one for told in pool.map(lambda one: send(*one), batches) for one in told]
    counted = Counter(answer for _, answer in answers)
    stored = Counter(name for name, answer in answers if answer == "stored")
    sys.stderr.write(f"two servers, {len(answers)} records sent: {dict(counted)}\n")

    assert set(counted) == {"stored", "seen"}
    assert set(stored) == made
    assert set(stored.values()) == {1}
    assert set(Sent(both[0].folder).records) == made
