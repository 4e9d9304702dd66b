"""What assessors marked alike, counted in tables as each sheet comes in.

So that agreement can be told of a large book, or of the books of many schools at once, without a
mark leaving the database.  A row says of a rubric's criterion, in a month, how many subjects
(`marks.py`) were given which scores, or sums over the lessons that two assessors saw; nobody and
no lesson is named in it.  A lesson counts in the month of the first day on its sheets that stand.

Rows are counted over the sheets of one lesson under one rubric, which is all that a new sheet can
change: what they were is taken away, what they are is added.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import cache, lru_cache
from itertools import combinations, groupby
from typing import Any, TypeAlias

from sqlalchemy import (
    Connection,
    Delete,
    Row,
    Select,
    Table,
    Update,
    bindparam,
    delete,
    select,
    update,
)

from standfast.model.evidence import LOOKS_ALIKE
from standfast.store.marks import unpacked
from standfast.store.tables import (
    AT_ONCE,
    COUNTED,
    add_rows,
    batched,
    lesson_sums,
    ratings,
    sheets,
    tallies,
)

Key: TypeAlias = tuple[str, ...]
Counts: TypeAlias = dict[Table, Counter[tuple[Key, str]]]
"""For each table how much stands in each column of the row of that key."""

_WITHIN = {"samples": float(LOOKS_ALIKE) + 1e-9}  # the last digits of a share do not count


@contextmanager
def counting_anew(conn: Connection, practicals: Iterable[str]) -> Iterator[None]:
    """Counts what the block changes about the sheets of these practicals."""
    which = sorted(practicals)
    before = _counted(_of(conn, which))
    yield
    after = _counted(_of(conn, which))
    for table in COUNTED:
        after[table].subtract(before[table])
        _add(conn, table, after[table])


def everything(conn: Connection) -> Counts:
    """What the tables must hold, from the ratings as they are; a lesson at a time in memory."""
    query = _STANDING.order_by(sheets.c.practical, sheets.c.rubric)
    return _counted(conn.execute(query.execution_options(yield_per=AT_ONCE)))


def as_kept(conn: Connection) -> Counts:
    """What the tables hold."""
    return {table: _read(conn.execute(select(table)), table) for table in COUNTED}


# --- counting ---------------------------------------------------------------------------------

_STANDING = (
    select(sheets.c.practical, sheets.c.rubric, sheets.c.day, ratings.c.criteria, ratings.c.packed)
    .join_from(sheets, ratings, ratings.c.sheet == sheets.c.id)
    .where(sheets.c.superseded_by.is_(None))
)
_SOME = _STANDING.where(sheets.c.practical.in_(bindparam("which", expanding=True)))
_IN_ORDER = _SOME.order_by(sheets.c.practical, sheets.c.rubric)


def _of(conn: Connection, practicals: list[str]) -> Iterator[Row[*tuple[Any, ...]]]:
    """The standing sheets of these practicals, those of a lesson and rubric together."""
    for which in batched(practicals, AT_ONCE):
        yield from conn.execute(_IN_ORDER, {"which": which})


def _counted(rows: Iterable[Row[*tuple[Any, ...]]]) -> Counts:
    found: Counts = {table: Counter() for table in COUNTED}
    for (_, rubric), of in groupby(rows, key=lambda row: (row.practical, row.rubric)):
        _count_lesson(found, rubric, list(of))
    return found


def _count_lesson(found: Counts, rubric: str, of: list[Row[*tuple[Any, ...]]]) -> None:
    """Adds one lesson, of whose sheets these are the rows."""
    month = min(row.day for row in of)[:7]
    scores: dict[tuple[str, str, int], list[float]] = defaultdict(list)
    for row in of:
        named = _names(row.criteria)
        for subject, place, score in unpacked(row.packed):
            scores[*named[place], subject].append(score)
    both: dict[Key, list[int]] = defaultdict(lambda: [0, 0])
    for (kind, criterion, _), given in scores.items():
        key: Key = (rubric, month, kind, criterion)
        times = sorted(Counter(given).items())
        written = " ".join(f"{score!r}:{count}" for score, count in times)
        found[tallies][(*key, written), "subjects"] += 1
        if len(given) > 1:
            both[key][0] += len(given) * (len(given) - 1) // 2
            both[key][1] += _alike(times, _WITHIN.get(kind, 1e-9))
    for key, (pairs, alike) in both.items():
        sums = (1, pairs, alike, pairs * pairs, pairs * alike, alike * alike)
        found[lesson_sums].update(
            {(key, name): part for name, part in zip(_SUMS, sums, strict=True)}
        )


_SUMS = ("lessons", "pairs", "alike", "pairs_squared", "pairs_alike", "alike_squared")


@lru_cache(10_000)
def _names(criteria: str) -> tuple[tuple[str, str], ...]:
    return tuple((kind, name) for kind, name in json.loads(criteria))


def _alike(times: list[tuple[float, int]], within: float) -> int:
    """How many pairs of scores are alike; each score with how often it was given."""
    same = sum(count * (count - 1) // 2 for _, count in times)
    near = (n * m for (one, n), (other, m) in combinations(times, 2) if other - one <= within)
    return same + sum(near)


# --- in the tables ----------------------------------------------------------------------------


def _keys_and_columns(table: Table) -> tuple[list[str], list[str]]:
    keys = [column.name for column in table.primary_key.columns]
    return keys, [column.name for column in table.columns if column.name not in keys]


def _read(rows: Iterable[Row[*tuple[Any, ...]]], table: Table) -> Counter[tuple[Key, str]]:
    keys, columns = _keys_and_columns(table)
    found: Counter[tuple[Key, str]] = Counter()
    for row in rows:
        key = tuple(row[: len(keys)])
        found.update({(key, name): row[len(keys) + n] for n, name in enumerate(columns)})
    return found


def _by_row(counts: Mapping[tuple[Key, str], int]) -> dict[Key, dict[str, int]]:
    rows: dict[Key, dict[str, int]] = defaultdict(dict)
    for (key, name), count in counts.items():
        rows[key][name] = count
    return rows


def _insert(conn: Connection, table: Table, counts: Mapping[tuple[Key, str], int]) -> None:
    _, columns = _keys_and_columns(table)
    rows = [
        (*key, *(row.get(name, 0) for name in columns))
        for key, row in sorted(_by_row(counts).items())
    ]
    if rows:
        add_rows(conn, table, rows)


def _add(conn: Connection, table: Table, changes: Counter[tuple[Key, str]]) -> None:
    """Adds to what the rows say; one that says nothing any more goes."""
    changed = {key: row for key, row in _by_row(changes).items() if any(row.values())}
    if not changed:
        return
    there = _there(conn, table, changed)
    new = {key: row for key, row in changed.items() if key not in there}
    _insert(conn, table, {(key, name): n for key, row in new.items() for name, n in row.items()})
    now = {
        key: {name: there[key][name] + changed[key].get(name, 0) for name in there[key]}
        for key in changed.keys() & there.keys()
    }
    keys, change, take_out = _statements(table)
    at = {key: {f"at_{n}": part for n, part in zip(keys, key, strict=True)} for key in now}
    gone = [at[key] for key, row in now.items() if not any(row.values())]
    if gone:
        conn.execute(take_out, gone)
    kept = [{**at[key], **row} for key, row in sorted(now.items()) if any(row.values())]
    if kept:
        conn.execute(change, kept)


@cache
def _statements(table: Table) -> tuple[list[str], Update, Delete]:
    """The key's columns, and what changes a row and takes it out: put together once."""
    keys, columns = _keys_and_columns(table)
    here = [table.c[name] == bindparam(f"at_{name}") for name in keys]
    values: dict[str, Any] = {name: bindparam(name) for name in columns}
    return keys, update(table).where(*here).values(values), delete(table).where(*here)


def _there(conn: Connection, table: Table, keys: Iterable[Key]) -> dict[Key, dict[str, int]]:
    """The rows of every month and rubric that the keys are of."""
    found: Counter[tuple[Key, str]] = Counter()
    for rubric, month in sorted({key[:2] for key in keys}):
        of = conn.execute(_of_a_month(table), {"rubric": rubric, "month": month})
        found.update(_read(of, table))
    return _by_row(found)


@cache
def _of_a_month(table: Table) -> Select[*tuple[Any, ...]]:
    here = (table.c.rubric == bindparam("rubric"), table.c.month == bindparam("month"))
    return select(table).where(*here)
