"""The school's settings in the record book."""

from __future__ import annotations

from sqlalchemy import func, select

from standfast.model.school import School
from standfast.store.bodies import SchoolSet
from standfast.store.journal import Entry, Stamp
from standfast.store.tables import journal, schools
from standfast.store.writing import Reading, Writing


def put_school(writing: Writing, school: School, stamp: Stamp) -> Entry:
    """Enters the settings if they are new or changed; else gives the entry that has them."""
    latest = _latest(writing)
    if latest is not None and SchoolSet.model_validate_json(latest.body).school == school:
        return latest
    return writing.write(stamp, SchoolSet(school=school))


def find_school(reading: Reading) -> School | None:
    """The settings as of now; None when none were entered."""
    latest = _latest(reading)
    return None if latest is None else SchoolSet.model_validate_json(latest.body).school


def _latest(reading: Reading) -> Entry | None:
    newest = select(func.max(schools.c.seq)).scalar_subquery()
    row = reading.conn.execute(select(journal).where(journal.c.seq == newest)).one_or_none()
    return None if row is None else Entry(*row)
