"""A record book as lines of text, and a book from such lines again."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.engine import made
from tests.store.cluster import KEEPER, Cluster
from tests.store.full import NOW, fill_everything, lines_of, root_by_hand, rows
from tests.store.school import School, open_school, people

from standfast.model.tree import GrowingTree, leaf_hash
from standfast.problems import BadInput, RecordBookError, Refused
from standfast.store.book import Book
from standfast.store.contents import LEFT_OUT, PARTS
from standfast.store.filling import check, fill
from standfast.store.incoming import MOST_PROBLEMS
from standfast.store.tables import DERIVED, metadata

Lines = dict[str, list[bytes]]


@pytest.fixture
def full(school: School) -> School:
    fill_everything(school)
    return school


def given(lines: Lines) -> Callable[[], Iterator[tuple[str, str, Iterator[bytes]]]]:
    return lambda: ((part, f"{part}.jsonl", iter(some)) for part, some in lines.items())


def filled_from(lines: Lines, folder: Path, until: int | str | None = None) -> Book:
    folder.mkdir()
    return fill(folder / "standfast.db", given(lines), bytes, until)


def test_each_table_is_carried_or_made_again_or_left_out_on_purpose() -> None:
    assert {*PARTS, *DERIVED, *LEFT_OUT} == set(metadata.tables.values())


def test_the_sample_has_rows_everywhere_that_count(full: School) -> None:
    filled = {name for name, some in rows(full.book).items() if some}

    assert {table.name for table in (*PARTS, *LEFT_OUT)} <= filled


def test_a_book_from_its_lines_is_the_same_book(full: School, tmp_path: Path) -> None:
    left_out = {table.name for table in LEFT_OUT}

    with filled_from(lines_of(full.book), tmp_path / "again") as again:
        before, after = rows(full.book), rows(again)
        assert again.audit().clean
        assert again.people() == full.book.people()
        assert again.history() == full.book.history()
    for name in before.keys() - left_out:
        assert after[name] == before[name], name
    assert not any(after[name] for name in left_out)


def test_whoever_has_the_file_works_out_the_root_with_a_hash_alone(full: School) -> None:
    lines = lines_of(full.book)["journal"]

    assert root_by_hand(lines) == full.book.head(NOW).root
    assert [json.loads(line)["seq"] for line in lines] == list(range(1, full.book.size() + 1))


def test_while_it_is_held_still_what_others_enter_is_not_seen(full: School) -> None:
    with full.book.still(NOW) as still:
        before = [*still.contents.lines("journal")]
        other = open_school(full.book.where, create=False, seed=99)
        other.seconds = 500
        other.book.put_people([made.person("dora")], other.stamp)

        assert [*still.contents.lines("journal")] == before
        assert len(before) == still.contents.head.size == still.book.size()
        assert still.book.find_person("dora") is None
        with pytest.raises(RecordBookError, match="only read"):
            still.book.erase("ann", full.stamp())
    assert other.book.size() == full.book.size() == len(before) + 1
    other.book.close()


def altered(**changes: object) -> Callable[[bytes], bytes]:
    def alter(line: bytes) -> bytes:
        told = {**json.loads(line), **changes}
        kept = sorted((k, v) for k, v in told.items() if v is not ...)
        return json.dumps(dict(kept), ensure_ascii=False, separators=(",", ":")).encode() + b"\n"

    return alter


BAD = "ffffffffffff"
BROKEN = [
    pytest.param("journal", 3, altered(seq=2), "entry 2 stands in the place of", id="order"),
    pytest.param("journal", 3, altered(kind="sheet-lost"), "no kind of entry", id="kind"),
    pytest.param("journal", 3, altered(body={}), "no body of", id="body"),
    pytest.param("journal", 3, altered(who=None), "who is null", id="null"),
    pytest.param("journal", 3, altered(seq=True), "seq is true", id="yes for a number"),
    pytest.param("journal", 3, altered(who=...), "an entry has about, at", id="missing"),
    pytest.param("journal", 3, lambda line: b" " + line, "not in the form", id="a space"),
    pytest.param("journal", 3, lambda line: line[:40] + b"\n", "no JSON object", id="half"),
    pytest.param("journal", 3, lambda _: b"[" * 100_000 + b"\n", "no JSON object", id="deep"),
    pytest.param(
        *("journal", 3, altered(supersedes=f"01890000-0000-7000-8000-{BAD}")),
        *("no entry before it",),
        id="supersedes nothing",
    ),
    pytest.param("identity", 1, altered(salt="00"), "salt is", id="salt"),
    pytest.param("identity", 1, altered(name=None), "name is null", id="no name"),
    pytest.param("identity", 1, altered(ref=f"p-{'0' * 32}"), "is nobody of whom", id="nobody"),
    pytest.param("identity", 1, altered(nickname="x"), "look at nickname", id="unknown"),
    pytest.param("heads", 1, altered(size=900), "a head over 900 entries", id="head"),
    pytest.param("settled", 1, altered(held=9), "held 9 is nowhere in held", id="nowhere"),
    pytest.param("records", 1, altered(n="1"), 'n is "1"', id="text for a number"),
    pytest.param("meta", 1, altered(key="format"), "not said here", id="format"),
]


@pytest.mark.parametrize(("part", "number", "alter", "what"), BROKEN)
def test_a_broken_line_is_named_by_file_and_line(
    full: School, part: str, number: int, alter: Callable[[bytes], bytes], what: str
) -> None:
    lines = lines_of(full.book)
    lines[part][number - 1] = alter(lines[part][number - 1])

    told = [(p.place.file, p.place.line) for p in check(given(lines)).problems if what in p.what]
    assert told == [(f"{part}.jsonl", number)]


def test_two_people_have_not_one_slug(full: School) -> None:
    lines = lines_of(full.book)
    lines["identity"] = [altered(handle="ann")(line) for line in lines["identity"]]

    told = [(p.place.line, p.what) for p in check(given(lines)).problems]
    assert told == [(n, 'handle "ann" is there twice') for n in (2, 3, 4)]


def test_all_faults_are_told_at_once_and_nothing_is_written(full: School, tmp_path: Path) -> None:
    lines = lines_of(full.book)
    lines["journal"][1], lines["journal"][4] = b"{}\n", b"no\n"
    lines["heads"][0] = b"no\n"

    with pytest.raises(BadInput) as told:
        filled_from(lines, tmp_path / "again")
    places = [(p.place.file, p.place.line) for p in told.value.problems]
    assert {("journal.jsonl", 2), ("journal.jsonl", 5), ("heads.jsonl", 1)} <= set(places)
    with open_school(tmp_path / "again", create=False).book as again:
        assert again.size() == 0
        assert again.people() == ()


def test_a_fault_in_the_last_part_leaves_nothing_of_those_before(
    full: School, tmp_path: Path
) -> None:
    lines = lines_of(full.book)
    last = next(part for part in reversed(lines) if lines[part])
    lines[last][-1] = b"no\n"

    with pytest.raises(BadInput) as told:
        filled_from(lines, tmp_path / "again")
    assert [p.place.file for p in told.value.problems] == [f"{last}.jsonl"]
    with open_school(tmp_path / "again", create=False).book as again:
        assert [name for name, some in rows(again).items() if some] == ["meta"]


def test_nobody_reads_ten_thousand_faults(full: School) -> None:
    lines = lines_of(full.book)
    lines["journal"] = [b"no\n"] * 10_000

    assert len(check(given(lines)).problems) == MOST_PROBLEMS


def test_no_book_that_holds_something_is_filled(full: School) -> None:
    lines = lines_of(full.book)

    with pytest.raises(Refused, match="holds something"):
        fill(full.book.where, given(lines), bytes)
    assert full.book.audit().clean


def test_up_to_an_entry_it_is_the_book_as_it_was_then(full: School, tmp_path: Path) -> None:
    (tmp_path / "part").mkdir()
    part = open_school(tmp_path / "part")
    part.book.put_people(people(), part.stamp)
    part.keep_texts()
    lines, entries = lines_of(full.book), part.book.size()

    either: tuple[int | str, ...] = (entries, full.book.history()[entries - 1].id)
    for n, until in enumerate(either):
        with filled_from(lines, tmp_path / f"until{n}", until) as then:
            assert then.head(NOW).root == part.book.head(NOW).root
            assert rows(then) | {"meta": []} == rows(part.book) | {"meta": []}
    part.book.close()


def test_names_of_people_who_came_later_are_left_out(full: School, tmp_path: Path) -> None:
    with filled_from(lines_of(full.book), tmp_path / "again", 2) as then:
        assert len(then.people()) == then.size() == 2
        assert then.access.all() == ()
        assert then.heads() == ()
    found = check(given(lines_of(full.book)), 2)
    assert found.left_out["identity"] == 2
    assert found.left_out["heads"] == 1


def test_an_entry_that_is_not_there_is_not_reached(full: School) -> None:
    assert not check(given(lines_of(full.book)), full.book.size() + 1).limit.reached
    assert check(given(lines_of(full.book)), full.book.size()).limit.reached


def test_a_book_goes_from_a_file_into_postgresql_and_back(tmp_path: Path, cluster: Cluster) -> None:
    one = open_school(tmp_path)
    fill_everything(one)
    before = rows(one.book)
    there = cluster.address(KEEPER, cluster.new_database("founded"))

    with fill(there, given(lines_of(one.book)), bytes) as served:
        assert served.head(NOW).root == one.book.head(NOW).root
        assert served.audit().clean
        with filled_from(lines_of(served), tmp_path / "again") as again:
            after, between = rows(again), rows(served)
    one.book.close()
    for name in before.keys() - {table.name for table in LEFT_OUT}:
        assert after[name] == before[name] == between[name], name


@pytest.mark.of_the_file
def test_up_to_every_entry_there_is_a_sound_book(full: School, tmp_path: Path) -> None:
    lines, growing = lines_of(full.book), GrowingTree()

    for until, line in enumerate(lines["journal"], start=1):
        growing.extend((leaf_hash(line.rstrip(b"\n")),))
        with filled_from(lines, tmp_path / f"until-{until}", until) as then:
            audit = then.audit()
            assert (audit.size, audit.root) == (until, growing.root())
            assert audit.faults == []
