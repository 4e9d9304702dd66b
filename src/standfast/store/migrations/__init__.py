"""Bringing what a record book keeps from an earlier format to today's; the steps are Alembic's.

A step stands in `versions` under the format that it leads to, and is about the tables that cannot
be made anew: journal, identities, heads, and what is beside the journal.  A book says its own
format (`meta`), so Alembic keeps no table of its own.  Derived tables, guards and policies hold
nothing of their own: they are made anew as they are today, so a format that changes only them has
no step.

A new book is made from `tables.metadata` at once.  `tests/store/test_migrations.py` holds that the
steps, from nothing, make the same tables to the letter.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection

STEPS = Path(__file__).parent


def bring_up(conn: Connection, found: int) -> None:
    """Does the steps to later formats than that, in the transaction of the connection.

    The first also takes what came before it; 0 is the format of nothing at all.
    """
    # Loaded when there is something to do, which is seldom.
    from alembic.operations import Operations
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    newest_first = ScriptDirectory(str(STEPS)).walk_revisions()
    ahead = [step for step in newest_first if int(step.revision) > found]
    with Operations.context(MigrationContext.configure(conn)):
        for step in reversed(ahead):
            step.module.upgrade()
