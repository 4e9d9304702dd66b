"""The tables of the record book, for SQLite and PostgreSQL alike.

`journal` is the truth.  The tables of `DERIVED` say where in it something stands: they hold what
is searched for and the number of the entry that has the content, or counts over many entries, and
can be made anew from the journal.  `identity` holds what a person may ask to have erased, `heads`
the tree heads that were given out; `accounts`, `sessions`, `devices` and `failures` who may come in
over the web, which is no part of the record; `records` and `held` what devices beside the mat have
sent, `settled` what the office did about the latter, `confirmations` which sheets came from a
shared device or the office and so wait for whoever signed them.  Days are ISO 8601 text, so that
both databases sort and compare them alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from itertools import islice
from typing import Any

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Connection,
    Dialect,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    insert,
    text,
)

FORMAT = 10
"""Of the record book.  One of an earlier format is brought up to date when it is opened
(`migrations`); one of a later format is refused."""

metadata = MetaData()


def _table(name: str, *parts: Any) -> Table:  # noqa: ANN401 - columns, constraints, indexes
    return Table(name, metadata, *parts, sqlite_strict=True)


def _text(name: str, *more: Any, null: bool = False, **settings: Any) -> Column[str]:  # noqa: ANN401
    return Column(name, Text, *more, nullable=null, **settings)


def _entry_number() -> Column[int]:
    return Column("seq", Integer, ForeignKey("journal.seq"), nullable=False)


def _of_standing(name: str, *columns: str) -> Index:
    """An index over the awards that were neither renewed nor corrected.

    `postgres_tables` reads the condition from here: naming another database here would load all
    of its dialect, a tenth of what the server takes to start.
    """
    stands = text("renewed_by IS NULL AND superseded_by IS NULL")
    return Index(name, *columns, sqlite_where=stands)


LONG = BigInteger().with_variant(Integer(), "sqlite")
"""A whole number of up to 63 bits, which SQLite's have anyway."""

FAR = "9999-12-31"
"""The last day of what has none."""

IDENTITIES = "identities"
"""The row of `meta` that counts the changes of identities."""

meta = _table("meta", _text("key", primary_key=True), _text("value"))


def first_rows() -> list[dict[str, str]]:
    """The rows of `meta` in a new book."""
    return [{"key": "format", "value": str(FORMAT)}, {"key": IDENTITIES, "value": "0"}]


journal = _table(
    "journal",
    Column("seq", Integer, primary_key=True, autoincrement=False),
    _text("id", unique=True),
    _text("at"),
    _text("who"),
    _text("kind"),
    _text("about", null=True),
    _text("supersedes", ForeignKey("journal.id"), null=True),
    _text("body"),
    Column("leaf", LargeBinary, nullable=False),
    CheckConstraint("length(leaf) = 32", name="leaf_is_sha256"),
    CheckConstraint("length(id) = 36", name="id_is_uuid"),
    Index("journal_about", "about", "seq"),
)

identity = _table(
    "identity",
    _text("ref", primary_key=True),
    _text("handle", unique=True),
    _text("name"),
    _text("contact", null=True),
    _text("site", null=True),
    Column("salt", LargeBinary, nullable=False),
    CheckConstraint("length(salt) = 32", name="salt_is_long_enough"),
)

heads = _table(
    "heads",
    Column("size", Integer, primary_key=True, autoincrement=False),
    Column("root", LargeBinary, nullable=False),
    _text("at"),
    CheckConstraint("length(root) = 32", name="root_is_sha256"),
)

schools = _table("schools", _text("id", primary_key=True), _entry_number())

people = _table("people", _text("ref", primary_key=True), _entry_number())

documents = _table(
    "documents",
    _text("key", primary_key=True),
    _entry_number(),
    _text("person"),
    _text("kind"),
    _text("issued"),
    _text("last_day"),
    Index("documents_person", "person", "kind", "last_day", "issued"),
    Index("documents_end", "last_day", "issued", "person", "kind"),
)

approvals = _table(
    "approvals",
    _text("key", primary_key=True),
    _entry_number(),
    _text("person"),
    _text("rubric"),
    Index("approvals_person", "person", "rubric"),
)

texts = _table(
    "texts",
    _text("hash", primary_key=True),
    _entry_number(),
    _text("kind"),
    _text("id"),
    Column("version", Integer, nullable=False),
    # Of a rubric with a transition: until when earlier versions are honoured.
    _text("honoured_until", null=True),
    Index("texts_version", "kind", "id", "version", "seq"),
)

sheets = _table(
    "sheets",
    _text("id", primary_key=True),
    _entry_number(),
    _text("practical"),
    _text("candidate"),
    _text("assessor"),
    _text("rubric"),
    Column("version", Integer, nullable=False),
    _text("rubric_hash", ForeignKey("texts.hash")),
    _text("syllabus_hash", ForeignKey("texts.hash")),
    _text("day"),
    _text("superseded_by", null=True),
    Index("sheets_candidate", "candidate", "rubric", "day"),
    Index("sheets_practical", "practical"),
    Index("sheets_text", "rubric_hash", "syllabus_hash"),
    Index("sheets_syllabus", "syllabus_hash"),
)

ratings = _table(
    "ratings",
    _text("sheet", ForeignKey("sheets.id"), primary_key=True),
    _entry_number(),
    _text("criteria"),
    # What store/ratings.py packs: one row for all marks of a sheet.
    Column("packed", LargeBinary, nullable=False),
)

OF_A_MONTH = ("rubric", "month", "kind", "criterion")
"""What is counted by."""

tallies = _table(
    "tallies",
    *(_text(name, primary_key=True) for name in OF_A_MONTH),
    _text("given", primary_key=True),
    Column("subjects", Integer, nullable=False),
)

lesson_sums = _table(
    "lesson_sums",
    *(_text(name, primary_key=True) for name in OF_A_MONTH),
    Column("lessons", LONG, nullable=False),
    Column("pairs", LONG, nullable=False),
    Column("alike", LONG, nullable=False),
    Column("pairs_squared", LONG, nullable=False),
    Column("pairs_alike", LONG, nullable=False),
    Column("alike_squared", LONG, nullable=False),
)

decisions = _table(
    "decisions",
    _text("entry", ForeignKey("journal.id"), primary_key=True),
    _entry_number(),
    _text("candidate"),
    _text("rubric"),
    Column("version", Integer, nullable=False),
    _text("rubric_hash", ForeignKey("texts.hash")),
    _text("day"),
    _text("outcome"),
    _text("superseded_by", null=True),
    Index("decisions_candidate", "candidate", "rubric", "day"),
)

awards = _table(
    "awards",
    _text("id", primary_key=True),
    _entry_number(),
    _text("number", unique=True),
    _text("candidate"),
    _text("rubric"),
    _text("scope"),
    _text("first_day"),
    _text("last_day"),
    _text("refresher_due", null=True),
    _text("grace_until", null=True),
    _text("decision", ForeignKey("decisions.entry")),
    _text("renewed_by", null=True),
    _text("renewed_on", null=True),
    _text("superseded_by", null=True),
    _text("mendable_until"),
    _text("documents"),
    Column("version", Integer, nullable=False),
    Index("awards_candidate", "candidate", "scope", "first_day"),
    # Of what stands alone, and covering: a due list that must look up each row is hardly faster
    # than reading them all.
    _of_standing("awards_end", "last_day", "seq"),
    Index(
        *("awards_renewed", "renewed_on", "seq"),
        sqlite_where=text("renewed_on IS NOT NULL"),
    ),
    _of_standing("awards_refresher", "refresher_due", "seq"),
    _of_standing("awards_standing", "candidate", "documents", "seq"),
    _of_standing("awards_version", "rubric", "version", "mendable_until", "seq"),
    _of_standing(
        *("awards_mendable", "mendable_until", "refresher_due", "last_day", "candidate"),
        *("documents", "seq"),
    ),
)

rulings = _table(
    "rulings",
    _text("entry", ForeignKey("journal.id"), primary_key=True),
    _entry_number(),
    _text("award", ForeignKey("awards.id")),
    _text("kind"),
    _text("day"),
    Index("rulings_award", "award", "seq"),
)

issued = _table(
    "issued",
    _text("credential", primary_key=True),
    _entry_number(),
    _text("award", ForeignKey("awards.id")),
    Column("place", Integer, nullable=False),
    Index("issued_award", "award", "seq"),
)

appeals = _table(
    "appeals",
    _text("id", primary_key=True),
    _entry_number(),
    _text("number", unique=True),
    _text("about"),
    _text("award", ForeignKey("awards.id"), null=True),
    _text("due_by"),
    _text("answer", null=True),
    Index("appeals_about", "about", "seq"),
    Index("appeals_award", "award", "seq"),
)

reference_scores = _table(
    "reference_scores",
    _text("entry", ForeignKey("journal.id"), primary_key=True),
    _entry_number(),
    _text("assessor"),
    Index("reference_scores_assessor", "assessor", "seq"),
)

shared = _table(
    "shared",
    _text("what", primary_key=True),
    _entry_number(),
    Column("agreed", Integer, nullable=False),
)

accounts = _table(
    "accounts",
    _text("id", primary_key=True),
    _text("login", unique=True),
    _text("person", null=True),
    _text("roles"),
    _text("password"),
    _text("pin", null=True),
    _text("made"),
    _text("closed", null=True),
    Index("accounts_person", "person"),
)

sessions = _table(
    "sessions",
    Column("token", LargeBinary, primary_key=True),
    _text("account", ForeignKey("accounts.id")),
    _text("began"),
    _text("seen"),
    Index("sessions_account", "account"),
    CheckConstraint("length(token) = 32", name="session_token_is_hashed"),
)

devices = _table(
    "devices",
    _text("id", primary_key=True),
    _text("name"),
    Column("token", LargeBinary, nullable=False, unique=True),
    _text("enrolled"),
    _text("enrolled_by"),
    _text("revoked", null=True),
    CheckConstraint("length(token) = 32", name="device_token_is_hashed"),
)

failures = _table(
    "failures",
    _text("whose", primary_key=True),
    Column("times", Integer, nullable=False),
    _text("last"),
)

records = _table(
    "records",
    _text("id", primary_key=True),
    _text("sheet"),
    Column("n", Integer, nullable=False),
    _text("at"),
    _text("got"),
    _text("account"),
    _text("body"),
    Index("records_sheet", "sheet", "n", unique=True),
    Index("records_account", "account", "sheet"),
)

held = _table(
    "held",
    Column("key", Integer, primary_key=True, autoincrement=False),
    _text("record"),
    _text("sheet"),
    _text("body"),
    _text("why"),
    _text("got"),
    _text("account"),
    Index("held_record", "record"),
)

settled = _table(
    "settled",
    Column("held", Integer, ForeignKey("held.key"), primary_key=True, autoincrement=False),
    _text("by"),
    _text("at"),
    _text("because"),
)

confirmations = _table(
    "confirmations",
    _text("sheet", primary_key=True),
    _text("sender"),
    _text("got"),
    _text("confirmed", null=True),
)

OF_ENTRIES = (
    *(schools, people, documents, approvals, texts, sheets, decisions, awards, rulings, issued),
    *(appeals, reference_scores, ratings, shared),
)
"""A row of these comes from one entry.  In the order in which rows can be put in; each has its key
as the first column."""

COUNTED = (tallies, lesson_sums)
"""Rows of these are counted over the ratings of all sheets (`tallies.py`)."""

DERIVED = (*OF_ENTRIES, *COUNTED)


def add_rows(conn: Connection, table: Table, rows: Sequence[tuple[Any, ...]]) -> None:
    """Adds rows given in the order of the table's columns.

    Where the driver takes values by position the rows go to it as they are: through the
    expression language each would first become a dictionary, at three times the cost.
    """
    if conn.dialect.positional:
        conn.exec_driver_sql(_insert_text(conn.dialect, table), list(rows))
    else:
        names = [column.name for column in table.columns]
        conn.execute(insert(table), [dict(zip(names, row, strict=True)) for row in rows])


AT_ONCE = 500
"""Values in one statement; SQLite's default limit was 999 until 3.32."""


def batched(names: Iterable[str], at_once: int) -> Iterator[list[str]]:
    """The names in lists of at most so many."""
    rest = iter(names)
    while some := list(islice(rest, at_once)):
        yield some


@cache
def _insert_text(dialect: Dialect, table: Table) -> str:
    return str(insert(table).compile(dialect=dialect))
