"""That a signed certificate was given out: what the record book keeps of it."""

from __future__ import annotations

from typing import Annotated

from pydantic import StringConstraints

from standfast.model.base import Day, Hash, Key, Noun, Slug, Whole, Yes


class Issued(Noun):
    """A signed certificate: of which award, its place in the status list, what was signed."""

    credential: Key
    """Its id: `urn:uuid:` and this."""
    award: Key
    place: Whole
    """In the school's status lists; its own."""
    digest: Hash
    """SHA-256 of the signed document in canonical form, hexadecimal."""
    key: Annotated[str, StringConstraints(pattern=r"^z6Mk[1-9A-HJ-NP-Za-km-z]{44}$")]
    """The public key that checks it."""
    covers: tuple[Slug, ...] = ()
    """The skills that it says are covered; those of the award's scope when none is named."""
    until: Day | None = None
    """The last day that it says; the award's own when it is not told."""
    paper: Hash | None = None
    """SHA-256 of the paper that carries it, with spaces for its receipt; hexadecimal."""
    named: Yes = False
    """Whether the holder agreed that her name stands in it; else a salted hash of it does."""
