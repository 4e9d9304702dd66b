"""What the owner of a PostgreSQL database does: makes the tables, lets a role keep a school's book.

Whoever keeps a book connects as another role, which owns nothing and so cannot take a guard away.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, insert, select, text, update
from sqlalchemy.exc import DBAPIError

from standfast.problems import RecordBookError
from standfast.store import postgres, postgres_catalog, postgres_federation, postgres_tables
from standfast.store.audit import rebuild
from standfast.store.names import NOBODY
from standfast.store.postgres_tables import SCHOOL
from standfast.store.tables import FORMAT, first_rows, meta
from standfast.store.writing import Writing, next_seq


@contextmanager
def owning(address: str) -> Iterator[Connection]:
    """One transaction of the owner; errors come out as `RecordBookError`.

    Raises (at the end):
        MaybeKept: the server went away before it said whether the transaction was kept.
    """
    reached = postgres.reached(address, "; nothing of this was kept")
    with reached as (engine, where), engine.connect() as conn:
        conn.exec_driver_sql(f"SELECT {postgres.KEPT_FOR_SURE}")
        _check_owner(conn, where)
        _alone(conn)
        yield conn
        postgres.commit(conn, where)


def _check_owner(conn: Connection, where: str) -> None:
    asked = "SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = CURRENT_USER"
    if conn.exec_driver_sql(asked).scalar():
        raise RecordBookError(
            f"{where}: a superuser sees the books of all schools at once; make a plain role the"
            " owner of the database, and name that one"
        )
    coding = conn.exec_driver_sql("SHOW server_encoding").scalar()
    if coding != "UTF8":
        raise RecordBookError(f"{where}: the database keeps text as {coding}; make one with UTF8")


def _alone(conn: Connection) -> None:
    """Has two who do this at once do it one after the other, until their transactions end."""
    there = "SELECT to_regclass('keepers') IS NOT NULL"
    if not conn.exec_driver_sql(there).scalar():
        try:
            with conn.begin_nested():
                postgres_tables.make_keepers(conn)
        except DBAPIError:  # another owner was first, and this one waited for the end of that
            if not conn.exec_driver_sql(there).scalar():
                raise
    # Saying what a table is for takes a lock on it that two cannot have.
    conn.exec_driver_sql("COMMENT ON TABLE keepers IS 'Which role keeps which school''s book.'")


def make_tables(conn: Connection) -> None:
    """The tables when there are none; brings up to date those of an earlier format.

    Raises:
        RecordBookError: a later version of this program made them.
    """
    if not postgres.tables_there(conn):
        postgres_tables.make_tables(conn)
        postgres_federation.make_functions(conn)
        return
    schools = conn.exec_driver_sql("SELECT DISTINCT school FROM keepers").scalars().all()
    found = min((_format(conn, school) for school in schools), default=FORMAT)
    if found < FORMAT:
        _bring_up_to_date(conn, schools, found)
    elif not schools:
        _check_of_today(conn)


def _check_of_today(conn: Connection) -> None:
    """Each book says its format; where there is none yet the tables themselves must tell."""
    there = postgres_catalog.schema(conn)
    if any(there.get(name) != said for name, said in postgres_catalog.schema_as_written().items()):
        raise RecordBookError(
            "another version of standfast made the tables, and no school's book is in them: drop"
            " them, and make them anew with 'standfast book tables'"
        )


def _format(conn: Connection, school: str) -> int:
    """Of that school's book, which has no other writer from now on."""
    be(conn, school)
    conn.exec_driver_sql("SELECT school FROM turns FOR UPDATE")
    found = int(conn.scalar(select(meta.c.value).where(meta.c.key == "format")) or FORMAT)
    if found > FORMAT:
        raise RecordBookError(
            f"a later version of standfast made these tables (their format is {found}, this program"
            f" knows {FORMAT}); update standfast"
        )
    return found


def _bring_up_to_date(conn: Connection, schools: Iterable[str], found: int) -> None:
    """Takes the steps to today's format, and fills the derived tables from each journal."""
    postgres_tables.bring_up(conn, found)
    postgres_federation.make_functions(conn)
    roles = "SELECT DISTINCT role FROM keepers WHERE role <> CURRENT_USER"
    for (role,) in conn.exec_driver_sql(roles).all():
        postgres_tables.grant(conn, role)
    for school in schools:
        be(conn, school)
        rebuild(Writing(conn, NOBODY, next_seq(conn), None))
        conn.execute(update(meta).where(meta.c.key == "format").values(value=str(FORMAT)))


def be(conn: Connection, school: str) -> None:
    """From now on in this transaction, rows are those of that school."""
    conn.execute(text(f"SELECT set_config('{SCHOOL}', :school, true)"), {"school": school})


def admit(conn: Connection, school: str, role: str) -> None:
    """Begins the school's book when it has none, and lets the role keep it.

    Raises:
        RecordBookError: there is no such role, or one that no rule holds back, or a federation's.
    """
    _check_role(conn, role)
    if role in postgres_catalog.may_ask(conn):
        raise RecordBookError(
            f"the role '{role}' asks for a federation's sums, and is to read nothing else; take"
            " another, or 'standfast federation dismiss' it first"
        )
    owner = conn.exec_driver_sql("SELECT CURRENT_USER").scalar_one()
    keeps = text(
        "INSERT INTO keepers (role, school) VALUES (:role, :school) ON CONFLICT DO NOTHING"
    )
    for one in (owner, role):
        conn.execute(keeps, {"role": one, "school": school})
    be(conn, school)
    if conn.scalar(select(meta.c.value).where(meta.c.key == "format")) is None:
        conn.execute(text("INSERT INTO turns (school) VALUES (:school)"), {"school": school})
        conn.execute(insert(meta), first_rows())
    postgres_tables.grant(conn, role)


def admit_federation(conn: Connection, role: str) -> None:
    """Lets the role ask for sums over the schools that agreed; it reads nothing else.

    Raises:
        RecordBookError: there is no such role, it is one that no rule holds back, or keeps a book;
            or there are no tables of today.
    """
    _check_role(conn, role)
    keeps = text("SELECT school FROM keepers WHERE role = :role ORDER BY school")
    if school := conn.scalars(keeps, {"role": role}).first():
        raise RecordBookError(
            f"the role '{role}' keeps the book of '{school}'; make one that keeps none, so that it"
            " can read nothing but sums"
        )
    postgres_federation.let_ask(conn, role)


def dismiss_federation(conn: Connection, role: str) -> None:
    """From now on the role may ask for nothing.

    Raises:
        RecordBookError: it could not ask before.
    """
    roles = postgres_catalog.may_ask(conn)
    if role not in roles:
        raise RecordBookError(
            f"the role '{role}' may not ask for sums; may do so: {', '.join(roles) or 'nobody'}"
        )
    postgres_federation.let_ask_no_more(conn, role)


def _check_role(conn: Connection, role: str) -> None:
    asked = text(
        "SELECT rolsuper OR rolbypassrls OR pg_has_role(oid, CURRENT_USER, 'MEMBER')"
        " FROM pg_roles WHERE rolname = :role"
    )
    strong = conn.scalar(asked, {"role": role})
    if strong is None:
        raise RecordBookError(
            f"there is no role '{role}'; whoever runs the server makes it:"
            f" CREATE ROLE {conn.dialect.identifier_preparer.quote(role)} LOGIN PASSWORD '...'"
        )
    if strong:
        raise RecordBookError(
            f"the role '{role}' could change what was written; take one that is no superuser, has"
            " no BYPASSRLS and does not own the tables"
        )
