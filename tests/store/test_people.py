"""People: opaque in the journal, named beside it, and forgotten on demand."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.engine import made
from tests.store.raw import dump, rows
from tests.store.school import School, open_school, people

from standfast.engine.decide import decide
from standfast.model.people import Person
from standfast.problems import NotFound, RecordBookError, Refused
from standfast.store.connect import open_book


def files(school: School) -> bytes:
    """Every byte of the book, its log and whatever else lies beside it."""
    folder = school.book.file.parent
    return b"".join(path.read_bytes() for path in sorted(folder.iterdir()))


def journal_text(school: School) -> str:
    return "\n".join(str(row) for row in rows(school, "SELECT * FROM journal"))


def test_people_come_out_as_they_went_in(school: School) -> None:
    school.book.put_people(people(), school.stamp)

    assert school.book.people() == tuple(sorted(people(), key=lambda person: person.id))
    assert all(school.book.find_person(person.id) == person for person in people())


def test_nobody_is_found_under_an_unknown_slug(school: School) -> None:
    assert school.book.find_person("nobody") is None


def test_neither_journal_nor_derived_tables_have_a_name_contact_or_slug(filled: School) -> None:
    text = journal_text(filled) + str(dump(filled))

    for word in ("Quillfeather", "example.org", "cato", "zoe", "'ann'", '"ann"', '"bo"'):
        assert word not in text


def test_who_wrote_an_entry_is_kept_as_an_opaque_id_and_read_as_a_slug(filled: School) -> None:
    (who,) = rows(filled, "SELECT who FROM journal WHERE kind = 'award-granted'")[0]

    assert re.fullmatch(r"p-[0-9a-f]{32}", who)
    assert filled.book.history()[-1].who == "zoe"


def test_a_correction_names_what_it_takes_the_place_of_and_is_no_change_when_it_comes_again(
    filled: School,
) -> None:
    (somebody, *_) = people()
    newest = filled.book.history(somebody.id)
    changed = somebody.model_copy(update={"documents": ()})
    entry = filled.book.correct_person(changed, "it was somebody else's", filled.stamp())
    before = filled.book.size()
    filled.book.put_people([changed], filled.stamp)

    assert entry.supersedes in {one.id for one in newest}
    assert filled.book.size() == before
    assert filled.book.find_person(somebody.id) == changed
    filled.book.rebuild()
    assert filled.book.find_person(somebody.id) == changed
    with pytest.raises(NotFound):
        filled.book.correct_person(Person(id="nobody-here", name="No"), "x", filled.stamp())


def test_somebody_unchanged_adds_no_entry(filled: School) -> None:
    before = filled.book.size()
    filled.book.put_people(people(), filled.stamp)

    assert filled.book.size() == before


@pytest.mark.parametrize("change", [{"name": "Cato Feather"}, {"contact": None}, {"site": "B"}])
def test_a_changed_name_is_a_new_entry_with_another_commitment(
    filled: School, change: dict[str, str | None]
) -> None:
    cato = people()[0].model_copy(update=change)
    entries = [e for e in filled.book.history("cato") if e.kind == "person-set"]
    filled.book.put_people([cato], filled.stamp)
    later = [e for e in filled.book.history("cato") if e.kind == "person-set"]

    assert len(later) == len(entries) + 1
    assert later[-1].body != entries[-1].body
    assert filled.book.find_person("cato") == cato
    assert filled.book.audit().clean


def test_people_may_name_each_other_as_trainers(school: School) -> None:
    day = people()[0].trained_by[0].since
    pair = [
        made.person("dot", trained_by={"eve": day}),
        made.person("eve", trained_by={"dot": day}),
    ]
    school.book.put_people(pair, school.stamp)

    assert school.book.people() == tuple(pair)


def test_an_unknown_trainer_is_refused_and_nobody_entered(school: School) -> None:
    day = people()[0].trained_by[0].since
    with pytest.raises(NotFound, match="'ghost'"):
        school.book.put_people(
            [made.person("dot"), made.person("eve", trained_by={"ghost": day})], school.stamp
        )

    assert school.book.people() == ()
    assert school.book.size() == 0


@pytest.mark.of_the_file
def test_an_erased_name_is_in_no_byte_of_any_file(filled: School) -> None:
    assert b"Quillfeather" in files(filled)

    filled.book.erase("cato", filled.stamp())

    assert b"Quillfeather" not in files(filled)
    assert b"cato" not in files(filled)


@pytest.mark.of_the_file
def test_a_name_that_was_changed_before_is_erased_too(filled: School) -> None:
    cato = people()[0].model_copy(update={"name": "Cato Zimtstern"})
    filled.book.put_people([cato], filled.stamp)
    filled.book.erase("cato", filled.stamp())

    assert b"Quillfeather" not in files(filled)
    assert b"Zimtstern" not in files(filled)


def test_erasing_leaves_the_book_whole(filled: School) -> None:
    (ref,) = rows(filled, "SELECT ref FROM identity WHERE handle = 'cato'")[0]
    head = filled.book.remember_head(filled.stamp().at)
    filled.book.erase("cato", filled.stamp())
    audit = filled.book.audit(decide, [head])

    assert audit.clean
    assert audit.decisions == 1
    assert filled.book.find_person("cato") is None
    assert filled.book.find_person(ref) == Person(
        id=ref,
        name="erased person",
        trained_by=people()[0].trained_by,
        documents=people()[0].documents,
    )
    assert [kept.sheet.candidate for kept in filled.book.sheets(ref)] == [ref, ref]
    assert filled.book.history(ref)[-1].kind == "erased"
    assert "cato" not in {person.id for person in filled.book.people()}


def test_nobody_is_found_under_the_slug_of_somebody_erased(filled: School) -> None:
    filled.book.erase("cato", filled.stamp())

    with pytest.raises(NotFound):
        filled.book.erase("cato", filled.stamp())
    with pytest.raises(NotFound):
        filled.book.history("cato")


@pytest.mark.parametrize(
    ("body", "goes"),
    [
        ('{"body": {"kind": "begin", "candidate": "bo"}}', True),
        ('{"body": {"kind": "begin", "assessor": "bo"}}', True),
        ('{"body": {"kind": "begin", "candidate": "bo-2"}}', False),
        ('{"body": {"kind": "bo", "note": "bo"}}', False),
        ("cut off after bo", True),
        ("cut off in the body of it", False),
        ("[" * 100_000 + "bo", True),
    ],
)
def test_an_erasure_takes_what_is_held_of_her_and_nobody_else_s(
    filled: School, body: str, goes: bool
) -> None:
    book = filled.book
    book.records.hold("r", "s", body, "no such", "a", filled.stamp().at)
    assert len(book.records.held_naming("bo")) == goes
    book.erase("bo", filled.stamp())

    assert len(book.records.held()) == (not goes)


def test_what_is_held_of_her_under_her_opaque_id_goes_too(filled: School) -> None:
    (ref,) = (ref for ref, slug in filled.book.handles().items() if slug == "bo")
    body = f'{{"kind": "begin", "candidate": "{ref}"}}'
    filled.book.records.hold("r", "s", body, "no such", "a", filled.stamp().at)
    filled.book.erase("bo", filled.stamp())

    assert filled.book.records.held() == ()


def test_a_slug_that_was_erased_can_be_somebody_else(filled: School) -> None:
    filled.book.erase("cato", filled.stamp())
    filled.book.put_people([made.person("cato")], filled.stamp)

    assert filled.book.sheets("cato") == ()
    assert [event.kind for event in filled.book.history("cato")] == ["person-set"]


def test_another_open_book_sees_an_erasure_at_once(filled: School) -> None:
    with open_book(filled.book.where) as other:
        assert other.sheets()[0].sheet.candidate == "cato"
        filled.book.erase("cato", filled.stamp())

        assert other.sheets()[0].sheet.candidate.startswith("p-")


def test_a_slug_in_the_form_of_an_opaque_id_is_refused(school: School) -> None:
    with pytest.raises(Refused, match="opaque id"):
        school.book.put_people([made.person("p-" + "0" * 32)], school.stamp)


def test_an_opaque_id_of_nobody_is_refused(filled: School) -> None:
    with pytest.raises(NotFound):
        filled.take(made.sheet(9, candidate="p-" + "0" * 32))


def test_without_random_bytes_no_new_person_is_entered(tmp_path: Path) -> None:
    school = open_school(tmp_path)
    with (
        open_book(school.book.file) as book,
        pytest.raises(RecordBookError, match="random bytes"),
    ):
        book.put_people(people(), school.stamp)
    school.book.close()


def test_the_same_seed_makes_the_same_book(tmp_path: Path) -> None:
    heads = []
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        school = open_school(tmp_path / name)
        school.fill()
        heads.append(school.book.head(school.stamp().at))
        school.book.close()

    assert heads[0] == heads[1]
