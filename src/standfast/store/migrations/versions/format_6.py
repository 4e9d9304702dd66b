"""Format 6: all that cannot be made anew, as it was when these steps began.

Before, a book got whatever table it did not have; so this step takes every earlier format, and
leaves alone what is there.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

from standfast.store.migrations.making import make_missing

revision = "6"
down_revision = None

TABLES = MetaData()


def upgrade() -> None:
    """Makes what is not there."""
    make_missing(TABLES.sorted_tables)


def _table(name: str, *parts: Any) -> Table:  # noqa: ANN401 - columns, constraints, indexes
    return Table(name, TABLES, *parts, sqlite_strict=True)


def _text(name: str, *more: Any, null: bool = False, **settings: Any) -> Column[str]:  # noqa: ANN401
    return Column(name, Text, *more, nullable=null, **settings)


_table("meta", _text("key", primary_key=True), _text("value"))

_table(
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

_table(
    "identity",
    _text("ref", primary_key=True),
    _text("handle", unique=True),
    _text("name"),
    _text("contact", null=True),
    _text("site", null=True),
    Column("salt", LargeBinary, nullable=False),
    CheckConstraint("length(salt) = 32", name="salt_is_long_enough"),
)

_table(
    "heads",
    Column("size", Integer, primary_key=True, autoincrement=False),
    Column("root", LargeBinary, nullable=False),
    _text("at"),
    CheckConstraint("length(root) = 32", name="root_is_sha256"),
)

_table(
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

_table(
    "sessions",
    Column("token", LargeBinary, primary_key=True),
    _text("account", ForeignKey("accounts.id")),
    _text("began"),
    _text("seen"),
    Index("sessions_account", "account"),
    CheckConstraint("length(token) = 32", name="session_token_is_hashed"),
)

_table(
    "devices",
    _text("id", primary_key=True),
    _text("name"),
    Column("token", LargeBinary, nullable=False, unique=True),
    _text("enrolled"),
    _text("enrolled_by"),
    _text("revoked", null=True),
    CheckConstraint("length(token) = 32", name="device_token_is_hashed"),
)

_table(
    "failures",
    _text("whose", primary_key=True),
    Column("times", Integer, nullable=False),
    _text("last"),
)

_table(
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

_table(
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

_table(
    "settled",
    Column("held", Integer, ForeignKey("held.key"), primary_key=True, autoincrement=False),
    _text("by"),
    _text("at"),
    _text("because"),
)

_table(
    "confirmations",
    _text("sheet", primary_key=True),
    _text("sender"),
    _text("got"),
    _text("confirmed", null=True),
)
