"""No answer to a federation lets anybody be sure that a group of one school is of one to four.

The rule is tried on every small school there could be, and the database is held to the rule.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from itertools import chain, combinations, product
from random import Random

import pytest
from tests.store.cluster import OWNER, Cluster
from tests.store.two import today_is

from standfast.model.federation import SMALLEST
from standfast.store import founding

PARTS = range(5)
"""What counts: due in this quarter, in each of the next three, later."""

UP_TO = 7
"""Awards in a part of the schools that are tried; more of them can only be less sure."""

School = tuple[int, ...]


def told(parts: School) -> tuple[int, School]:
    """What leaves a school of so many awards in each part: their sum, and the parts.

    0 and () where they do not.  The rule in our own words, to which the one in SQL is held.
    """
    whole = sum(parts)
    if whole < SMALLEST:
        return 0, ()
    return whole, () if any(0 < part < SMALLEST for part in parts) else parts


def unions() -> list[tuple[int, ...]]:
    """Every group that can be put together from parts, but all of them."""
    return list(chain.from_iterable(combinations(PARTS, n) for n in range(1, len(PARTS))))


def test_no_small_group_can_be_told_from_what_leaves_a_school() -> None:
    """For each group: among schools of the same answer its size could be none, or enough."""
    by_answer: dict[tuple[int, School], list[School]] = defaultdict(list)
    for parts in product(range(UP_TO + 1), repeat=len(PARTS)):
        by_answer[told(parts)].append(parts)

    tried = 0
    for answer, schools in by_answer.items():
        for group in unions():
            sizes = {sum(parts[n] for n in group) for parts in schools}
            tried += 1
            assert any(size == 0 or size >= SMALLEST for size in sizes), (answer, group)
    assert tried > 1_000


def test_without_the_rule_for_parts_small_groups_would_be_told() -> None:
    """The check above can fail: parts that are each told alone give away the one that is not."""
    schools = defaultdict(list)
    for parts in product(range(UP_TO + 1), repeat=len(PARTS)):
        alone = tuple(part if part >= SMALLEST else 0 for part in parts)
        schools[sum(parts), alone].append(parts)

    sure = [
        answer
        for answer, found in schools.items()
        for n in PARTS
        if all(0 < parts[n] < SMALLEST for parts in found)
    ]
    assert len(sure) > 100


# --- the database -----------------------------------------------------------------------------

TODAY = date(2026, 11, 20)
DUE = (date(2026, 12, 1), date(2027, 2, 1), date(2027, 5, 1), date(2027, 8, 1), date(2027, 10, 1))
QUARTERS = ("2026Q4", "2027Q1", "2027Q2", "2027Q3", None)


def _awards(name: str, parts: School, lapsed: int) -> list[tuple[object, ...]]:
    """Rows of `awards` of one school."""
    days = [day for n, day in enumerate(DUE) for _ in range(parts[n])]
    days += [date(2026, 8, 1)] * lapsed
    far = timedelta(365)
    return [
        (
            *(name, f"a{n}", n, f"A-{n}", "c", "low-bar", "low-bar", "2024-01-01"),
            *(str(day + far), str(day), str(day), "d", str(day + far), "", 1),
        )
        for n, day in enumerate(days)
    ]


INTO = b"""INSERT INTO awards (school, id, seq, number, candidate, rubric, scope, first_day,
 last_day, refresher_due, grace_until, decision, mendable_until, documents, version)
 VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)"""


def some_schools() -> list[tuple[School, int]]:
    """Every way to have none, too few or enough in each part, and others at random."""
    draw = Random(5)
    each = [tuple(parts) for parts in product((0, SMALLEST - 1, SMALLEST), repeat=len(PARTS))]
    each += [tuple(draw.randrange(UP_TO + 1) for _ in PARTS) for _ in range(60)]
    return [(parts, draw.randrange(UP_TO + 1)) for parts in each]


@pytest.fixture
def database(cluster: Cluster) -> str:
    """With tables, in which today is that day."""
    name = cluster.new_database("founded")
    with founding.owning(cluster.address(OWNER, name)) as conn:
        founding.make_tables(conn)
    cluster.do(today_is(TODAY), name)
    return name


def test_what_leaves_a_school_of_the_database_is_by_that_rule(
    cluster: Cluster, database: str
) -> None:
    schools = {f"s{n}": one for n, one in enumerate(some_schools())}
    with cluster.connect("super", database) as everything:
        everything.execute(b"SET session_replication_role = replica")  # without a journal
        for name, (parts, lapsed) in schools.items():
            everything.execute(b"INSERT INTO keepers VALUES (%s, %s)", (OWNER, name))
            with everything.cursor() as cursor:
                cursor.executemany(INTO, _awards(name, parts, lapsed))

    with cluster.connect(OWNER, database) as owner:
        for name, (parts, lapsed) in schools.items():
            rows = owner.execute(b"SELECT * FROM standfast_awards_of(%s)", (name,)).fetchall()
            found = {(what, quarter): awards for _, what, quarter, awards in rows}
            whole, shown = told(parts)
            wanted: dict[tuple[str, str | None], int] = {}
            wanted |= {("counting", None): whole} if whole else {}
            wanted |= {
                ("due" if quarter else "later", quarter): part
                for quarter, part in zip(QUARTERS, shown, strict=False)
            }
            wanted |= {("lapsed", None): lapsed} if lapsed >= SMALLEST else {}
            assert found == wanted, (parts, lapsed)
    assert len(schools) > 300
