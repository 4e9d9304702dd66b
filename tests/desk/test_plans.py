"""How the databases look for what is asked: by an index, where the whole book is not what is asked.

A row that is found by reading a whole table costs nothing in a small book and everything in a large
one, so each statement that a question makes is held against the plan that the database has for it.
PostgreSQL is told that its tables have a million rows and that it dislikes to read them all; an
index of which only the school is used counts as the whole table.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, event
from tests.bench import questions
from tests.bench.books import ON, RUBRIC, SETTINGS, SYLLABUS, founded, grow
from tests.engine import made
from tests.store.cluster import KEEPER, Cluster
from tests.store.school import School

from standfast.desk.opening import Desk, Moment

Asked = list[tuple[str, Any]]

SMALL = {
    "texts",
    "schools",
    "approvals",
    "meta",
    "heads",
    "keepers",
    "turns",
    "appeals",
    "sqlite_master",
}
"""Tables that do not grow with the years, or hardly."""

NAMES = Counter({"identity": 1, "people": 1})
"""Names are read once by each program that opens a book."""


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def school(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[School]:
    where: str | Path = tmp_path_factory.mktemp("barn")
    database = ""
    if request.param == "postgresql":
        cluster: Cluster = request.getfixturevalue("cluster")
        database = cluster.new_database("founded")
        where = cluster.address(KEEPER, database, "barn")
    opened = founded(where)
    grow(opened, 60)
    if database:
        cluster.do("ANALYZE", database)
        cluster.do(
            "UPDATE pg_class SET reltuples = 1000000"
            " WHERE relnamespace = 'public'::regnamespace AND reltuples > 0",
            database,
        )
    yield opened
    opened.book.close()


@pytest.fixture
def desk(school: School, tmp_path: Path) -> Desk:
    (tmp_path / "school.yaml").write_text(SETTINGS.format("barn"), "utf-8")
    return Desk(tmp_path, Moment(questions.NOW, "office", school.random.randbytes, ON), school.book)


@contextmanager
def listening(desk: Desk) -> Iterator[Asked]:
    """Every statement that reads or changes what is there, with its values."""
    engine = desk.book._transactions.database._engine  # type: ignore[attr-defined]
    heard: Asked = []

    def hear(*called: Any) -> None:  # noqa: ANN401 - connection, cursor, statement, values, ...
        _, _, statement, values, _, many = called
        if re.match(r"\s*(SELECT|WITH|UPDATE|DELETE)", statement):
            heard.append((statement, values[0] if many else values))

    event.listen(engine, "before_cursor_execute", hear)
    try:
        yield heard
    finally:
        event.remove(engine, "before_cursor_execute", hear)


def read_whole(desk: Desk, ask: Callable[[Desk], object]) -> Counter[str]:
    """How often each table was read from end to end to answer."""
    with listening(desk) as heard:
        ask(desk)
    assert heard
    found: Counter[str] = Counter()
    with desk.book._transactions.database.reading() as conn:
        scans = _scans_of_sqlite if conn.dialect.name == "sqlite" else _scans_of_postgres
        for statement, values in heard:
            found.update(scans(conn, statement, values))
    return Counter({table: times for table, times in found.items() if table not in SMALL})


def _scans_of_sqlite(conn: Connection, statement: str, values: Any) -> Iterator[str]:  # noqa: ANN401
    for row in conn.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values).all():
        if found := re.match(r"SCAN (\w+)", row[3]):
            yield re.sub(r"_\d+$", "", found[1])


def _scans_of_postgres(conn: Connection, statement: str, values: Any) -> Iterator[str]:  # noqa: ANN401
    for off in ("seqscan", "hashjoin", "mergejoin"):
        conn.exec_driver_sql(f"SET LOCAL enable_{off} = off")
    said = conn.exec_driver_sql(f"EXPLAIN (FORMAT JSON) {statement}", values).scalar_one()
    (plan,) = said if isinstance(said, list) else json.loads(said)
    yield from _whole_tables(plan["Plan"])


def _whole_tables(node: dict[str, Any]) -> Iterator[str]:
    parts = node.get("Plans", [])
    if node["Node Type"].endswith("Scan") and "Relation Name" in node:
        bitmaps = [one for one in _below(node) if one["Node Type"] == "Bitmap Index Scan"]
        if not all(" AND " in one.get("Index Cond", "") for one in bitmaps or [node]):
            yield node["Relation Name"]
    for one in parts:
        yield from _whole_tables(one)


def _below(node: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for one in node.get("Plans", []):
        yield one
        yield from _below(one)


def take_in(desk: Desk) -> object:
    """A sheet of a lesson that somebody else has scored."""
    book = desk.book
    rubric, syllabus = book.keep_text(RUBRIC, desk.stamp()), book.keep_text(SYLLABUS, desk.stamp())
    own = {"id": desk.new_key(), "assessor": "assessor-1", "practical": "lesson-new"}
    sheet = made.sheet(1, candidate="candidate-0").model_copy(update=own)
    return book.put_sheet(sheet, rubric, syllabus, desk.stamp())


def correct(desk: Desk) -> object:
    """The newest sheet of a candidate in place of another."""
    before = desk.book.sheets("candidate-0")[-1]
    changed = {
        "id": desk.new_key(),
        "corrects": {"of": before.sheet.id, "because": "a slip of the pen"},
    }
    sheet = before.sheet.model_validate({**before.sheet.model_dump(), **changed})
    return desk.book.put_sheet(sheet, before.rubric, before.syllabus, desk.stamp())


@pytest.mark.parametrize(
    ("ask", "whole"),
    [
        pytest.param(questions.one_record, {}, id="one record"),
        pytest.param(take_in, {}, id="a sheet that comes in"),
        pytest.param(correct, {}, id="a sheet that is corrected"),
        # What was ruled of awards and which references were scored is read at once: it is little.
        pytest.param(questions.due_list, {"rulings": 1, "reference_scores": 1}, id="the due list"),
        pytest.param(questions.by_counts, {"tallies": 1, "lesson_sums": 1}, id="counts"),
        pytest.param(
            questions.comparison,
            {"sheets": 2, "ratings": 1, "decisions": 1, "identity": 1},
            id="every mark compared",
        ),
    ],
)
def test_no_table_is_read_from_end_to_end_without_need(
    desk: Desk, ask: Callable[[Desk], object], whole: dict[str, int]
) -> None:
    found = read_whole(desk, ask)

    assert found <= Counter(whole) + NAMES


def test_a_table_without_its_index_would_be_noticed(desk: Desk) -> None:
    def by_number(desk: Desk) -> object:
        with desk.book._reading() as reading:
            return reading.conn.exec_driver_sql("SELECT id FROM sheets WHERE seq = 7").all()

    assert read_whole(desk, by_number) == {"sheets": 1}
