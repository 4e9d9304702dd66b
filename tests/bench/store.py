"""What the record book costs, against the least that the machine could do for the same."""

from __future__ import annotations

import json
import os
import sqlite3
import statistics
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from datetime import date, timedelta
from hashlib import sha256
from itertools import islice
from pathlib import Path
from uuid import UUID

from tests.bench.measured import Row, seconds
from tests.engine import made
from tests.store.school import BEGAN, RUBRIC, SYLLABUS, School, open_school, people

from standfast.engine.decide import decide
from standfast.model.canonical import plain
from standfast.model.tree import GrowingTree
from standfast.store.audit import entries
from standfast.store.bodies import AwardGranted, DecisionInputs, DecisionMade, SheetTaken
from standfast.store.journal import Draft, canonical_entry, instant, leaf_of
from standfast.store.replay import cases

IMPORTED, DECIDED, READ, DURABLE = 100_000, 10_000, 2_000, 300
CANDIDATES = 200
"""Of the replay; everyone has two sheets and 50 decisions."""


def rows() -> Iterator[Row]:
    """Every ratio of the record book."""
    # Beside the environment: on the disk of the checkout, where /tmp may be memory.
    with tempfile.TemporaryDirectory(dir=sys.prefix, prefix="bench-") as name:
        folder = Path(name)
        yield from durable(fresh(folder / "durable"), folder / "blocks")
        yield from imported(folder)
        yield from replayed(fresh(folder / "replay"))


def fresh(folder: Path) -> School:
    """A small invented school whose book is in that new folder."""
    folder.mkdir()
    school = open_school(folder)
    school.fill()
    return school


# --- one durable entry ------------------------------------------------------------------------


def durable(school: School, blocks: Path) -> Iterator[Row]:
    """One entry on an open book against 4 KiB made durable, in turn."""
    texts = school.keep_texts()
    sheets = [made.sheet(1).model_copy(update={"id": school.key()}) for _ in range(DURABLE)]
    drafts = awards(school, DURABLE)
    block = os.open(blocks, os.O_WRONLY | os.O_CREAT)
    took: list[tuple[float, float, float]] = []
    for number, (sheet, draft) in enumerate(zip(sheets, drafts, strict=True)):
        stamp = school.stamp("ann")
        took.append(
            (
                seconds(lambda: write_block(block, number)),  # noqa: B023 - called at once
                seconds(lambda: school.book.append([draft])),  # noqa: B023 - called at once
                seconds(lambda: school.book.put_sheet(sheet, *texts, stamp)),  # noqa: B023 - same
            )
        )
    os.close(block)
    school.book.close()
    floor, one, sheet_taken = (statistics.median(part) for part in zip(*took, strict=True))
    detail = f"{floor * 1e6:.0f} us the block; median of {DURABLE}, in turn"
    yield Row("one award appended : 4 KiB and fdatasync", one / floor, 6, detail)
    detail = "with its checks: texts, people, correction"
    yield Row("one sheet put in : 4 KiB and fdatasync", sheet_taken / floor, None, detail)


def write_block(file: int, number: int) -> None:
    """Writes 4 KiB behind the ones before it, and waits until the disk has them."""
    os.pwrite(file, bytes([number % 256]) * 4096, number * 4096)
    os.fdatasync(file)


# --- many at once -----------------------------------------------------------------------------


def awards(school: School, count: int) -> list[Draft]:
    """So many awards of the school's candidate, as an import would hand them over."""
    (kept,) = school.book.awards("cato")
    with school.book._reading() as reading:
        ref, certifier = reading.names.ref("cato"), reading.names.ref(kept.award.certifier)
        named = plain(AwardGranted(award=kept.award))["award"]
    common = {**named, "candidate": ref, "certifier": certifier}
    found = []
    for number in range(count):
        stamp = school.stamp()
        first = date(2026, 3, 1) + timedelta(days=number % 700)
        dates = {**common["dates"], "first_day": str(first), "counted_from": str(first)}
        own = {"id": school.key(), "number": stamp.id, "dates": dates}
        body = {"award": {**common, **own}}
        at = instant(stamp.at)
        found.append(Draft(stamp.id, at, "office", "award-granted", ref, None, body))
    return found


def imported(folder: Path) -> Iterator[Row]:
    """Many awards against their bare rows, three times, in turn; then what verifying costs."""
    ratios, rates = [], []
    drafts: list[Draft] = []
    for turn in range(3):
        school = fresh(folder / f"import-{turn}")
        drafts = drafts or awards(school, IMPORTED)  # the same seed makes the same school
        took = seconds(lambda: school.book.append(drafts))  # noqa: B023 - called at once
        floor = raw_rows(school, folder / f"raw-{turn}.db")
        ratios.append(took / floor)
        rates.append(took / IMPORTED * 1e6)
        if turn < 2:
            school.book.close()
    detail = f"{statistics.median(rates):.0f} us an award; median of 3, in turn"
    what = f"import of {IMPORTED:,} awards : their rows, no index or check"
    yield Row(what, statistics.median(ratios), 10, detail)
    yield from verified(school)


def raw_rows(school: School, file: Path) -> float:
    """Seconds to write the same rows into tables without index, guard or check."""
    source = sqlite3.connect(school.book.file)
    tables = {name: list(source.execute(f"SELECT * FROM {name}")) for name in ("journal", "awards")}  # noqa: S608
    source.close()
    target = sqlite3.connect(file, isolation_level=None)
    target.execute("PRAGMA journal_mode = WAL")
    target.execute("PRAGMA synchronous = FULL")
    for name, found in tables.items():
        target.execute(f"CREATE TABLE {name} ({', '.join(f'c{n}' for n in range(len(found[0])))})")

    def write() -> None:
        target.execute("BEGIN IMMEDIATE")
        for name, found in tables.items():
            places = ", ".join("?" * len(found[0]))
            target.executemany(f"INSERT INTO {name} VALUES ({places})", found)  # noqa: S608
        target.execute("COMMIT")

    took = seconds(write)
    target.close()
    return took


def verified(school: School) -> Iterator[Row]:
    """The tree, the leaves and the whole audit of that book against bare SHA-256."""
    with school.book._reading() as reading:
        contents = [canonical_entry(*entry[:-1]) for entry in entries(reading)]
        leaves = [entry.leaf for entry in entries(reading)]

        def check() -> None:
            growing = GrowingTree()
            for entry in entries(reading):
                assert leaf_of(entry) == entry.leaf
                growing.extend((entry.leaf,))
            assert growing.size == len(leaves)

        tree = in_turn(lambda: school.book.head(BEGAN), lambda: hashed(leaves))
        checked = in_turn(check, lambda: hashed(contents))
        bare = seconds(lambda: hashed(contents))
    audit = seconds(lambda: school.book.audit().faults.index)
    school.book.close()
    size = f"{len(leaves):,} entries"
    yield Row("tree head from the leaves : SHA-256 of each leaf", tree, 10, size)
    # To read the rows out of SQLite alone is two to three times the hashing.
    yield Row("entries, leaves and tree verified : SHA-256 of each", checked, 12, size)
    detail = f"file, guards, tables too; {audit / len(leaves) * 1e6:.0f} us an entry"
    yield Row("whole audit without replay : SHA-256 of each", audit / bare, None, detail)


def in_turn(ours: Callable[[], object], floor: Callable[[], object]) -> float:
    """The median ratio of five rounds."""
    return statistics.median(seconds(ours) / seconds(floor) for _ in range(5))


def hashed(contents: Iterable[bytes]) -> None:
    """Every content once through SHA-256."""
    for content in contents:
        sha256(content).digest()


# --- replay -----------------------------------------------------------------------------------


def replayed(school: School) -> Iterator[Row]:
    """Every decision made again against merely reading what it was made from."""
    school.book.append(list(decisions(school)))
    with school.book._reading() as reading:
        read = seconds(lambda: sum(1 for _ in islice(cases(reading), READ))) / READ
    found: list[object] = []
    took = seconds(lambda: found.extend(school.book.replay(decide)))
    school.book.close()
    if found != [DECIDED + 1, ()]:
        raise SystemExit(f"the replay was no replay: {str(found)[:400]}")
    detail = f"{DECIDED / took:,.0f} decisions a second"
    yield Row(
        f"replay of {DECIDED:,} decisions : reading them", took / (DECIDED * read), None, detail
    )


def decisions(school: School) -> Iterator[Draft]:
    """Candidates with two sheets each, and decisions of many days on those."""
    pair = (made.sheet(1), made.sheet(2, assessor="bo"))
    rubric, syllabus = school.keep_texts()
    candidate = people()[0]
    taken = [plain(SheetTaken(sheet=s, rubric=rubric, syllabus=syllabus)) for s in pair]
    days = [made.ON + timedelta(days=day) for day in range(DECIDED // CANDIDATES)]
    decided = [
        plain(
            DecisionMade(
                decision=decide(RUBRIC, SYLLABUS, pair, candidate, day),
                inputs=DecisionInputs.of(candidate, pair),
            )
        )
        for day in days
    ]
    crowd = [made.person(f"c-{n}") for n in range(CANDIDATES)]
    school.book.put_people(crowd, school.stamp)
    with school.book._reading() as reading:
        refs = dict(reading.names.refs)
    for number in range(CANDIDATES):
        ref = refs[f"c-{number}"]
        own = {"cato": ref, **{name: refs[name] for name in ("ann", "bo", "zoe")}}
        own |= {sheet.id: str(UUID(int=1000 + 2 * number + n)) for n, sheet in enumerate(pair)}
        yield from (draft(school, "sheet-taken", ref, told(body, own)) for body in taken)
        yield from (draft(school, "decision-made", ref, told(body, own)) for body in decided)


def told(body: object, instead: dict[str, str]) -> str:
    """The body as JSON, with other people and sheets in it."""
    text = json.dumps(body)
    for before, after in instead.items():
        text = text.replace(f'"{before}"', f'"{after}"')
    return text


def draft(school: School, kind: str, about: str, body: str) -> Draft:
    """The entry of that body."""
    stamp = school.stamp()
    return Draft(stamp.id, instant(stamp.at), "office", kind, about, None, json.loads(body))
