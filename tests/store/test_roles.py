"""Who may do what in PostgreSQL, tried as each role by plain SQL."""

from __future__ import annotations

from collections.abc import Iterator

import psycopg
import pytest
from psycopg import errors
from tests.store.cluster import KEEPER, NEIGHBOUR, OWNER, Cluster
from tests.store.school import BEGAN
from tests.store.two import Two, two_schools

from standfast.engine.decide import decide
from standfast.problems import RecordBookError
from standfast.store import founding
from standfast.store.connect import open_book
from standfast.store.postgres_tables import MAY, made

FOR_EVER = ("journal", "records", "heads")
A_RECORD = b"""INSERT INTO records (id, sheet, n, at, got, account, body)
VALUES ('r', 's', 1, 'x', 'x', 'a', '{}')"""


def counts(both: Two) -> dict[str, dict[str, int]]:
    """How many rows each table has, by school."""
    with both.at("super") as everything:
        return {table: count(everything, table) for table in made().tables}


def count(connection: psycopg.Connection, table: str) -> dict[str, int]:
    """How many rows the connection sees, by school."""
    query = f"SELECT school, count(*) FROM {table} GROUP BY school"  # noqa: S608
    return dict(connection.execute(query.encode()).fetchall())


@pytest.fixture
def two(cluster: Cluster) -> Iterator[Two]:
    """Each with a full book."""
    with two_schools(cluster) as both:
        for school, role, name in ((both.barn, KEEPER, "barn"), (both.loft, NEIGHBOUR, "loft")):
            school.fill()
            school.book.remember_head(BEGAN)
            with both.at(role, name) as plain:
                plain.execute(A_RECORD)
        yield both


CHANGES = [
    pytest.param(f"{what} {table}{how}", id=f"{what.lower()} {table}")
    for table in FOR_EVER
    for what, how in (("UPDATE", " SET at = 'x'"), ("DELETE FROM", ""), ("TRUNCATE", " CASCADE"))
]
UPSERT = pytest.param(
    "INSERT INTO journal SELECT seq, id, at, 'x', kind, about, supersedes, body, leaf FROM journal"
    " WHERE seq = 2 ON CONFLICT (school, seq) DO UPDATE SET who = 'x'",
    id="upsert",
)
AROUND = [
    pytest.param("ALTER TABLE journal DISABLE TRIGGER ALL", id="switch guards off"),
    pytest.param("DROP TRIGGER journal_is_never_changed ON journal", id="drop a guard"),
    pytest.param("ALTER TABLE journal NO FORCE ROW LEVEL SECURITY", id="open the rows"),
    pytest.param("SET session_replication_role = replica", id="play a replica"),
    pytest.param("DROP TABLE journal CASCADE", id="drop the journal"),
    pytest.param("INSERT INTO keepers (role, school) VALUES ('keeper', 'loft')", id="admit itself"),
    pytest.param("SET ROLE owner", id="be the owner"),
    pytest.param("SET ROLE neighbour", id="be the neighbour"),
]


@pytest.mark.parametrize("statement", [*CHANGES, UPSERT, *AROUND])
def test_who_keeps_a_book_may_not_change_what_was_written(two: Two, statement: str) -> None:
    before = counts(two)

    with two.at(KEEPER, "barn") as keeper, pytest.raises(errors.InsufficientPrivilege):
        keeper.execute(statement.encode())

    assert counts(two) == before
    assert two.barn.book.audit(decide).faults == []


@pytest.mark.parametrize("statement", [*CHANGES, UPSERT])
@pytest.mark.parametrize("role", [OWNER, "super"])
def test_guards_stop_the_owner_too_and_a_superuser_as_replica(
    two: Two, role: str, statement: str
) -> None:
    before = counts(two)

    with two.at(role, "barn") as owner:
        if role == "super":
            owner.execute("SET session_replication_role = replica")
        with pytest.raises(psycopg.IntegrityError, match="never"):
            owner.execute(statement.encode())

    assert counts(two) == before


@pytest.mark.parametrize(
    "values",
    [
        pytest.param("13, replace(id, '0', '1')", id="gap"),
        pytest.param("11, replace(id, '0', '1')", id="a number again"),
        pytest.param("NULL, replace(id, '0', '1')", id="no number"),
        pytest.param("12, id", id="an id again"),
        pytest.param("12, 'short'", id="no UUID"),
    ],
)
def test_an_entry_takes_the_next_number_and_a_new_id(two: Two, values: str) -> None:
    insert = f"INSERT INTO journal SELECT {values}, at, who, kind, about, supersedes, body, leaf"

    with two.at(KEEPER, "barn") as keeper, pytest.raises(psycopg.IntegrityError):
        keeper.execute(f"{insert} FROM journal WHERE seq = 2".encode())


def test_a_leaf_of_another_length_is_refused_by_the_database(two: Two) -> None:
    insert = (
        "INSERT INTO journal SELECT 12, replace(id, '0', '1'), at, who, kind, about, supersedes,"
        " body, substr(leaf, 2) FROM journal WHERE seq = 2"
    )

    with two.at(KEEPER, "barn") as keeper, pytest.raises(errors.CheckViolation, match="sha256"):
        keeper.execute(insert.encode())


def test_whoever_keeps_a_school_sees_its_rows_and_no_other(two: Two) -> None:
    there = counts(two)
    for role, school in ((KEEPER, "barn"), (NEIGHBOUR, "loft")):
        with two.at(role, school) as keeper:
            seen = {table: count(keeper, table) for table in there}

        wanted = {
            table: {name: rows for name, rows in found.items() if name == school}
            for table, found in there.items()
        }
        assert seen == wanted
    assert all(
        set(there[table]) == {"barn", "loft"} for table in ("journal", "identity", "records")
    )


@pytest.mark.parametrize(
    ("role", "setting"),
    [
        pytest.param(KEEPER, "", id="without a school"),
        pytest.param(KEEPER, "loft", id="another school"),
        pytest.param(KEEPER, "nowhere", id="no school"),
        pytest.param(OWNER, "", id="owner without a school"),
    ],
)
def test_nobody_sees_a_row_but_of_a_school_that_is_set_and_kept(
    two: Two, role: str, setting: str
) -> None:
    with two.at(role, setting) as keeper:
        seen = {table: count(keeper, table) for table in made().tables}

    assert seen == {table: {} for table in made().tables}


def test_a_row_of_another_school_cannot_be_written(two: Two) -> None:
    into = "INSERT INTO failures (whose, times, last{}) VALUES ('x', 1, 'x'{})"
    with two.at(KEEPER, "barn") as keeper:
        with pytest.raises(errors.InsufficientPrivilege, match="row-level security"):
            keeper.execute(into.format(", school", ", 'loft'").encode())
        with pytest.raises(errors.InsufficientPrivilege, match="row-level security"):
            keeper.execute(b"UPDATE sheets SET school = 'loft'")
    with two.at(KEEPER, "loft") as keeper, pytest.raises(errors.InsufficientPrivilege):
        keeper.execute(into.format("", "").encode())
    with (
        two.at(KEEPER) as keeper,
        pytest.raises(errors.UndefinedObject, match=r"standfast\.school"),
    ):
        keeper.execute(into.format("", "").encode())


def test_a_reference_cannot_reach_into_another_school(two: Two) -> None:
    """The neighbour's award, under the same key, is no award of this school."""
    with two.at(NEIGHBOUR, "loft") as neighbour:
        award = neighbour.execute("SELECT id FROM awards").fetchall()[0][0]
    with two.at(KEEPER, "barn") as keeper, pytest.raises(errors.ForeignKeyViolation):
        keeper.execute(
            b"INSERT INTO issued (credential, seq, award, place) VALUES ('c', 1, %s, 0)", (award,)
        )


def test_a_role_learns_of_no_school_that_it_does_not_keep(two: Two) -> None:
    with two.at(KEEPER, "barn") as keeper:
        seen = keeper.execute("SELECT role, school FROM keepers").fetchall()

    assert seen == [(KEEPER, "barn")]
    with pytest.raises(
        RecordBookError, match=r"does not keep the book of a school 'loft'.*: barn$"
    ):
        open_book(two.cluster.address(KEEPER, two.database, "loft"))


def test_a_role_that_keeps_several_says_which(two: Two) -> None:
    with founding.owning(two.cluster.address(OWNER, two.database)) as conn:
        founding.admit(conn, "loft", KEEPER)

    with pytest.raises(RecordBookError, match=r"say at the end .* this role keeps: barn, loft"):
        open_book(two.cluster.address(KEEPER, two.database))
    for school, kept in (("barn", two.barn), ("loft", two.loft)):
        with open_book(two.cluster.address(KEEPER, two.database, school)) as book:
            assert book.head(BEGAN) == kept.book.head(BEGAN)


def test_a_superuser_cannot_open_a_book_nor_be_its_keeper(two: Two) -> None:
    with pytest.raises(RecordBookError, match="books of all schools at once"):
        open_book(two.cluster.address("super", two.database, "barn"))
    for role, said in (
        ("super", "could change"),
        (OWNER, "could change"),
        ("who", "no role 'who'"),
    ):
        with (
            pytest.raises(RecordBookError, match=said),
            founding.owning(two.cluster.address(OWNER, two.database)) as conn,
        ):
            founding.admit(conn, "barn", role)


def test_it_is_said_of_every_table_what_its_keeper_may_do() -> None:
    assert MAY.keys() == {*made().tables, "keepers"}
    assert all(MAY[table] == ("SELECT", "INSERT") for table in FOR_EVER)


def test_a_right_that_was_given_away_is_a_fault(two: Two) -> None:
    with two.at(OWNER) as owner:
        owner.execute("GRANT DELETE ON journal TO keeper; GRANT UPDATE ON meta TO PUBLIC")

    assert [str(fault) for fault in two.barn.book.audit().faults] == [
        "keeper may DELETE in journal; take it back with REVOKE",
        "everybody may UPDATE in meta; take it back with REVOKE",
    ]


@pytest.mark.parametrize(
    ("statement", "what"),
    [
        pytest.param(
            "DROP TRIGGER journal_is_never_changed ON journal",
            "trigger journal_is_never_changed is missing",
            id="guard dropped",
        ),
        pytest.param(
            "ALTER TABLE heads DISABLE TRIGGER heads_are_never_changed",
            "trigger heads_are_never_changed is not as written",
            id="guard switched off",
        ),
        pytest.param(
            "ALTER TABLE journal ENABLE TRIGGER journal_is_never_changed",
            "trigger journal_is_never_changed is not as written",
            id="guard that a replica passes",
        ),
        pytest.param(
            "CREATE OR REPLACE FUNCTION standfast_next() RETURNS trigger LANGUAGE plpgsql"
            " AS $$BEGIN RETURN NEW; END$$",
            "trigger journal_grows_in_order is not as written",
            id="guard hollowed out",
        ),
        pytest.param(
            "CREATE TRIGGER sly BEFORE UPDATE ON awards FOR EACH STATEMENT"
            " EXECUTE FUNCTION standfast_never('x')",
            "trigger sly was added",
            id="trigger added",
        ),
        pytest.param(
            "CREATE RULE sly AS ON UPDATE TO awards DO INSTEAD NOTHING",
            "rule sly was added",
            id="rule added",
        ),
        pytest.param(
            "CREATE POLICY sly ON identity USING (true)", "policy sly was added", id="policy added"
        ),
        pytest.param(
            "ALTER POLICY identity_of_one_school ON identity USING (true)",
            "policy identity_of_one_school is not as written",
            id="policy opened",
        ),
        pytest.param(
            "ALTER TABLE identity DISABLE ROW LEVEL SECURITY",
            "table identity is not as written",
            id="rows opened",
        ),
        pytest.param(
            "ALTER TABLE records SET UNLOGGED",
            "table records is not as written",
            id="emptied by a crash",
        ),
        pytest.param("DROP INDEX awards_end", "index awards_end is missing", id="index dropped"),
        pytest.param(
            "DROP INDEX awards_end; CREATE INDEX awards_end ON awards (school, last_day, seq)",
            "index awards_end is not as written",
            id="index of everything",
        ),
        pytest.param(
            "ALTER TABLE journal DROP CONSTRAINT leaf_is_sha256",
            "table journal is not as written",
            id="check dropped",
        ),
        pytest.param(
            "ALTER TABLE awards DROP CONSTRAINT awards_decision_fkey",
            "table awards is not as written",
            id="reference dropped",
        ),
    ],
)
def test_a_changed_guard_is_named(two: Two, statement: str, what: str) -> None:
    with two.at(OWNER) as owner:
        owner.execute(statement.encode())

    assert [str(fault) for fault in two.barn.book.audit(decide).faults] == [what]
