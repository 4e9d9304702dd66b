"""What schools share with each other: said by each in its own book, read as sums over all.

Sums are to be had where several schools keep their books in one PostgreSQL database.  Nothing else
is read there: neither a row of a book nor a name (`postgres_federation.py`).
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Literal, cast

from sqlalchemy import Connection, select

from standfast.model.federation import SHARES, Shared
from standfast.problems import RecordBookError
from standfast.store.bodies import FederationSet
from standfast.store.grouped import GroupedMarks, as_groups
from standfast.store.journal import Entry, Stamp
from standfast.store.tables import journal, shared
from standfast.store.writing import Reading, Writing

What = Literal["counting", "due", "later", "lapsed"]
"""No two overlap but `counting`, of which `due` in each quarter and `later` are the parts."""


@dataclass(frozen=True)
class AwardCount:
    """How many awards under one rubric, over the schools that may tell it."""

    rubric: str
    what: What
    quarter: str | None
    """Of the calendar, for what is due: 2026Q4; in grace is due in the first."""
    awards: int
    schools: int
    """How many schools tell it; of a part that may be of none."""


@dataclass(frozen=True)
class Federation:
    """What may be known over all schools that agreed."""

    day: str
    """The first of the month in which the server answered; all is as of it."""
    schools: tuple[tuple[str, tuple[Shared, ...]], ...]
    """Each school that takes part, and what it shares."""
    awards: tuple[AwardCount, ...]
    marks: tuple[GroupedMarks, ...]


def put_shares(writing: Writing, shares: tuple[Shared, ...], stamp: Stamp) -> Entry | None:
    """Enters what the school shares from now on; None when it is so already."""
    wanted = tuple(one for one in SHARES if one in shares)
    if find_shares(writing) == wanted:
        return None
    return writing.write(stamp, FederationSet(shares=wanted))


def find_shares(reading: Reading) -> tuple[Shared, ...]:
    """What the school shares; nothing when it never said."""
    query = select(shared.c.what).join(journal, journal.c.seq == shared.c.seq)
    found = set(reading.conn.scalars(query.where(shared.c.agreed == 1)))
    return tuple(one for one in SHARES if one in found)


def look(address: str) -> Federation:
    """The sums, at the address of a role that was let in (`founding.admit_federation`).

    Raises:
        RecordBookError: no such database, no tables of today, or a role that may not ask.
    """
    from standfast.store import postgres

    with postgres.reached(address) as (engine, where), engine.connect() as opened:
        conn = opened.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
        _check_may_ask(conn, where)
        return _read(conn)


_THERE = "SELECT to_regprocedure('standfast_lots_of(text)') IS NOT NULL"
_MAY = "SELECT has_function_privilege('federation_sums()', 'EXECUTE')"


def _check_may_ask(conn: Connection, where: str) -> None:
    if not conn.exec_driver_sql(_THERE).scalar():
        raise RecordBookError(
            f"{where}: no record books are kept there, or by an earlier version of standfast; the"
            " owner of the database makes its tables with 'standfast book tables'"
        )
    if not conn.exec_driver_sql(_MAY).scalar():
        raise RecordBookError(
            f"{where}: this role may not ask for sums over schools; the owner of the database lets"
            " one in with 'standfast federation admit'"
        )


def _read(conn: Connection) -> Federation:
    shares: dict[str, list[Shared]] = defaultdict(list)
    for school, what in conn.exec_driver_sql("SELECT * FROM federation_schools() ORDER BY 1, 2"):
        shares[school].append(cast("Shared", what))
    counts = conn.exec_driver_sql("SELECT * FROM federation_awards() ORDER BY 1, 2, 3").all()
    given = conn.exec_driver_sql("SELECT * FROM federation_given()").all()
    sums = conn.exec_driver_sql("SELECT * FROM federation_sums()").all()
    return Federation(
        str(conn.exec_driver_sql("SELECT federation_day()").scalar_one()),
        tuple((school, tuple(what)) for school, what in shares.items()),
        tuple(AwardCount(*row) for row in counts),
        as_groups(given, (row[:-1] for row in sums)),
    )
