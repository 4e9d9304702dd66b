"""Two schools in one PostgreSQL database, for the tests of who sees what."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date

import psycopg
from tests.store.cluster import KEEPER, NEIGHBOUR, Cluster
from tests.store.school import School, open_school


@dataclass
class Two:
    """Two schools in one database, each with a role that keeps its book."""

    cluster: Cluster
    database: str
    barn: School
    loft: School

    def at(self, role: str, school: str = "") -> psycopg.Connection:
        return self.cluster.connect(role, self.database, school)


def today_is(day: date) -> str:
    """Makes a database's sums be as if the server's day were that one."""
    return (
        "CREATE OR REPLACE FUNCTION standfast_today() RETURNS text LANGUAGE sql"
        f" SECURITY DEFINER SET search_path = public, pg_temp AS $$SELECT '{day}'$$"
    )


@contextmanager
def two_schools(cluster: Cluster) -> Iterator[Two]:
    """Both with nothing in their books; closed when the block ends."""
    database = cluster.new_database("founded")
    barn = open_school(cluster.address(KEEPER, database))
    loft = open_school(cluster.address(NEIGHBOUR, database, "loft"), seed=8)
    yield Two(cluster, database, barn, loft)
    barn.book.close()
    loft.book.close()
