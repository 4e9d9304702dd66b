"""An audit finds whatever was changed behind the program, and names the entry."""

from __future__ import annotations

import json
from datetime import date
from hashlib import sha256

import pytest
from tests.engine import made
from tests.store.raw import dump, raw, rows, unguarded
from tests.store.school import BEGAN, ON, RUBRIC, SYLLABUS, School, people, reference

from standfast.engine.decide import decide
from standfast.model import tree
from standfast.model.award import Ruling
from standfast.model.issued import Issued
from standfast.problems import NotFound
from standfast.store import as_derived, writing
from standfast.store.audit import Audit, entries
from standfast.store.bodies import DecisionInputs
from standfast.store.journal import Entry, canonical_entry, leaf_of


def said(audit: Audit) -> list[str]:
    return [str(fault) for fault in audit.faults]


def change_body(school: School, seq: int, before: str, after: str, *, new_leaf: bool) -> None:
    """Rewrites an entry in the file, with or without a leaf that fits."""
    with unguarded(school) as do:
        row = do("SELECT * FROM journal WHERE seq = ?", (seq,)).fetchone()
        entry = Entry(*row[:9])
        assert before in entry.body
        entry = entry._replace(body=entry.body.replace(before, after))
        leaf = leaf_of(entry) if new_leaf else entry.leaf
        values = (entry.body, leaf, seq)
        do("UPDATE journal SET body = ?, leaf = ? WHERE seq = ?", values)


def test_a_whole_book_is_clean_and_counted(filled: School) -> None:
    audit = filled.book.audit(decide)

    assert audit.clean
    assert [one.partition(":")[0] for one in audit.remarks] == filled.server_is_set_to
    assert (audit.size, audit.decisions) == (11, 1)
    assert audit.root == filled.book.head(BEGAN).root


def test_an_empty_book_is_clean(school: School) -> None:
    audit = school.book.audit(decide)

    assert (audit.clean, audit.size, audit.root) == (True, 0, tree.EMPTY_ROOT)


def test_a_rewritten_entry_is_named(filled: School) -> None:
    change_body(filled, 8, '"minutes":60', '"minutes":61', new_leaf=False)
    entry = filled.book.history()[7]

    assert said(filled.book.audit(decide)) == [
        f"entry 8 ({entry.id}): its content is not what its leaf was made from"
    ]


@pytest.mark.parametrize("column", ["at", "who", "kind", "about"])
def test_every_column_is_under_the_leaf(filled: School, column: str) -> None:
    with unguarded(filled) as do:
        do(f"UPDATE journal SET {column} = 'x' WHERE seq = 8")  # noqa: S608

    assert [fault.seq for fault in filled.book.audit().faults] == [8]


def test_the_first_of_several_bad_entries_comes_first(filled: School) -> None:
    change_body(filled, 9, '"minutes":60', '"minutes":61', new_leaf=False)
    change_body(filled, 7, '"minutes":60', '"minutes":61', new_leaf=False)

    assert [fault.seq for fault in filled.book.audit().faults] == [7, 9]


def test_only_a_kept_head_shows_an_entry_rewritten_with_its_leaf(filled: School) -> None:
    head = filled.book.head(BEGAN)
    change_body(filled, 4, '"person"', '"person" ', new_leaf=True)

    assert filled.book.audit().clean
    assert said(filled.book.audit(kept_heads=[head])) == [
        f"the first 11 entries are not those of the head of {head.at}"
    ]


def test_a_head_in_the_book_shows_it_too(filled: School) -> None:
    filled.book.remember_head(BEGAN)
    change_body(filled, 4, '"person"', '"person" ', new_leaf=True)

    assert len(filled.book.audit().faults) == 1


def test_a_missing_entry_is_named_by_the_one_after_it(filled: School) -> None:
    with unguarded(filled) as do:
        do("DELETE FROM journal WHERE seq = 3")
    entry = filled.book.history()[2]

    assert f"entry 4 ({entry.id}): number 3 is missing before it" in said(filled.book.audit())


def test_a_cut_off_end_is_shown_by_a_kept_head(school: School) -> None:
    school.book.put_people(people(), school.stamp)
    school.keep_texts()
    head = school.book.head(BEGAN)
    with unguarded(school) as do:
        do("DELETE FROM journal WHERE seq = 6")
        do("DELETE FROM texts WHERE seq = 6")

    assert school.book.audit().clean
    assert said(school.book.audit(kept_heads=[head])) == [
        f"a head over 6 entries was given out at {head.at}, and the journal has 5"
    ]


@pytest.mark.of_the_file
@pytest.mark.parametrize(
    ("statement", "what"),
    [
        pytest.param(
            "DROP TRIGGER journal_is_never_changed",
            "trigger journal_is_never_changed is missing",
            id="guard dropped",
        ),
        pytest.param("DROP INDEX awards_end", "index awards_end is missing", id="index dropped"),
        pytest.param(
            "CREATE TRIGGER sly AFTER INSERT ON awards BEGIN DELETE FROM awards; END",
            "trigger sly was added",
            id="trigger added",
        ),
    ],
)
def test_a_changed_guard_is_named(filled: School, statement: str, what: str) -> None:
    with raw(filled) as do:
        do(statement)

    assert said(filled.book.audit(decide)) == [what]


@pytest.mark.of_the_file
def test_a_weakened_guard_is_named(filled: School) -> None:
    with raw(filled) as do:
        do("DROP TRIGGER journal_is_never_deleted")
        do("CREATE TRIGGER journal_is_never_deleted BEFORE DELETE ON journal BEGIN SELECT 1; END")

    assert said(filled.book.audit()) == ["trigger journal_is_never_deleted is not as written"]


def test_a_missing_table_is_told_and_nothing_fails(filled: School) -> None:
    with raw(filled) as do:
        do("DROP TABLE awards CASCADE" if filled.server else "DROP TABLE awards")

    assert "table awards is missing" in said(filled.book.audit(decide))


CHANGES = [
    ("UPDATE awards SET last_day = '2099-01-01'", "of awards differs from it"),
    ("UPDATE sheets SET superseded_by = NULL", "of sheets differs from it"),
    ("UPDATE awards SET renewed_by = 'x'", "of awards differs from it"),
    ("DELETE FROM awards", "of awards is missing"),
    ("DELETE FROM people WHERE seq = 2", "of people is missing"),
    ("INSERT INTO people VALUES ('p-x', 2)", "row p-x of people comes from no entry"),
    ("UPDATE documents SET last_day = '2099-01-01'", "of documents differs from it"),
    ("DELETE FROM documents", "of documents is missing"),
    ("UPDATE texts SET version = 9 WHERE kind = 'rubric'", "of texts differs from it"),
]


@pytest.mark.parametrize("at_once", [1, 3, 5_000])
def test_tables_are_held_against_the_journal_a_few_entries_at_a_time(
    filled: School, at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(as_derived, "_ENTRIES", at_once)
    for last in (date(2029, 1, 1), date(2030, 1, 1)):  # who was entered again has other papers
        again = made.person("cato", documents={"first-aid": last, "insurance": last})
        filled.book.put_people([again], filled.stamp)
    renewed = filled.award(filled.book.decisions("cato")[0].entry, "A-2")
    (before,) = filled.book.awards("cato")
    filled.book.put_award(
        renewed.model_copy(update={"renews": before.award.id}), filled.stamp("zoe")
    )
    with filled.book._reading() as reading:
        assert as_derived.is_as_derived(reading.conn, entries(reading))
    for change, _ in CHANGES:
        with raw(filled) as do:
            do(change)
        with filled.book._reading() as reading:
            assert not as_derived.is_as_derived(reading.conn, entries(reading)), change
        filled.book.rebuild()


@pytest.mark.parametrize(("statement", "what"), CHANGES)
def test_a_changed_derived_row_is_named_and_mended_by_a_rebuild(
    filled: School, statement: str, what: str
) -> None:
    before = dump(filled)
    with raw(filled) as do:
        do(statement)

    faults = said(filled.book.audit(decide))
    assert len(faults) == 1
    assert what in faults[0]
    assert filled.book.rebuild() == 11
    assert dump(filled) == before
    assert filled.book.audit(decide).clean


def rule(school: School) -> Ruling:
    """Suspends the school's award."""
    ruling = Ruling(
        award=school.book.awards()[0].award.id,
        kind="suspended",
        on=ON,
        by="zoe",
        because="a complaint is looked into",
    )
    school.book.put_ruling(ruling, school.stamp("zoe"))
    return ruling


def test_a_ruling_comes_back_with_its_people_and_the_book_is_clean(filled: School) -> None:
    ruling = rule(filled)

    assert filled.book.rulings(ruling.award) == (ruling,)
    assert filled.book.rulings("another") == ()
    assert filled.book.audit().clean
    assert rows(filled, "SELECT count(*) FROM journal WHERE body LIKE '%zoe%'") == [(0,)]


def test_a_ruling_on_an_award_that_is_not_there_is_refused(filled: School) -> None:
    wrong = rule(filled).model_copy(update={"award": filled.key()})

    with pytest.raises(NotFound, match="award to rule on"):
        filled.book.put_ruling(wrong, filled.stamp())


def given_out(school: School) -> Issued:
    """A signed certificate of the first award."""
    return Issued(
        credential=school.key(),
        award=school.book.awards()[0].award.id,
        place=94567,
        digest="0" * 64,
        key="z6MkehRgf7yJbgaGfYsdoAsKdBPE3dj2CYhowQdcjqSJgvVd",
    )


def test_a_signed_certificate_comes_back_with_its_place(filled: School) -> None:
    told = given_out(filled)
    entry = filled.book.put_issued(told, filled.stamp())

    assert filled.book.issued() == filled.book.issued(told.award) == (told,)
    assert filled.book.issued("another") == ()
    assert filled.book.places() == {94567}
    assert leaf_of(entry) == tree.leaf_hash(filled.book.entry_content(entry.id)) == entry.leaf
    assert filled.book.audit().clean


def test_a_signed_certificate_of_no_award_is_refused(filled: School) -> None:
    with pytest.raises(NotFound, match="award"):
        filled.book.put_issued(
            given_out(filled).model_copy(update={"award": filled.key()}), filled.stamp()
        )
    with pytest.raises(NotFound, match="entry"):
        filled.book.entry_content("none")


def test_a_rebuild_gives_the_same_rows(filled: School) -> None:
    rule(filled)
    filled.book.put_appeal(made.appeal(), filled.stamp())
    filled.book.put_reference(reference("bo"), filled.stamp("zoe"))
    filled.book.put_issued(given_out(filled), filled.stamp())
    filled.book.put_shares(("awards",), filled.stamp())
    filled.book.erase("bo", filled.stamp())
    before = dump(filled)
    filled.book.rebuild()

    assert dump(filled) == before
    assert all(before[table] for table in before if table != "schools")


def test_a_name_changed_behind_the_journal_is_named(filled: School) -> None:
    with raw(filled) as do:
        do("UPDATE identity SET name = 'Somebody Else' WHERE handle = 'cato'")
    entry = filled.book.history("cato")[0]

    assert said(filled.book.audit()) == [
        f"entry 1 ({entry.id}): name or contact of cato are not those that were entered"
    ]


def test_a_row_that_points_nowhere_is_named(filled: School) -> None:
    with raw(filled) as do:
        do("DELETE FROM texts WHERE kind = 'syllabus'")

    assert "points at a row of texts that is not there" in said(filled.book.audit())[0]


def test_a_decision_the_evidence_does_not_give_is_named_with_the_difference(
    filled: School,
) -> None:
    cato = filled.book.find_person("cato")
    assert cato is not None
    sheets = [kept.sheet for kept in filled.book.sheets("cato")]
    right = decide(RUBRIC, SYLLABUS, sheets, cato, ON)
    wrong = right.model_copy(update={"outcome": "fail"})
    entry = filled.book.put_decision(wrong, DecisionInputs.of(cato, sheets), filled.stamp())

    count, differing = filled.book.replay(decide)

    assert count == 2
    assert [(d.seq, d.what) for d in differing] == [
        (entry.seq, ('outcome: kept "fail", now "pass"',))
    ]
    assert said(filled.book.audit(decide)) == [
        f'entry {entry.seq} ({entry.id}): decided again: outcome: kept "fail", now "pass"'
    ]


def test_a_decision_is_made_again_from_what_was_known_then(filled: School) -> None:
    cato = people()[0].model_copy(update={"trained_by": ()})
    filled.book.put_people([cato], filled.stamp)
    filled.take(made.sheet(9, day=ON))

    assert filled.book.replay(decide) == (1, ())


def test_a_corrected_sheet_still_stands_behind_the_decision_it_gave(filled: School) -> None:
    filled.take(made.sheet(5, corrects=made.correcting(1), attempts=made.tries(["no"] * 12)))
    filled.book.rebuild()

    assert filled.book.replay(decide) == (1, ())


def test_leaves_are_what_an_outsider_would_compute(filled: School) -> None:
    (row,) = rows(filled, "SELECT * FROM journal WHERE seq = 11")
    columns, leaf = row[:-1], row[-1]

    assert json.loads(canonical_entry(*columns))["seq"] == 11
    assert sha256(b"\x00" + canonical_entry(*columns)).digest() == leaf


def test_decisions_are_made_again_a_few_at_a_time(
    filled: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    second = filled.decide([made.sheet(1)])
    at_once = filled.book.rests()
    monkeypatch.setattr(writing, "_PIECE", 1)

    assert filled.book.audit(decide).decisions == 2
    assert filled.book.rests() == at_once
    assert at_once[-1].entry == second.id
    assert at_once[-1].sheets == (made.sheet(1).id,)
