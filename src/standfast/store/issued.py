"""Signed certificates in the record book: which were given out, and their places in the lists."""

from __future__ import annotations

import hmac

from sqlalchemy import select

from standfast.model.issued import Issued
from standfast.problems import NotFound, RecordBookError
from standfast.store import names
from standfast.store.bodies import CredentialIssued
from standfast.store.journal import Entry, Stamp
from standfast.store.tables import awards, issued, journal
from standfast.store.writing import Reading, Writing


def put_issued(writing: Writing, what: Issued, stamp: Stamp) -> Entry:
    """Enters that a certificate was given out.

    Raises:
        NotFound: no such award.
    """
    found = writing.conn.execute(
        select(awards.c.id, awards.c.candidate).where(awards.c.id == what.award)
    ).one_or_none()
    if found is None:
        raise NotFound("award", what.award, ())
    return writing.write(stamp, CredentialIssued(issued=what), about=found.candidate)


def find_issued(reading: Reading, award: str | None = None) -> tuple[Issued, ...]:
    """Those of an award, or all, as they were entered."""
    query = select(journal.c.body).join(issued, issued.c.seq == journal.c.seq)
    if award is not None:
        query = query.where(issued.c.award == award)
    rows = reading.conn.scalars(query.order_by(issued.c.seq))
    return tuple(CredentialIssued.model_validate_json(body).issued for body in rows)


def find_credential(reading: Reading, credential: str) -> Issued | None:
    """The one of that id, or None."""
    query = select(journal.c.body).join(issued, issued.c.seq == journal.c.seq)
    body = reading.conn.scalar(query.where(issued.c.credential == credential))
    return None if body is None else CredentialIssued.model_validate_json(body).issued


def places(reading: Reading) -> frozenset[int]:
    """The places in the status lists that are taken."""
    return frozenset(reading.conn.scalars(select(issued.c.place)))


def salt_for(reading: Reading, person: str, purpose: str) -> str:
    """A salt of that person for one purpose, hexadecimal; gone for ever with her name.

    Raises:
        NotFound: nobody of that slug is in the book.
        RecordBookError: her name was erased.
    """
    row = names.find(reading.conn, reading.names.ref(person))
    if row is None:
        raise RecordBookError(f"{person}: the name was erased, and the salt with it")
    return hmac.digest(row.salt, purpose.encode(), "sha256").hex()[:32]
