"""After somebody was erased everything else holds, and no copy gives the name back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, NAME, ON, RUBRIC, Run
from tests.cli.test_copies import files
from tests.schools import bytes_of_book

from standfast.cli.options import moment
from standfast.desk.opening import open_desk
from standfast.model import tree
from standfast.seal import locking

NUMBER = "LT1-2026-0001"
CONTACT = "ines.carvalho"


@pytest.fixture
def erased(
    today: None, scored: Path, standfast: Run, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """The school after an award, a backup, an export, and then an erasure."""
    del today
    monkeypatch.setattr(locking, "COST", 16)
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    assert typed("backup", "--out", "before.backup").code == 0
    assert standfast("export", "--out", "before").code == 0
    told = standfast("compare", "--rubric", RUBRIC, "--json")
    Path("compare-before.json").write_text(told.out, "utf-8")
    with open_desk(scored, moment(ON)) as desk:
        head, entries = desk.book.head(desk.moment.now), [e.id for e in desk.book.history()]
        kept = [(one.leaf, one.index, one.path) for one in desk.book.inclusions(entries)]
        receipts = [(leaf.hex(), index, [p.hex() for p in path]) for leaf, index, path in kept]
        told_of_it = {"size": head.size, "root": head.root.hex(), "receipts": receipts}
        Path("receipts.json").write_text(json.dumps(told_of_it))
    people = scored / "candidates" / "people.yaml"
    people.write_text("people: []\n", "utf-8")
    assert standfast("book", "forget", INES, "--yes").code == 0
    return scored


def test_tree_and_receipts_of_before_stay_good(erased: Path) -> None:
    kept = json.loads(Path("receipts.json").read_text())
    root = bytes.fromhex(kept["root"])
    with open_desk(erased, moment(ON)) as desk:
        audit = desk.book.audit()
        now = desk.book.head(desk.moment.now)
        proof = desk.book.consistency(kept["size"])

    assert audit.clean
    assert now.size == kept["size"] + 1
    assert tree.extends(root, kept["size"], now.root, now.size, proof)
    for leaf, index, path in kept["receipts"]:
        way = [bytes.fromhex(step) for step in path]
        assert tree.includes(root, kept["size"], bytes.fromhex(leaf), index, way)


def test_statistics_say_what_they_said(erased: Path, standfast: Run) -> None:
    del erased
    before = json.loads(Path("compare-before.json").read_text("utf-8"))
    after = standfast("compare", "--rubric", RUBRIC, "--json").json

    assert after == before


def test_copies_of_the_book_are_made_and_come_back_without_the_name(
    erased: Path, standfast: Run, typed: Run
) -> None:
    assert standfast("export", "--out", "after").code == 0
    assert typed("backup", "--out", "after.backup").code == 0
    assert standfast("book", "restore", "after", "--into", "one").code == 0
    assert typed("book", "restore", "after.backup", "--into", "two").code == 0

    for folder in (erased / "after", erased / "one", erased / "two"):
        assert NAME.encode() not in b"".join(path.read_bytes() for path in files(folder))
    for school in ("one", "two"):
        assert standfast("book", "audit", "--school", school).code == 0
        assert "erased person" in standfast("standing", NUMBER, "--on", ON, "--school", school).out


@pytest.mark.parametrize(
    "place",
    [
        ".",
        pytest.param("standfast.db", marks=pytest.mark.of_the_file(why="it names the file")),
        *("erased.txt", "after", "after.backup"),
    ],
    ids=str,
)
def test_an_older_copy_erases_again_whoever_was_erased_since(
    erased: Path, standfast: Run, typed: Run, place: str
) -> None:
    assert standfast("export", "--out", "after").code == 0
    assert typed("backup", "--out", "after.backup").code == 0
    args = ("--into", "again", "--forget-as-in", place, "--json")
    made = typed("book", "restore", "before.backup", *args)
    ref = (erased / "erased.txt").read_text("utf-8").split()[0]

    assert made.code == 0, made.err
    assert made.json["forgotten"] == [ref]
    assert NAME.encode() not in bytes_of_book(erased / "again")
    assert CONTACT.encode() not in bytes_of_book(erased / "again")
    assert standfast("book", "audit", "--school", "again").code == 0
    assert (erased / "again" / "erased.txt").read_text("utf-8").split() == [ref]


def test_from_an_export_it_erases_again_by_a_later_backup(
    erased: Path, standfast: Run, typed: Run
) -> None:
    del erased
    assert typed("backup", "--out", "after.backup").code == 0
    args = ("--into", "again", "--forget-as-in", "after.backup", "--json")
    made = typed("book", "restore", "before", *args)

    assert made.code == 0, made.err
    assert len(made.json["forgotten"]) == 1


def test_without_being_told_the_name_is_there_and_it_says_so(erased: Path, standfast: Run) -> None:
    ran = standfast("book", "restore", "before", "--into", "again")

    assert "--forget-as-in" in ran.out
    assert NAME.encode() in bytes_of_book(erased / "again")


@pytest.mark.of_the_file(why="its file is lost")
def test_a_lost_book_that_comes_back_erases_by_the_list_beside_it(
    erased: Path, typed: Run, standfast: Run
) -> None:
    for left in erased.glob("standfast.db*"):
        left.unlink()
    made = typed("book", "restore", "before.backup", "--into", ".", "--json")

    assert len(made.json["forgotten"]) == 1
    assert NAME.encode() not in bytes_of_book(erased)
    assert standfast("book", "audit").code == 0


@pytest.mark.of_the_file(why="its file is lost, twice")
def test_what_was_erased_again_by_another_list_is_in_the_school_s_own_from_then_on(
    erased: Path, typed: Run, standfast: Run
) -> None:
    (erased / "erased.txt").rename("kept.txt")
    for forget in (("--forget-as-in", "kept.txt"), ()):
        for left in erased.glob("standfast.db*"):
            left.unlink()
        made = typed("book", "restore", "before.backup", "--into", ".", *forget, "--json")

        assert len(made.json["forgotten"]) == 1
        assert NAME.encode() not in bytes_of_book(erased)
        assert len((erased / "erased.txt").read_text("utf-8").splitlines()) == 1
    assert standfast("book", "audit").code == 0


def test_the_list_names_nobody_and_a_broken_one_is_told(erased: Path, standfast: Run) -> None:
    text = (erased / "erased.txt").read_text("utf-8")
    assert NAME not in text
    assert INES not in text
    (erased / "erased.txt").write_text(f"{text}\nnobody\n", "utf-8")
    args = ("--into", "again", "--forget-as-in", "erased.txt")
    ran = standfast("book", "restore", "before", *args)

    assert (ran.code, "erased.txt:3" in ran.err) == (2, True)
    assert "'nobody' is no opaque id" in ran.err
    assert not (erased / "again").exists()
    assert standfast("book", "restore", "before", "--into", "x", "--forget-as-in", "y").code == 2
