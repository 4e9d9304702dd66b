"""What a due list costs in a large school: 1,000,000 awards in SQLite, and letters in a batch.

The book is written row by row as the store would derive it, past the store: 200,000 people with
three documents each, who hold two awards each; what those renewed is there too.  Every second
person left at some time in the eight years before and renewed nothing since.  What stands has
its journal entry, so that standings and a whole due list can be asked for; what was renewed has
its derived row alone.  Nothing in it could be audited.
"""

from __future__ import annotations

import json
import sqlite3
import statistics
import sys
import tempfile
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta, timezone
from functools import cache
from pathlib import Path
from random import Random
from typing import Any
from uuid import UUID

from sqlalchemy import CompoundSelect, Select, select
from sqlalchemy.dialects import sqlite as dialect
from tests.bench.measured import Row, seconds
from tests.store.school import School, open_school

from standfast.desk.due import Asked, due
from standfast.desk.opening import Desk, Moment
from standfast.engine.dates import add, award_dates, standing
from standfast.model.award import AwardDates
from standfast.model.canonical import plain
from standfast.model.rubric import Refresher, Validity
from standfast.store.bodies import AwardGranted
from standfast.store.due import STANDS, how_many, in_days
from standfast.store.tables import awards

PEOPLE, SCOPES, SITES = 200_000, 2, 200
AT_ONCE = 10_000
RENEWED = (2, 1)
"""How often the award of each scope was renewed: 5 awards for each person."""
ON = date(2026, 11, 20)
FIRST, LAST = date(2026, 12, 1), date(2027, 2, 28)
KINDS = {"first-aid": "P2Y", "insurance": "P1Y", "safeguarding-check": "P3Y"}
VALIDITY = Validity(
    period="P2Y", refresher=Refresher(every="P1Y", window="P2M"), grace="P1M", lapse_limit="P1Y"
)
Rows = dict[str, list[tuple[Any, ...]]]


def rows() -> Iterator[Row]:
    """Every ratio of the due list."""
    with tempfile.TemporaryDirectory(dir=sys.prefix, prefix="bench-") as name:
        school = open_school(Path(name))
        school.fill()
        count = write(school, Random(7))
        yield from listed(school, count)
        yield from one_person(school)
        yield from whole_list(school)
        school.book.close()


# --- the book ---------------------------------------------------------------------------------


def write(school: School, chance: Random) -> int:
    """Fills the school's book; gives the number of awards."""
    connection = sqlite3.connect(school.book.file)  # foreign keys are not looked at here
    guards = list(connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
    for name, _ in guards:
        connection.execute(f"DROP TRIGGER {name}")
    seq = school.book.size()
    template, decision = like(school)
    for first in range(0, PEOPLE, AT_ONCE):
        found: Rows = {
            name: [] for name in ("journal", "identity", "people", "documents", "awards")
        }
        for number in range(first, min(first + AT_ONCE, PEOPLE)):
            seen = ON - timedelta(days=chance.randrange(800, 3000) if number // SITES % 2 else 0)
            seq = add_person(found, number, seq, seen, chance)
            seq = add_awards(found, number, seq, seen, (template, decision), chance)
        for table, some in found.items():
            places = ", ".join("?" * len(some[0]))
            connection.executemany(f"INSERT INTO {table} VALUES ({places})", some)  # noqa: S608
        connection.commit()
    for _, sql in guards:
        connection.execute(sql)
    connection.execute("UPDATE meta SET value = value + 1 WHERE key = 'identities'")
    connection.commit()
    count = connection.execute("SELECT count(*) FROM awards").fetchone()[0]
    connection.execute("ANALYZE").close()
    connection.close()
    return int(count)


def like(school: School) -> tuple[str, str]:
    """An award as JSON with places for what differs, and the decision that all rest on."""
    (kept,) = school.book.awards("cato")
    body = plain(AwardGranted(award=kept.award.model_copy(update={"documents": tuple(KINDS)})))
    with school.book._reading() as reading:
        body["award"]["certifier"] = reading.names.ref(kept.award.certifier)
    body["award"] |= {"id": "@id", "number": "@number", "candidate": "@ref", "dates": "@dates"}
    body["award"]["granted"] = "@granted"
    return json.dumps(body), kept.award.decision


def ref_of(number: int) -> str:
    """The opaque id of the person of that number."""
    return f"p-{number:032x}"


def entry(seq: int, kind: str, about: str, body: str) -> tuple[Any, ...]:
    """A row of the journal; its leaf is none."""
    key = str(UUID(int=seq + (7 << 76)))
    return (seq, key, "2026-03-01T09:00:00Z", "office", kind, about, None, body, bytes(32))


def add_person(found: Rows, number: int, seq: int, seen: date, chance: Random) -> int:
    """A person whose documents end after they were last seen; gives the journal's last number."""
    ref, seq = ref_of(number), seq + 1
    papers = []
    for place, (kind, period) in enumerate(KINDS.items()):
        length = (add(ON, period) - ON).days
        last = seen + timedelta(days=chance.randrange(length))
        issued = last - timedelta(days=length)
        papers.append({"document": kind, "issued": str(issued), "last_day": str(last)})
        row = (f"{ref}/{place}", seq, ref, kind, str(issued), str(last))
        found["documents"].append(row)
    state = {"person": {"person": ref, "documents": papers}, "commitment": "0" * 64}
    found["journal"].append(entry(seq, "person-set", ref, json.dumps(state)))
    named = (f"holder-{number}", f"Holder {number} (invented)", None, f"Hall {number % SITES}")
    found["identity"].append((ref, *named, bytes(32)))
    found["people"].append((ref, seq))
    return seq


@cache
def dates_from(granted: date) -> tuple[AwardDates, str]:
    """The days of an award granted on that day, and their JSON."""
    dates = award_dates(VALIDITY, granted)
    return dates, json.dumps(plain(dates))


def add_awards(
    found: Rows, number: int, seq: int, seen: date, like_it: tuple[str, str], chance: Random
) -> int:
    """For each scope the award that stands, granted before they were last seen, and those before.

    `like_it` is what `like` gives.
    """
    template, decision = like_it
    ref = ref_of(number)
    needed = "".join(f" {kind} " for kind in sorted(KINDS))
    for scope, before in enumerate(RENEWED):
        granted = seen - timedelta(days=chance.randrange(375))
        later: tuple[str, date] | None = None
        for age in range(before + 1):
            dates, written = dates_from(granted - timedelta(days=365 * age))
            key = str(UUID(int=(number * SCOPES + scope) * 10 + age))
            name = f"B{scope}-{number}-{age}"
            if age == 0:
                seq += 1
                body = template.replace("@id", key).replace("@number", name).replace("@ref", ref)
                body = body.replace('"@dates"', written).replace("@granted", str(dates.first_day))
                found["journal"].append(entry(seq, "award-granted", ref, body))
            row: dict[str, Any] = dict.fromkeys(awards.columns.keys())
            row |= {"id": key, "seq": seq, "number": name, "candidate": ref, "decision": decision}
            row |= {"rubric": "bar-1", "version": 1, "scope": f"teach-{scope}", "documents": needed}
            for day in ("first_day", "last_day", "refresher_due", "grace_until"):
                row[day] = str(getattr(dates, day))
            row["mendable_until"] = str(dates.full_practical_after)
            row["renewed_by"], row["renewed_on"] = (
                (later[0], str(later[1])) if later else (None,) * 2
            )
            found["awards"].append(tuple(row.values()))
            later = key, dates.first_day
    return seq


# --- what is asked ----------------------------------------------------------------------------


def statement(query: Select[Any] | CompoundSelect[Any]) -> str:
    """The query as the store sends it to SQLite, with its values in it."""
    return str(query.compile(dialect=dialect.dialect(), compile_kwargs={"literal_binds": True}))


def typical(do: Callable[[], object], times: int) -> float:
    """The median of so many calls, in seconds, after one that is not counted."""
    do()
    return statistics.median(seconds(do) for _ in range(times))


def listed(school: School, count: int) -> Iterator[Row]:
    """A quarter's awards, and how many, against reading every row."""
    wanted = in_days(FIRST, LAST)
    between = f"BETWEEN '{FIRST}' AND '{LAST}'"
    every = (
        f"SELECT seq FROM awards NOT INDEXED WHERE (last_day {between} OR refresher_due {between})"  # noqa: S608
        " AND renewed_by IS NULL AND superseded_by IS NULL"
    )
    counting = statement(how_many(FIRST, LAST))
    connection = sqlite3.connect(school.book.file)

    def ask(query: str) -> list[tuple[Any, ...]]:
        return connection.execute(query).fetchall()

    found = len(ask(every))
    if not found or sorted(ask(every)) != sorted(ask(statement(wanted))):
        raise SystemExit("the quarter's list is not what reading every row gives")
    scan = typical(lambda: ask(every), 5)
    took = typical(lambda: ask(statement(wanted)), 5)
    counted = typical(lambda: ask(counting), 5)
    connection.close()
    detail = f"{found:,} of {count:,} awards; scan {scan * 1e3:.0f} ms"
    yield Row("quarter's list by index : reading every award", took / scan, 0.30, detail)
    detail = f"{counted * 1e3:.1f} ms"
    yield Row("quarter's count by index : reading every award", counted / scan, 0.03, detail)


def one_person(school: School) -> Iterator[Row]:
    """The days of one person's awards, in the store; and the whole standing for comparison."""
    columns = (awards.c.seq, awards.c.last_day, awards.c.refresher_due, awards.c.mendable_until)
    query = select(*columns).where(awards.c.candidate == ref_of(0), STANDS)
    text = statement(query).replace(f"'{ref_of(0)}'", "?")
    connection = sqlite3.connect(school.book.file)
    refs = [ref_of(number) for number in range(0, PEOPLE, 400)]
    seen = [connection.execute(text, (ref,)).fetchall() for ref in refs]
    if {len(some) for some in seen} != {SCOPES}:
        raise SystemExit("a person holds another number of awards")
    turns = [seconds(lambda: connection.execute(text, (ref,)).fetchall()) for ref in refs]  # noqa: B023 - called at once
    connection.close()
    took = statistics.median(turns) * 1e3
    yield Row("one person's days in the store, in ms", took, 0.1, f"median of {len(refs)}")

    def stand() -> None:
        holder = school.book.find_person("holder-7")
        assert holder is not None
        for kept in school.book.awards("holder-7"):
            documents = {kind: holder.document_until(kind, ON) for kind in KINDS}
            standing(kept.award, documents, ON, school.book.rulings(kept.award.id))

    detail = "with award, person, documents and rulings read"
    yield Row("one person's standing, all told, in ms", typical(stand, 20) * 1e3, None, detail)


def whole_list(school: School) -> Iterator[Row]:
    """Seconds of a whole due list, and of one site's."""
    folder = school.book.file.parent
    (folder / "school.yaml").write_text("school: bar\nname: Bar\nyear_starts: 9\n", "utf-8")
    now = datetime(2026, 11, 20, tzinfo=timezone.utc)
    desk = Desk(folder, Moment(now, "office", bytes, ON), school.book)
    for site, words in (("Hall 7", f"of one site of {SITES}"), (None, "of the whole school")):
        asked = Asked(quarter="FY2026/27 Q2", site=site)
        found: list[int] = []
        took = seconds(lambda: found.append(len(due(desk, asked).rows)))  # noqa: B023 - at once
        detail = f"{found[0]:,} rows"
        yield Row(f"due {words}, in seconds", took, None, detail)
