"""Format 9: a sheet waits for whoever signed it by who sent the signature, a device or the office.

Under format 5 it was a device only.  Its column got another name without a new format, so books
that were brought from there to 6, 7 or 8 still have the old one.
"""

from __future__ import annotations

from sqlalchemy import Column, MetaData, Table, Text

from standfast.store.migrations.making import columns, make_anew

revision = "9"
down_revision = "6"

CONFIRMATIONS = Table(
    "confirmations",
    MetaData(),
    Column("sheet", Text, primary_key=True, nullable=False),
    Column("sender", Text, nullable=False),
    Column("got", Text, nullable=False),
    Column("confirmed", Text, nullable=True),
    sqlite_strict=True,
)


def upgrade() -> None:
    """Gives the column its name where it has the old one."""
    if "device" in columns("confirmations"):
        make_anew(CONFIRMATIONS, {"sender": "device"})
