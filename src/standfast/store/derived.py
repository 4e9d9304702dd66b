"""What each kind of entry puts into the derived tables: the same when written and when rebuilt."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from sqlalchemy import Connection, Table, bindparam, delete, select, update

from standfast.model.federation import SHARES
from standfast.store.marks import packed
from standfast.store.tables import (
    AT_ONCE,
    FAR,
    OF_ENTRIES,
    add_rows,
    appeals,
    approvals,
    awards,
    batched,
    decisions,
    documents,
    issued,
    people,
    ratings,
    reference_scores,
    rulings,
    schools,
    shared,
    sheets,
    texts,
)
from standfast.store.tallies import counting_anew

JSON = dict[str, Any]
Row = tuple[Any, ...]

REPLACED = {schools, people, texts, shared}
"""Here a later entry about the same key takes the place of the row."""


OF_A_PERSON = (documents, approvals)
"""Here a later entry about a person takes the place of all rows of that person."""


class Batch:
    """Rows and marks of entries that go into the derived tables together."""

    def __init__(self) -> None:
        self.rows: dict[Table, dict[str, Row]] = defaultdict(dict)
        self._anew: dict[Table, dict[str, list[str]]] = defaultdict(dict)
        self._marks: dict[tuple[Table, str], list[tuple[str, str]]] = defaultdict(list)

    def put(self, table: Table, row: Row) -> None:
        """A row, given in the order of the columns."""
        self.rows[table][row[0]] = row

    def put_all(self, table: Table, person: str, rows: Iterable[Row]) -> None:
        """Every row of that person, in place of all that were there; keyed by person and place."""
        for key in self._anew[table].pop(person, ()):
            del self.rows[table][key]
        keyed = {f"{person}/{place}": row for place, row in enumerate(rows)}
        self.rows[table].update((key, (key, *row)) for key, row in keyed.items())
        self._anew[table][person] = list(keyed)

    def mark(self, table: Table, key: str, column: str, value: str) -> None:
        """One value of a row that is in the table already or in this batch."""
        row = self.rows[table].get(key)
        if row is None:
            self._marks[table, column].append((key, value))
        else:
            at = table.columns.keys().index(column)
            self.rows[table][key] = (*row[:at], value, *row[at + 1 :])

    def marks(self) -> Iterator[tuple[tuple[Table, str, str], str]]:
        """Table, column and key of each row of an earlier batch that is marked, and with what."""
        for (table, column), marks in self._marks.items():
            yield from (((table, column, key), value) for key, value in marks)

    def flush(self, conn: Connection) -> None:
        """Writes everything, counts what the sheets change, and forgets it."""
        with counting_anew(conn, {row[2] for row in self.rows[sheets].values()}):
            self._write(conn)
        self.rows.clear()
        self._anew.clear()
        self._marks.clear()

    def _write(self, conn: Connection) -> None:
        for table in OF_A_PERSON:
            for some in batched(self._anew[table], AT_ONCE):
                conn.execute(delete(table).where(table.c.person.in_(some)))
        for table in OF_ENTRIES:
            rows = self.rows[table]
            if rows and table in REPLACED:
                rows = _replace(conn, table, rows)
            if rows:
                add_rows(conn, table, list(rows.values()))
        for (table, column), marks in self._marks.items():
            _set(conn, table, column, marks)


def _replace(conn: Connection, table: Table, rows: dict[str, Row]) -> dict[str, Row]:
    """Changes the rows that are there already; gives those that are new."""
    key, *others = table.columns
    found: set[str] = set()
    for names in batched(rows, AT_ONCE):
        found.update(conn.scalars(select(key).where(key.in_(names))))
    if found:
        values: JSON = {column.name: bindparam(f"new_{column.name}") for column in others}
        change = update(table).where(key == bindparam("key")).values(values)
        conn.execute(change, [_bound(table, rows[name]) for name in found])
    return {name: row for name, row in rows.items() if name not in found}


def _bound(table: Table, row: Row) -> JSON:
    names = table.columns.keys()[1:]
    return {"key": row[0], **{f"new_{n}": part for n, part in zip(names, row[1:], strict=True)}}


def _set(conn: Connection, table: Table, column: str, marks: list[tuple[str, str]]) -> None:
    change = update(table).where(table.columns[0] == bindparam("key"))
    values = [{"key": key, "mark": value} for key, value in marks]
    conn.execute(change.values({column: bindparam("mark")}), values)


def derive(batch: Batch, seq: int, id: str, kind: str, body: JSON) -> None:  # noqa: A002
    """Puts what the entry says into the batch."""
    _DERIVE[kind](batch, seq, id, body)


def _school(batch: Batch, seq: int, _id: str, body: JSON) -> None:
    batch.put(schools, (body["school"]["id"], seq))


def _person(batch: Batch, seq: int, _id: str, body: JSON) -> None:
    state = body["person"]
    ref = state["person"]
    batch.put(people, (ref, seq))
    held = state.get("documents", ())
    rows = ((seq, ref, d["document"], d["issued"], d["last_day"]) for d in held)
    batch.put_all(documents, ref, rows)
    given = (*state.get("scores", ()), *state.get("certifies", ()))
    rubrics = dict.fromkeys(approval["rubric"] for approval in given)
    batch.put_all(approvals, ref, ((seq, ref, rubric) for rubric in rubrics))


def _nothing(_batch: Batch, _seq: int, _id: str, _body: JSON) -> None:
    """What is looked up by person in the journal alone; or an identity that is gone already."""


def _text(batch: Batch, seq: int, _id: str, body: JSON) -> None:
    kind = "rubric" if "rubric" in body else "syllabus"
    text = body[kind]
    until = text["transition"].get("honoured_until", FAR) if "transition" in text else None
    batch.put(texts, (body["hash"], seq, kind, text["id"], text["version"], until))


def _sheet(batch: Batch, seq: int, _id: str, body: JSON) -> None:
    sheet = body["sheet"]
    key = sheet["id"]
    batch.put(
        sheets,
        (
            key,
            seq,
            sheet["practical"],
            sheet["candidate"],
            sheet["assessor"],
            sheet["rubric"],
            sheet["rubric_version"],
            body["rubric"]["hash"],
            body["syllabus"]["hash"],
            sheet["began"][:10],
            None,
        ),
    )
    batch.put(ratings, (key, seq, *packed(sheet)))
    if "corrects" in sheet:
        batch.mark(sheets, sheet["corrects"]["of"], "superseded_by", key)


def _decision(batch: Batch, seq: int, id: str, body: JSON) -> None:  # noqa: A002
    made = body["decision"]
    rubric = made["rubric"]
    batch.put(
        decisions,
        (
            id,
            seq,
            made["candidate"],
            rubric["id"],
            rubric["version"],
            rubric["hash"],
            made["on"],
            made["outcome"],
            None,
        ),
    )
    if "corrects" in body:
        batch.mark(decisions, body["corrects"], "superseded_by", id)


def _award(batch: Batch, seq: int, _id: str, body: JSON) -> None:
    award = body["award"]
    key, dates = award["id"], award["dates"]
    batch.put(
        awards,
        (
            key,
            seq,
            award["number"],
            award["candidate"],
            award["rubric"]["id"],
            award["scope"]["id"],
            dates["first_day"],
            dates["last_day"],
            dates.get("refresher_due"),
            dates.get("grace_until"),
            award["decision"],
            None,
            None,
            None,
            dates.get("full_practical_after", FAR),
            spaced(award.get("documents", ())),
            award["rubric"]["version"],
        ),
    )
    if "renews" in award:
        batch.mark(awards, award["renews"], "renewed_by", key)
        batch.mark(awards, award["renews"], "renewed_on", award["granted"])
    if "corrects" in body:
        batch.mark(awards, body["corrects"], "superseded_by", key)


def spaced(words: Iterable[str]) -> str:
    """The words with a space around each, so that one is found by ` word `; empty for none."""
    return "".join(f" {word} " for word in sorted(set(words)))


def _ruling(batch: Batch, seq: int, id: str, body: JSON) -> None:  # noqa: A002
    ruling = body["ruling"]
    batch.put(rulings, (id, seq, ruling["award"], ruling["kind"], ruling["on"]))


def _appeal(batch: Batch, seq: int, _id: str, body: JSON) -> None:
    appeal = body["appeal"]
    batch.put(
        appeals,
        (
            appeal["id"],
            seq,
            appeal["number"],
            appeal["about"],
            appeal.get("award"),
            appeal["due_by"],
            None,
        ),
    )


def _answer(batch: Batch, _seq: int, id: str, body: JSON) -> None:  # noqa: A002
    batch.mark(appeals, body["answer"]["appeal"], "answer", id)


def _reference(batch: Batch, seq: int, id: str, body: JSON) -> None:  # noqa: A002
    batch.put(reference_scores, (id, seq, body["score"]["assessor"]))


def _issued(batch: Batch, seq: int, _id: str, body: JSON) -> None:
    what = body["issued"]
    batch.put(issued, (what["credential"], seq, what["award"], what.get("place", 0)))


def _federation(batch: Batch, seq: int, _id: str, body: JSON) -> None:
    for what in SHARES:
        batch.put(shared, (what, seq, int(what in body.get("shares", ()))))


_DERIVE: dict[str, Callable[[Batch, int, str, JSON], None]] = {
    "school-set": _school,
    "person-set": _person,
    "erased": _nothing,
    "text-kept": _text,
    "sheet-taken": _sheet,
    "decision-made": _decision,
    "award-granted": _award,
    "award-ruled": _ruling,
    "appeal-filed": _appeal,
    "appeal-answered": _answer,
    "reference-scored": _reference,
    "credential-issued": _issued,
    "federation-set": _federation,
    "handed-over": _nothing,
    "taken-in": _nothing,
}
