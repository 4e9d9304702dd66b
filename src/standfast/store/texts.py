"""Rubrics and syllabuses, each kept for ever under the hash of its content."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from sqlalchemy import bindparam, exists, or_, select

from standfast.model.base import Reference
from standfast.model.canonical import content_hash, plain
from standfast.model.rubric import Rubric
from standfast.model.syllabus import Syllabus
from standfast.problems import Refused
from standfast.store.bodies import TextKept
from standfast.store.difference import difference
from standfast.store.journal import Stamp
from standfast.store.tables import journal, sheets, texts
from standfast.store.writing import Reading, Writing


def keep_text(writing: Writing, text: Rubric | Syllabus, stamp: Stamp) -> Reference:
    """Keeps the text, if it is not the one kept last under its version; gives its reference.

    Raises:
        Refused: a sheet was scored under other content of the same version; with the difference.
    """
    offered = Reference(id=text.id, version=text.version, hash=content_hash(text))
    kind = kind_of(text)
    used = used_hash(writing, kind, text.id, text.version)
    if used not in {None, offered.hash}:
        raise _other_content(writing, kind, text, str(used))
    if _latest_hash(writing, kind, text.id, text.version) != offered.hash:
        body = (
            TextKept(hash=offered.hash, rubric=text)
            if isinstance(text, Rubric)
            else TextKept(hash=offered.hash, syllabus=text)
        )
        writing.write(stamp, body)
    return offered


def kind_of(text: Rubric | Syllabus) -> str:
    """As the table of texts names it."""
    return "rubric" if isinstance(text, Rubric) else "syllabus"


def _other_content(reading: Reading, kind: str, offered: Rubric | Syllabus, used: str) -> Refused:
    kept = find_text(reading, used)
    return Refused(
        f"{kind} {offered.id} version {offered.version} was used for a score sheet and is kept as"
        f" it was; this text differs: raise its version to {offered.version + 1}",
        difference(plain(kept) if kept else None, plain(offered)),
    )


def used_hash(reading: Reading, kind: str, id: str, version: int) -> str | None:  # noqa: A002
    """The hash of that version under which sheets were scored; None when none was."""
    return reading.conn.scalar(_USED, {"kind": kind, "id": id, "version": version})


def _latest_hash(reading: Reading, kind: str, id: str, version: int) -> str | None:  # noqa: A002
    return reading.conn.scalar(_LATEST, {"kind": kind, "id": id, "version": version})


# Asked with every sheet: put together once, not each time.
_OF_VERSION = select(texts.c.hash).where(
    texts.c.kind == bindparam("kind"),
    texts.c.id == bindparam("id"),
    texts.c.version == bindparam("version"),
)
_USED = _OF_VERSION.where(
    # Each by its own index: asked for both at once, PostgreSQL reads one of them from end to end.
    or_(
        exists().where(sheets.c.rubric_hash == texts.c.hash),
        exists().where(sheets.c.syllabus_hash == texts.c.hash),
    )
).limit(1)
_LATEST = _OF_VERSION.order_by(texts.c.seq.desc()).limit(1)


def find_text(reading: Reading, hash: str) -> Rubric | Syllabus | None:  # noqa: A002
    """The text of that hash, or None."""
    query = select(journal.c.body).join(texts, texts.c.seq == journal.c.seq)
    body = reading.conn.scalar(query.where(texts.c.hash == hash))
    return None if body is None else _read(body)


@lru_cache(32)
def _read(body: str) -> Rubric | Syllabus:
    """The text of an entry; a day's certificates, and a school's sheets, ask for few of them."""
    return TextKept.model_validate_json(body).text


def find_version(
    reading: Reading,
    kind: str,
    id: str,  # noqa: A002
    version: int | None = None,
) -> Reference | None:
    """The text of that id and version as kept last, or of its highest version."""
    query = select(texts.c.version, texts.c.hash).where(texts.c.kind == kind, texts.c.id == id)
    if version is not None:
        query = query.where(texts.c.version == version)
    found = reading.conn.execute(
        query.order_by(texts.c.version.desc(), texts.c.seq.desc()).limit(1)
    ).one_or_none()
    return None if found is None else Reference(id=id, version=found.version, hash=found.hash)


def find_references(reading: Reading, kind: str) -> Iterator[Reference]:
    """Every text of the kind (rubric or syllabus) that is kept, by id, version and time."""
    query = select(texts.c.id, texts.c.version, texts.c.hash).where(texts.c.kind == kind)
    for id, version, hash in reading.conn.execute(  # noqa: A001
        query.order_by(texts.c.id, texts.c.version, texts.c.seq)
    ):
        yield Reference(id=id, version=version, hash=hash)
