"""The journal: in order, once each, never changed."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import replace
from hashlib import sha256

import psycopg
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.engine import made
from tests.store.full import begun
from tests.store.raw import raw, rows
from tests.store.school import BEGAN, School, people

from standfast.model import tree
from standfast.model.canonical import canonical
from standfast.model.school import School as Settings
from standfast.problems import NotFound, RecordBookError, Refused
from standfast.store.journal import Draft, canonical_entry

FOR_EVER = ("journal", "heads", "records")
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), min_size=1)


@given(TEXTS, TEXTS, TEXTS, st.none() | TEXTS, st.none() | TEXTS, st.dictionaries(TEXTS, TEXTS))
def test_an_entry_is_put_together_as_the_whole_would_be_written(
    at: str, who: str, kind: str, about: str | None, before: str | None, body: dict[str, str]
) -> None:
    whole = {
        "seq": 7,
        "id": "x",
        "at": at,
        "who": who,
        "kind": kind,
        "about": about,
        "supersedes": before,
        "body": body,
    }
    text = canonical(body).decode()

    assert canonical_entry(7, "x", at, who, kind, about, before, text) == canonical(whole)


def test_the_leaf_is_the_hash_of_the_whole_entry(filled: School) -> None:
    names = ("seq", "id", "at", "who", "kind", "about", "supersedes")
    for *columns, body, leaf in rows(filled, "SELECT * FROM journal ORDER BY seq"):
        whole = {**dict(zip(names, columns, strict=True)), "body": json.loads(body)}
        assert leaf == sha256(b"\x00" + canonical(whole)).digest()


def test_numbers_begin_at_one_and_have_no_gaps(filled: School) -> None:
    numbers = [event.seq for event in filled.book.history()]

    assert numbers == list(range(1, filled.book.size() + 1))


def test_the_same_stamp_and_content_again_is_the_same_entry(school: School) -> None:
    stamp, settings = school.stamp(), Settings(id="barn", name="The Barn")
    first = school.book.put_school(settings, stamp)

    assert school.book.put_school(settings, stamp) == first
    assert school.book.size() == 1


def test_a_retry_may_read_its_clock_again(school: School) -> None:
    school.book.put_people(people(), school.stamp)
    stamp = school.stamp()
    first = school.book.erase("bo", stamp)
    draft = Draft(*first[1:7], json.loads(first.body))

    assert school.book.append([draft._replace(at="2026-03-01T10:00:00.000Z")]) == [first]


def test_the_same_id_with_other_content_is_refused_with_both_shown(school: School) -> None:
    stamp = school.stamp()
    school.book.put_school(Settings(id="barn", name="The Barn"), stamp)

    with pytest.raises(Refused) as refused:
        school.book.put_school(Settings(id="barn", name="The Loft"), stamp)

    said = str(refused.value)
    assert stamp.id in said
    assert '-   "name": "The Barn"' in said
    assert '+   "name": "The Loft"' in said
    assert school.book.size() == 1


def test_the_same_id_by_somebody_else_is_refused(school: School) -> None:
    stamp = school.stamp()
    school.book.put_people(people(), school.stamp)
    entry = school.book.erase("bo", stamp)
    draft = Draft(*entry[1:7], json.loads(entry.body))

    with pytest.raises(Refused, match="other content"):
        school.book.append([draft._replace(who="intruder")])


@pytest.mark.parametrize(
    "statement",
    [
        pytest.param("UPDATE journal SET body = '{}' WHERE seq = 2", id="update"),
        pytest.param("UPDATE journal SET seq = 99 WHERE seq = 2", id="renumber"),
        pytest.param("DELETE FROM journal WHERE seq = 11", id="delete the last"),
        pytest.param("DELETE FROM journal", id="delete all"),
        pytest.param(
            "INSERT INTO journal SELECT 13, replace(id, '0', '1'), at, who, kind, about,"
            " supersedes, body, leaf FROM journal WHERE seq = 2",
            id="gap",
        ),
        pytest.param(
            "INSERT INTO journal SELECT NULL, replace(id, '0', '1'), at, who, kind, about,"
            " supersedes, body, leaf FROM journal WHERE seq = 2",
            id="no number",
        ),
        pytest.param("UPDATE heads SET size = 1", id="change a head"),
        pytest.param("DELETE FROM heads", id="delete a head"),
        pytest.param("UPDATE records SET body = '{}'", id="change a record"),
        pytest.param("DELETE FROM records", id="delete a record"),
    ],
)
def test_whoever_has_the_database_cannot_change_what_was_written(
    filled: School, statement: str
) -> None:
    check_refused(filled, statement)


@pytest.mark.of_the_file
@pytest.mark.parametrize(
    "statement",
    [
        pytest.param(
            "INSERT OR REPLACE INTO journal SELECT seq, id, at, 'x', kind, about, supersedes, body,"
            " leaf FROM journal WHERE seq = 2",
            id="replace by number",
        ),
        pytest.param(
            "INSERT OR REPLACE INTO journal SELECT 12, id, at, 'x', kind, about, supersedes, body,"
            " leaf FROM journal WHERE seq = 2",
            id="replace by id",
        ),
        pytest.param(
            "INSERT INTO journal SELECT seq, id, at, 'x', kind, about, supersedes, body, leaf"
            " FROM journal WHERE seq = 2 ON CONFLICT DO UPDATE SET who = 'x'",
            id="upsert",
        ),
        pytest.param(
            "INSERT OR REPLACE INTO heads SELECT size, zeroblob(32), at FROM heads",
            id="replace a head",
        ),
        pytest.param(
            "INSERT OR REPLACE INTO records SELECT id, sheet, n, at, 'x', account, body"
            " FROM records",
            id="replace a record by id",
        ),
        pytest.param(
            "INSERT OR REPLACE INTO records SELECT replace(id, '0', '1'), sheet, n, at, 'x',"
            " account, body FROM records",
            id="replace a record by its number",
        ),
    ],
)
def test_the_file_refuses_to_replace_what_was_written(filled: School, statement: str) -> None:
    check_refused(filled, statement)


def check_refused(filled: School, statement: str) -> None:
    filled.book.remember_head(BEGAN)
    filled.book.records.put([begun(filled)], BEGAN)
    before = [rows(filled, f"SELECT * FROM {table}") for table in FOR_EVER]  # noqa: S608
    assert all(before)

    with pytest.raises((sqlite3.IntegrityError, psycopg.IntegrityError)), raw(filled) as do:
        do(statement)

    assert [rows(filled, f"SELECT * FROM {table}") for table in FOR_EVER] == before  # noqa: S608


@pytest.mark.of_the_file
def test_a_leaf_of_another_length_or_type_is_refused_by_the_file(filled: School) -> None:
    columns = "12, replace(id, '0', '1'), at, who, kind, about, supersedes, body"
    for leaf in ("zeroblob(31)", "'text'"):
        with pytest.raises(sqlite3.IntegrityError), raw(filled) as do:
            do(f"INSERT INTO journal SELECT {columns}, {leaf} FROM journal")  # noqa: S608


def test_what_is_put_in_together_is_kept_as_one(school: School) -> None:
    def stopped_half_way() -> None:
        with school.book.together():
            school.fill()
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped_half_way()

    assert school.book.size() == 0
    assert school.book.people() == ()
    school.fill()
    assert school.book.audit().clean


def test_what_is_refused_inside_together_is_undone_alone(school: School) -> None:
    with school.book.together():
        school.book.put_people(people(), school.stamp)
        with pytest.raises(NotFound):
            school.take(made.sheet(1, candidate="nobody"))
        school.take(made.sheet(1))

    assert [event.kind for event in school.book.history()][4:] == [
        "text-kept",
        "text-kept",
        "sheet-taken",
    ]
    assert school.book.audit().clean


def test_people_entered_in_what_failed_are_not_remembered(school: School) -> None:
    with school.book.together():
        with pytest.raises(NotFound):
            school.book.put_people(
                [made.person("dot", trained_by={"ghost": BEGAN.date()})], school.stamp
            )
        assert school.book.find_person("dot") is None
        school.book.put_people([made.person("dot")], school.stamp)

    assert school.book.find_person("dot") == made.person("dot")


def test_a_clock_set_back_keeps_the_order_and_is_remarked(school: School) -> None:
    school.book.put_school(Settings(id="barn", name="The Barn"), school.stamp())
    early = replace(school.stamp(), at=BEGAN.replace(year=2025))
    entry = school.book.put_school(Settings(id="barn", name="The Loft"), early)

    audit = school.book.audit()

    assert entry.seq == 2
    assert audit.clean
    assert audit.remarks[len(school.server_is_set_to) :] == [
        (
            f"entry 2 ({early.id}): its clock says 2025-03-01T09:00:00.000Z,"
            " an entry before it 2026-03-01T09:00:01.000Z"
        )
    ]


def test_an_entry_is_proved_to_whoever_kept_a_head(filled: School) -> None:
    early = filled.book.remember_head(BEGAN)
    filled.book.put_people([made.person("dot")], filled.stamp)
    late = filled.book.head(BEGAN)
    entry = filled.book.history()[4]
    (shown,) = filled.book.inclusions([entry.id], early.size)
    proof = filled.book.consistency(early.size)

    assert filled.book.heads() == (early,)
    assert tree.includes(early.root, early.size, shown.leaf, shown.index, shown.path)
    assert tree.extends(early.root, early.size, late.root, late.size, proof)


def test_an_entry_that_is_not_there_yet_has_no_proof(filled: School) -> None:
    last = filled.book.history()[-1]
    with pytest.raises(NotFound):
        filled.book.inclusions([last.id], last.seq - 1)
    with pytest.raises(NotFound):
        filled.book.consistency(last.seq + 1)


def test_a_head_is_remembered_once_for_one_size(filled: School) -> None:
    first = filled.book.remember_head(BEGAN)

    assert filled.book.remember_head(BEGAN.replace(year=2027)) == first


def test_an_entry_that_supersedes_what_is_not_there_is_refused(school: School) -> None:
    body = {"school": {"id": "barn", "name": "The Barn"}}
    draft = Draft(school.key(), "x", "office", "school-set", None, school.key(), body)

    with pytest.raises(RecordBookError, match="nothing of this was kept"):
        school.book.append([draft])

    assert school.book.size() == 0
