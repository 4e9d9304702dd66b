"""Copies of the record book: everything is in them, nothing secret, and nothing half."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from errno import ENOSPC
from itertools import count
from pathlib import Path
from random import Random
from typing import Any

import pytest
from freezegun import freeze_time
from tests.cli.conftest import INES, MARIT, NAME, ON, PASSPHRASE, ROOT, RUBRIC, Ran, Run, audited
from tests.schools import copied, tables
from tests.store.cluster import KEEPER, OWNER, Cluster

from standfast.cli.options import moment
from standfast.desk import restoring
from standfast.desk.backups import backup
from standfast.desk.opening import open_desk, write_address
from standfast.files.copies import LARGEST_SCHOOL_FILE
from standfast.seal import locking

NOT_CARRIED = {"sessions", "failures"}
HELD = "LT1-2026-0001"


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stretching a passphrase takes half a second; here many are."""
    monkeypatch.setattr(locking, "COST", 16)


@pytest.fixture
def school(today: None, scored: Path, standfast: Run) -> Path:
    """The school with an award, inside its folder."""
    del today
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def same_books(one: Path, other: Path) -> None:
    before, after = tables(one), tables(other)
    assert before.keys() == after.keys()
    for name in before.keys() - NOT_CARRIED:
        assert before[name] == after[name], name
    assert before["awards"]


def test_a_backup_becomes_the_same_book(
    school: Path, standfast: Run, typed: Run, tmp_path: Path
) -> None:
    kept = typed("backup", "--out", tmp_path / "b.backup", "--json")
    made = typed("book", "restore", tmp_path / "b.backup", "--into", tmp_path / "again", "--json")
    audit = standfast("book", "audit", "--school", tmp_path / "again", "--json")

    same_books(school, tmp_path / "again")
    assert kept.json["read_back"] is True
    assert (made.code, audit.code) == (0, 0)
    assert kept.json["root"] == made.json["root"] == audit.json["root"]
    assert made.json["entries"] == kept.json["entries"] == audit.json["entries"] > 5
    for name in ("school.yaml", "rubrics/low-trapeze-1.yaml"):
        assert (tmp_path / "again" / name).read_bytes() == (school / name).read_bytes()
    assert HELD in standfast("standing", HELD, "--on", ON, "--school", tmp_path / "again").out


def test_an_export_becomes_the_same_book(school: Path, standfast: Run, tmp_path: Path) -> None:
    assert standfast("export", "--out", tmp_path / "open").code == 0
    assert standfast("book", "restore", tmp_path / "open", "--into", tmp_path / "again").code == 0

    same_books(school, tmp_path / "again")


def test_an_export_of_the_new_book_says_the_same(
    school: Path, standfast: Run, tmp_path: Path
) -> None:
    del school
    assert standfast("export", "--out", tmp_path / "one").code == 0
    assert standfast("book", "restore", tmp_path / "one", "--into", tmp_path / "again").code == 0
    assert standfast("export", "--school", tmp_path / "again", "--out", tmp_path / "two").code == 0

    one, two = (
        {f.relative_to(folder): f.read_bytes() for folder in [tmp_path / n] for f in files(folder)}
        for n in ("one", "two")
    )
    assert one == two


def files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def test_tables_hold_what_people_ask_for_and_no_formula(
    school: Path, standfast: Run, tmp_path: Path
) -> None:
    people = school / "candidates" / "people.yaml"
    people.write_text(people.read_text("utf-8").replace(NAME, '"=Ines(1)"'), "utf-8")
    assert standfast("people").code == 0
    assert standfast("export", "--out", tmp_path / "open").code == 0

    def table(name: str) -> list[dict[str, str]]:
        text = (tmp_path / "open" / "tables" / f"{name}.csv").read_text("utf-8-sig")
        return list(csv.DictReader(text.splitlines()))

    (award,) = table("awards")
    assert (award["certificate"], award["holder"], award["name"]) == (HELD, INES, "'=Ines(1)")
    assert award["standing"] == "current"
    assert "rigger" in award["caution"]
    assert len(table("practicals")) == 3
    assert [row["outcome"] for row in table("decisions")] == ["pass"]
    assert {row["document"] for row in table("documents")} >= {"first-aid", "insurance"}
    about = (tmp_path / "open" / "about.txt").read_text("utf-8")
    assert "student stays on the ground" in about


def test_records_are_printed_when_asked_for(school: Path, standfast: Run, tmp_path: Path) -> None:
    del school
    told = standfast("export", "--out", tmp_path / "open", "--records", "--json").json

    (record,) = (tmp_path / "open" / "records").iterdir()
    assert record.read_bytes().startswith(b"%PDF")
    assert str(record) in told["for_reading"]


def test_neither_keys_nor_passphrases_nor_people_files_are_in_it(
    keyed: Path, standfast: Run, typed: Run, tmp_path: Path
) -> None:
    for secret in (keyed / "keys").glob("*.pem"):
        shutil.copyfile(secret, keyed / "rubrics" / "left-here.txt")
    (keyed / "candidates" / "people.yaml").write_text("people: [] # Nobody Atall\n")
    assert standfast("export", "--out", tmp_path / "open").code == 0
    assert typed("backup", "--out", tmp_path / "b.backup").code == 0
    assert typed("book", "restore", tmp_path / "b.backup", "--into", tmp_path / "again").code == 0

    for folder in (tmp_path / "open", tmp_path / "again"):
        said = b"".join(path.read_bytes() for path in files(folder))
        for word in (b"PRIVATE KEY", PASSPHRASE.encode(), b"Nobody Atall", b"trust.json"):
            assert word not in said, word
    assert b"Carvalho" not in (tmp_path / "b.backup").read_bytes()
    assert (tmp_path / "b.backup").stat().st_mode & 0o077 == 0
    assert (tmp_path / "open").stat().st_mode & 0o077 == 0


def test_another_passphrase_is_one_clear_line(school: Path, typed: Run, tmp_path: Path) -> None:
    assert typed("backup", "--out", "b.backup").code == 0
    ran = typed(
        "book", "restore", "b.backup", "--into", tmp_path / "again", words="four plain words"
    )

    assert ran.code == 2
    assert ran.err.count("\n") == 1
    assert "does not open the backup" in ran.err
    assert left_behind(tmp_path, school) == []


def left_behind(folder: Path, *but: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path not in but)


def test_a_changed_or_cut_backup_leaves_nothing_behind(
    school: Path, typed: Run, tmp_path: Path
) -> None:
    (school / "templates" / "picture.png").write_bytes(Random(1).randbytes(200_000))
    assert typed("backup", "--out", "b.backup").code == 0
    whole = Path("b.backup").read_bytes()
    pieces = locking.PIECE + locking.TAG
    assert len(whole) > 3 * pieces
    cuts = {0, 1, 18, 19, 74, 75, 74 + pieces, len(whole) - 1, len(whole) // 2}
    flips = range(0, len(whole), len(whole) // 40)
    broken = [whole[:at] for at in cuts]
    broken += [whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :] for at in flips]
    broken += [whole + b"\0", whole[:74] + whole[74 + pieces :]]

    for content in broken:
        Path("broken.backup").write_bytes(content)
        ran = typed("book", "restore", "broken.backup", "--into", tmp_path / "again")
        assert ran.code == 2
        assert "broken.backup: " in ran.err or "does not open the backup" in ran.err
        assert "Traceback" not in ran.err
    assert left_behind(tmp_path, school) == []


def test_a_later_format_is_refused(school: Path, standfast: Run, tmp_path: Path) -> None:
    for name, key in (("format", "format"), ("book", "book_format")):
        out = tmp_path / name
        assert standfast("export", "--out", out).code == 0
        told = json.loads((out / "manifest.json").read_text("utf-8"))
        (out / "manifest.json").write_text(json.dumps({**told, key: told[key] + 1}))
        ran = standfast("book", "restore", out, "--into", tmp_path / "again")

        assert ran.code == 2
        assert "a later version of standfast wrote this copy" in ran.err
    assert left_behind(tmp_path, school, tmp_path / "format", tmp_path / "book") == []


def edit(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), "utf-8")


def test_all_faults_of_an_export_are_told_at_once(
    school: Path, standfast: Run, tmp_path: Path
) -> None:
    out = tmp_path / "open"
    assert standfast("export", "--out", out).code == 0
    lines = (out / "book" / "journal.jsonl").read_text("utf-8").splitlines(keepends=True)
    lines[3], lines[4] = lines[4], lines[3]
    (out / "book" / "journal.jsonl").write_text("".join(lines), "utf-8")
    edit(out / "book" / "identity.jsonl", '"name":"', '"Name":"')
    (out / "book" / "heads.jsonl").unlink()
    edit(out / "school" / "school.yaml", "zone", "Zone")
    ran = standfast("book", "restore", out, "--into", tmp_path / "again", "--json")

    told = [(Path(p["file"]).name, p["line"], p["what"]) for p in ran.json["problems"]]
    assert ran.code == 2
    assert ("journal.jsonl", 4, "entry 5 stands in the place of entry 4") in told
    assert any(name == "identity.jsonl" and line == 2 for name, line, _ in told)
    assert any(name == "heads.jsonl" and "no such file" in what for name, _, what in told)
    assert any(name == "school.yaml" and "SHA-256" in what for name, _, what in told)
    assert any(name == "manifest.json" and "the journal has" in what for name, _, what in told)
    assert left_behind(tmp_path, school, out) == []


@pytest.mark.parametrize(
    "name",
    ["school/../../evil.yaml", "/evil", "school/.hidden", "elsewhere/x", "school\\x", "school//x"],
)
def test_no_name_leads_out_of_the_folder(
    school: Path, standfast: Run, tmp_path: Path, name: str
) -> None:
    out = tmp_path / "open"
    assert standfast("export", "--out", out).code == 0
    told: dict[str, Any] = json.loads((out / "manifest.json").read_text("utf-8"))
    told["files"][-1]["name"] = name
    (out / "manifest.json").write_text(json.dumps(told))
    ran = standfast("book", "restore", out, "--into", tmp_path / "again")

    assert ran.code == 2
    assert "is no name of a file in a copy" in ran.err
    assert left_behind(tmp_path, school, out) == []


@pytest.mark.of_the_file(why="it names the file")
def test_nothing_is_overwritten(school: Path, standfast: Run, typed: Run, tmp_path: Path) -> None:
    assert typed("backup", "--out", "b.backup").code == 0
    before = tables(school)
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("mine")

    again = typed("backup", "--out", "b.backup")
    assert (again.code, "is there already" in again.err) == (1, True)
    over = typed("book", "restore", "b.backup", "--into", school)
    assert (over.code, "none is ever overwritten" in over.err) == (1, True)
    other = typed("book", "restore", "b.backup", "--into", tmp_path / "mine")
    assert (other.code, "holds something already" in other.err) == (2, True)
    out = standfast("export", "--out", tmp_path / "mine")
    assert (out.code, "holds something already" in out.err) == (2, True)
    assert tables(school) == before
    assert left_behind(tmp_path / "mine") == ["notes.txt"]


@pytest.mark.of_the_file(why="its file is lost")
def test_a_lost_book_comes_back_into_its_school(
    keyed: Path, standfast: Run, typed: Run, tmp_path: Path
) -> None:
    assert typed("backup", "--out", "b.backup").code == 0
    copied(keyed, tmp_path / "before")
    mine = {path: path.read_bytes() for path in files(keyed) if "standfast.db" not in path.name}
    (keyed / "standfast.db").write_bytes(b"")
    half = typed("book", "restore", "b.backup", "--into", ".")
    assert (half.code, "put standfast.db elsewhere" in half.err) == (1, True)

    for left in keyed.glob("standfast.db*"):
        left.unlink()
    assert typed("book", "restore", "b.backup", "--into", ".").code == 0
    same_books(tmp_path / "before", keyed)
    assert {p: p.read_bytes() for p in files(keyed) if "standfast.db" not in p.name} == mine
    assert standfast("book", "audit").code == 0
    assert typed("sign", HELD, "--out", "signed").code == 0


def test_a_folder_gives_each_backup_its_name(school: Path, typed: Run) -> None:
    (school / "kept").mkdir()
    assert typed("backup", "--out", "kept").code == 0

    assert [path.name for path in (school / "kept").iterdir()] == [
        "sandhof-20261124T100000Z.backup"
    ]


def test_a_short_passphrase_makes_no_backup(school: Path, typed: Run) -> None:
    before = left_behind(school)
    ran = typed("backup", "--out", "b.backup", words="short")

    assert (ran.code, "12 characters or more" in ran.err) == (2, True)
    assert left_behind(school) == before


@pytest.mark.of_the_file(why="its file is changed aside of us")
def test_a_damaged_book_is_not_copied(school: Path, standfast: Run, typed: Run) -> None:
    with sqlite3.connect(school / "standfast.db") as book:
        book.execute("DROP TRIGGER journal_is_never_changed")
        book.execute("UPDATE journal SET at = '2020-01-01T00:00:00.000Z' WHERE seq = 3")
    book.close()

    for ran in (standfast("export", "--out", "open"), typed("backup", "--out", "b.backup")):
        assert ran.code == 2
        assert "the journal is damaged" in ran.err
    assert not {"open", "b.backup"} & set(left_behind(school))


def renamed_and_exported(school: Path, standfast: Run, out: Path) -> int:
    """How many entries there were before one more came, a new name, that is in the files too."""
    entries: int = standfast("book", "audit", "--json").json["entries"]
    people = school / "candidates" / "people.yaml"
    people.write_text(people.read_text("utf-8").replace(NAME, "Inês Teles"), "utf-8")
    assert standfast("people").code == 0
    assert standfast("export", "--out", out).code == 0
    return entries


def test_up_to_an_entry_names_are_those_of_the_copy(
    school: Path, standfast: Run, tmp_path: Path
) -> None:
    entries = renamed_and_exported(school, standfast, tmp_path / "open")
    args = (
        "book",
        "restore",
        tmp_path / "open",
        "--into",
        tmp_path / "then",
        "--until",
        entries,
        "--json",
    )
    made = standfast(*args).json
    audit = standfast("book", "audit", "--school", tmp_path / "then")

    assert made["left_out"] == {"journal": 1}
    assert (made["entered"], made["entries"], made["faults"]) == (1, entries + 1, [])
    assert audit.code == 0
    assert (
        "Inês Teles" in standfast("standing", INES, "--school", tmp_path / "then", "--on", ON).out
    )


def test_up_to_any_entry_the_book_is_sound_and_what_is_left_out_is_said(
    school: Path, standfast: Run, tmp_path: Path
) -> None:
    """Also between people who were entered together and name each other."""
    del school
    assert standfast("export", "--out", tmp_path / "open").code == 0
    entries = standfast("book", "audit", "--json").json["entries"]
    for until in range(1, entries):
        then = tmp_path / f"until-{until}"
        told = standfast("book", "restore", tmp_path / "open", "--into", then, "--until", until)

        assert told.code == 0, (until, told.err)
        assert f"left out as later: {entries - until} entr" in told.out
        assert standfast("book", "audit", "--school", then).code == 0, until


def test_an_entry_that_is_not_there_is_told(school: Path, standfast: Run, tmp_path: Path) -> None:
    assert standfast("export", "--out", tmp_path / "open").code == 0
    for until in ("0", "9999", "9" * 5000, "no-such-entry"):
        args = ("--into", tmp_path / "then", "--until", until)
        ran = standfast("book", "restore", tmp_path / "open", *args)

        assert (ran.code, "is in the copy; it has" in ran.err) == (2, True)
    assert left_behind(tmp_path, school, tmp_path / "open") == []


def test_a_copy_that_is_not_there_is_told_before_anything_is_asked(
    school: Path, standfast: Run, tmp_path: Path
) -> None:
    ran = standfast("book", "restore", "nowhere.backup", "--into", tmp_path / "then")

    assert (ran.code, "there is no such file or folder" in ran.err) == (2, True)
    assert left_behind(tmp_path, school) == []


@pytest.mark.parametrize("blocks", [1, 6])  # before the journal, and in the midst of it
def test_a_full_disk_leaves_neither_backup_nor_half_of_one(
    school: Path,
    typed: Run,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    blocks: int,
) -> None:
    before = left_behind(school)
    write, calls = locking.Locked.write, count()

    def full(self: locking.Locked, content: bytes) -> int:
        if next(calls) > blocks:
            raise OSError(ENOSPC, "No space left on device")
        return write(self, content)

    monkeypatch.setattr(locking.Locked, "write", full)
    ran = typed("backup", "--out", "b.backup")

    assert (ran.code, "No space left" in ran.err) == (2, True)
    assert left_behind(school) == before
    assert caplog.records == []  # nothing was asked of a transaction that is over


def test_of_two_backups_into_one_file_the_second_is_refused(school: Path, typed: Run) -> None:
    second: list[Ran] = []

    def meanwhile(done: int, of: int) -> None:
        if done == of and not second:
            second.append(typed("backup", "--out", "b.backup"))

    with open_desk(school, moment()) as desk:
        backup(desk, Path("b.backup"), PASSPHRASE, progress=meanwhile)

    assert [one.code for one in second] == [2]
    assert "b.backup-unfinished: a run that was stopped" in second[0].err
    assert "unless another is at work there now" in second[0].err
    assert typed("book", "restore", "b.backup", "--into", "again").code == 0
    assert list(Path().glob("*-unfinished")) == []


def test_what_others_enter_meanwhile_is_in_the_next_backup(
    school: Path, standfast: Run, typed: Run
) -> None:
    people = school / "candidates" / "people.yaml"
    people.write_text(people.read_text("utf-8").replace(NAME, "Inês Teles"), "utf-8")
    entered: list[int] = []

    def meanwhile(done: int, of: int) -> None:
        if done == of and not entered:
            entered.append(standfast("people").code)

    with open_desk(school, moment()) as desk:
        kept = backup(desk, Path("b.backup"), PASSPHRASE, progress=meanwhile)
        assert entered == [0]
        assert desk.book.size() == kept.manifest.entries + 1
    made = typed("book", "restore", "b.backup", "--into", "again", "--json").json
    assert made["root"] == kept.manifest.root
    assert (made["entries"], made["faults"]) == (kept.manifest.entries, [])
    after = typed("backup", "--out", "c.backup", "--json").json
    assert after["entries"] == made["entries"] + 1


@pytest.mark.parametrize(
    ("name", "size", "what"),
    [
        pytest.param("a:b.html", 1, "leave colons", id="a colon"),
        pytest.param(
            "large.png", LARGEST_SCHOOL_FILE + 1, "are the most in a copy", id="too large"
        ),
    ],
)
def test_a_file_that_could_not_come_back_is_told(
    school: Path, standfast: Run, tmp_path: Path, name: str, size: int, what: str
) -> None:
    (school / "templates" / name).write_bytes(b"x" * size)
    ran = standfast("export", "--out", tmp_path / "open")

    assert (ran.code, what in ran.err) == (2, True)
    assert name in ran.err
    assert left_behind(tmp_path, school) == []


def test_the_largest_file_that_may_be_in_it_comes_back(
    school: Path, standfast: Run, tmp_path: Path
) -> None:
    (school / "templates" / "large.png").write_bytes(b"x" * LARGEST_SCHOOL_FILE)
    assert standfast("export", "--out", tmp_path / "open").code == 0

    assert standfast("book", "restore", tmp_path / "open", "--into", tmp_path / "again").code == 0
    large = tmp_path / "again" / "templates" / "large.png"
    assert large.stat().st_size == LARGEST_SCHOOL_FILE


def at(cluster: Cluster) -> tuple[str, str, str, str]:
    """The options that put a book into a fresh database."""
    return "--at", cluster.address(OWNER, cluster.new_database()), "--role", KEEPER


@pytest.mark.of_the_file(why="it begins in a file")
def test_a_copy_comes_back_from_either_kind_of_database_into_either(
    school: Path, standfast: Run, typed: Run, cluster: Cluster
) -> None:
    of_file = typed("backup", "--out", "file.backup", "--json").json
    shutil.copytree(school, "before")
    address = cluster.address(OWNER, cluster.new_database())
    assert standfast("book", "move", address, "--role", KEEPER).code == 0
    (school / "standfast.db-moved").unlink()
    of_server = typed("backup", "--out", "server.backup", "--json").json
    assert of_server["root"] == of_file["root"]

    for name in ("file.backup", "server.backup"):
        into = f"{name}-server"
        made = typed("book", "restore", name, "--into", into, *at(cluster), "--json")
        assert made.code == 0, made.err
        assert made.json["root"] == of_file["root"]
        assert not list(Path(into).glob("standfast.db*"))
        audit = standfast("book", "audit", "--school", into, "--json")
        assert (audit.code, audit.json["root"]) == (0, of_file["root"])
        assert typed("backup", "--out", f"{into}.backup", "--school", into).code == 0
        assert typed("book", "restore", f"{into}.backup", "--into", f"{into}-file").code == 0
        same_books(school / "before", Path(f"{into}-file"))
    assert typed("book", "restore", "server.backup", "--into", "again").code == 0
    same_books(school / "before", Path("again"))


@pytest.mark.of_the_file(why="it begins in a file")
def test_a_book_that_its_database_lost_comes_back_to_the_same_address(
    school: Path, standfast: Run, typed: Run, cluster: Cluster
) -> None:
    database = cluster.new_database()
    owner = cluster.address(OWNER, database)
    there = ("--at", owner, "--role", KEEPER)
    assert standfast("book", "move", owner, "--role", KEEPER).code == 0
    assert typed("backup", "--out", "b.backup").code == 0
    (school / "standfast.db-moved").unlink()
    says = (school / "standfast.url").read_text("utf-8")
    as_typed = says.replace("postgresql+psycopg://", "postgresql://")
    (school / "standfast.url").write_text(as_typed, "utf-8")
    still_there = typed("book", "restore", "b.backup", "--into", school, *there)
    elsewhere = typed("book", "restore", "b.backup", "--into", school, *at(cluster))
    cluster.do(f"DROP DATABASE {database} WITH (FORCE)")
    cluster.do(f"CREATE DATABASE {database} TEMPLATE template1 OWNER {OWNER}")
    as_a_file = typed("book", "restore", "b.backup", "--into", school)
    made = typed("book", "restore", "b.backup", "--into", school, *there)

    assert (still_there.code, "holds something" in still_there.err) == (1, True)
    assert (elsewhere.code, "names another place" in elsewhere.err) == (1, True)
    assert (as_a_file.code, "bring it back there with --at" in as_a_file.err) == (1, True)
    assert made.code == 0, made.err
    assert (school / "standfast.url").read_text("utf-8") == says
    assert HELD in standfast("standing", HELD, "--on", ON).out


def test_into_a_database_it_goes_up_to_an_entry_and_erases_again_too(
    school: Path, standfast: Run, typed: Run, cluster: Cluster
) -> None:
    assert typed("backup", "--out", "b.backup").code == 0
    assert standfast("book", "forget", INES, "--yes").code == 0
    erased = ("--forget-as-in", school / "erased.txt")
    entries = standfast("book", "audit", "--json").json["entries"]
    until = typed(
        *("book", "restore", "b.backup", "--into", "part", "--until", str(entries - 3)),
        *(*at(cluster), *erased, "--json"),
    )

    assert until.code == 0, until.err
    assert len(until.json["forgotten"]) == 1
    assert standfast("history", INES, "--school", "part").code == 2
    assert standfast("book", "audit", "--school", "part").code == 0


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        pytest.param({"--role": "who"}, "no role 'who'", id="no such role"),
        pytest.param({"--role": "super"}, "could change", id="a superuser"),
        pytest.param({"--at": "mysql://a/b"}, "no driver known", id="another server"),
        pytest.param({"--at": None}, "both", id="no address"),
    ],
)
def test_what_stops_it_leaves_neither_a_folder_nor_a_row(
    school: Path,
    typed: Run,
    tmp_path: Path,
    cluster: Cluster,
    changed: dict[str, str | None],
    said: str,
) -> None:
    database = cluster.new_database()
    assert typed("backup", "--out", "b.backup").code == 0
    options = {"--at": cluster.address(OWNER, database), "--role": KEEPER, **changed}
    words = [word for pair in options.items() if pair[1] for word in pair]
    ran = typed("book", "restore", "b.backup", "--into", tmp_path / "again", *words)

    assert (ran.code, said in ran.err) == (2, True), ran.err
    assert left_behind(tmp_path, school) == []
    with cluster.connect("super", database) as server:
        assert server.execute("SELECT to_regclass('journal')").fetchone() == (None,)


def test_a_copy_that_turns_out_bad_at_the_end_leaves_no_row_in_the_database(
    school: Path, standfast: Run, tmp_path: Path, cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    database = cluster.new_database()
    assert standfast("export", "--out", "open").code == 0

    def full(*_: object) -> None:
        raise OSError(ENOSPC, "No space left on device")

    monkeypatch.setattr("standfast.desk.restoring.write_address", full)
    words = ("--at", cluster.address(OWNER, database), "--role", KEEPER)
    ran = standfast("book", "restore", "open", "--into", tmp_path / "again", *words)

    assert (ran.code, "No space left" in ran.err) == (2, True), ran.err
    assert left_behind(tmp_path, school) == []
    with cluster.connect("super", database) as server:
        assert server.execute("SELECT to_regclass('journal')").fetchone() == (None,)


@pytest.fixture
def bookless(school: Path, standfast: Run, tmp_path: Path) -> Path:
    """The school's folder without its record book, an export of which is in `open` beside it."""
    assert standfast("export", "--out", tmp_path / "open").code == 0
    lost = Path(shutil.copytree(school, tmp_path / "lost"))
    for file in (*lost.glob("standfast.db*"), *lost.glob("standfast.url")):
        file.unlink()
    return lost


REFUSES_AT_THE_END = """
CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql
AS $$BEGIN RAISE EXCEPTION 'not today'; END$$;
CREATE CONSTRAINT TRIGGER refuse AFTER INSERT ON journal DEFERRABLE INITIALLY DEFERRED
FOR EACH ROW EXECUTE FUNCTION refuse()
"""


@pytest.mark.parametrize("into", ["lost", "again"])
def test_a_commit_that_the_server_refuses_leaves_no_address(
    bookless: Path, standfast: Run, tmp_path: Path, cluster: Cluster, into: str
) -> None:
    database = cluster.new_database("founded")
    cluster.do(REFUSES_AT_THE_END, database)
    before = sorted(files(bookless))
    there = ("--at", cluster.address(OWNER, database), "--role", KEEPER)
    ran = standfast("book", "restore", tmp_path / "open", "--into", tmp_path / into, *there)

    assert (ran.code, "not today; nothing of this was kept" in ran.err) == (2, True), ran.err
    assert sorted(files(bookless)) == before
    assert not (tmp_path / "again").exists()
    assert not (tmp_path / "again-unfinished").exists()
    assert standfast("due", "--school", bookless).code == 2
    with cluster.connect("super", database) as server:
        assert server.execute("SELECT count(*) FROM journal").fetchone() == (0,)


@pytest.mark.parametrize("into", ["lost", "again"])
def test_where_the_server_goes_away_at_the_end_the_same_again_tells(
    bookless: Path,
    standfast: Run,
    tmp_path: Path,
    cluster: Cluster,
    monkeypatch: pytest.MonkeyPatch,
    into: str,
) -> None:
    database = cluster.new_database("founded")

    def gone_after(root: Path, address: str, name: str) -> None:
        write_address(root, address, name)
        cluster.let_go(database)

    there = ("--at", cluster.address(OWNER, database), "--role", KEEPER)
    words = ("book", "restore", tmp_path / "open", "--into", tmp_path / into, *there)
    with monkeypatch.context() as patched:
        patched.setattr(restoring, "write_address", gone_after)
        ran = standfast(*words)
    assert (ran.code, "it may be there or not" in ran.err) == (2, True), ran.err
    if into == "lost":
        told, as_a_file = standfast("due", "--school", bookless), standfast(*words[:5])
        moved = standfast("book", "move", *there[1:], "--school", bookless)
        for one in (told, moved):
            assert (one.code, "was stopped half way" in one.err) == (2, True)
            assert "type the same 'standfast book restore' again, which ends it" in one.err
        assert (as_a_file.code, "standfast.url-unfinished" in as_a_file.err) == (1, True)
    again = standfast(*words)

    assert again.code == 0, again.err
    assert "it was there already" not in again.out
    assert standfast("book", "audit", "--school", tmp_path / into).code == 0


STOPS = range(13)
"""Before and after each step, as `tests/cli/stopped.py` counts them; in the end there is none."""


@pytest.mark.parametrize("into", ["lost", "again"])
@pytest.mark.parametrize("at", STOPS)
def test_a_restoring_that_is_killed_is_told_and_the_same_again_ends_it(
    bookless: Path, standfast: Run, tmp_path: Path, cluster: Cluster, into: str, at: int
) -> None:
    before = audited(standfast)
    place, half = tmp_path / into, tmp_path / f"{into}-unfinished"
    there = ("--at", cluster.address(OWNER, cluster.new_database()), "--role", KEEPER)
    words = ("book", "restore", str(tmp_path / "open"), "--into", str(place), *there)
    child = [sys.executable, "-m", "tests.cli.stopped", str(at), *words]
    done = subprocess.run(child, check=False, capture_output=True, env=from_here())
    assert done.returncode in {0, -signal.SIGKILL}, done.stderr
    killed = done.returncode != 0
    assert killed or at > 8
    if half.exists():
        told = standfast(*words)
        assert told.code == 2
        if (half / "standfast.url-unfinished").exists():
            assert f"name it {into} and do this again, which ends it" in told.err
            half.rename(place)
        else:
            assert "delete it, and do this again" in told.err
            shutil.rmtree(half)
    if (place / "standfast.url-unfinished").exists():
        told = standfast("due", "--school", place)
        assert (told.code, "'standfast book restore' again" in told.err) == (2, True)
    if not (place / "standfast.url").exists():
        assert killed
        again = standfast(*words)
        assert again.code == 0, again.err

    assert audited(standfast, place) == before
    assert [one.name for one in files(place) if "unfinished" in one.name] == []


def from_here() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT)}


def test_what_was_erased_by_a_restoring_that_was_killed_is_told_by_the_next(
    bookless: Path, standfast: Run, tmp_path: Path, cluster: Cluster
) -> None:
    assert standfast("book", "forget", INES, "--yes").code == 0
    (ref,) = Path("erased.txt").read_text("utf-8").split()[:1]
    there = ("--at", cluster.address(OWNER, cluster.new_database()), "--role", KEEPER)
    since = ("--forget-as-in", "erased.txt")
    words = ("book", "restore", str(tmp_path / "open"), "--into", str(bookless), *there, *since)
    killed = (
        "import os, sys; import standfast.desk.restoring as m;"
        "m.address_holds = lambda *_: os.kill(0, 9);"
        "from standfast.cli.app import run; run(sys.argv[1:])"
    )
    subprocess.run([sys.executable, "-c", killed, *words], start_new_session=True, check=False)
    (bookless / "erased.txt").unlink()
    made = standfast(*words, "--json")

    assert made.code == 0, made.err
    assert (made.json["forgotten"], made.json["there_already"]) == ([ref], True)
    assert (bookless / "erased.txt").read_text("utf-8").split() == [ref]
    assert standfast("history", INES, "--school", bookless).code == 2


def test_where_the_folder_of_a_restoring_that_was_killed_is_deleted_the_same_again_makes_it(
    school: Path, standfast: Run, tmp_path: Path, cluster: Cluster
) -> None:
    """Up to an entry, so that the book has one more: a name as it is in the copy."""
    entries = renamed_and_exported(school, standfast, tmp_path / "open")
    there = ("--at", cluster.address(OWNER, cluster.new_database()), "--role", KEEPER)
    words = ("book", "restore", str(tmp_path / "open"), "--until", str(entries), *there, "--into")
    killed = (
        "import os, sys; import standfast.desk.restoring as m;"
        "m._note = lambda *_: os.kill(0, 9);"
        "from standfast.cli.app import run; run(sys.argv[1:])"
    )
    child = [sys.executable, "-c", killed, *words, str(tmp_path / "again")]
    subprocess.run(child, start_new_session=True, check=False)
    shutil.rmtree(tmp_path / "again-unfinished")
    otherwise = ("book", "restore", tmp_path / "open", *there, "--into", tmp_path / "again")
    told = standfast(*otherwise, "--until", "9")
    assert (told.code, "type that one again as it was" in told.err) == (1, True), told.err

    made = standfast(*words, tmp_path / "again", "--json")
    assert made.code == 0, made.err
    found = {name: made.json[name] for name in ("there_already", "entries", "entered")}
    assert found == {"there_already": True, "entries": entries + 1, "entered": 1}
    assert standfast("book", "audit", "--school", tmp_path / "again").code == 0

    ruling = ("--certifier", MARIT, "--because", "the insurer asked", "--on", ON)
    went_on = standfast("suspend", INES, *ruling, "--school", tmp_path / "again")
    assert went_on.code == 0, went_on.err
    other = standfast(*words, tmp_path / "other")
    assert (other.code, "holds something" in other.err) == (1, True), other.err


def test_another_book_in_that_place_is_not_taken_for_the_one_that_was_on_its_way(
    bookless: Path, standfast: Run, tmp_path: Path, cluster: Cluster
) -> None:
    address = cluster.address(OWNER, cluster.new_database())
    there = ("--at", address, "--role", KEEPER)
    words = ("book", "restore", tmp_path / "open", "--into")
    assert standfast(*words, tmp_path / "first", *there, "--until", "9").code == 0
    url = (tmp_path / "first" / "standfast.url").read_bytes()
    (bookless / "standfast.url-unfinished").write_bytes(url)
    other = standfast(*words, bookless, *there)
    elsewhere = standfast(*words, bookless, *at(cluster))

    assert (other.code, "holds something" in other.err) == (1, True), other.err
    assert (elsewhere.code, "names another place" in elsewhere.err) == (1, True), elsewhere.err
    assert (bookless / "standfast.url-unfinished").read_bytes() == url


@pytest.mark.parametrize("into", ["lost", "again"])
def test_no_password_of_the_owner_is_written_beside_a_book_that_came_back(
    bookless: Path, standfast: Run, tmp_path: Path, cluster: Cluster, into: str
) -> None:
    owner = cluster.address(OWNER, cluster.new_database())
    with_password = owner.replace(f"{OWNER}@", f"{OWNER}:hush-hush@")
    there = ("--at", with_password, "--role", KEEPER)
    ran = standfast("book", "restore", tmp_path / "open", "--into", tmp_path / into, *there)

    assert ran.code == 0, ran.err
    assert "hush-hush" not in ran.out + ran.err
    for file in files(tmp_path / into):
        assert b"hush-hush" not in file.read_bytes()
        assert b"***" not in file.read_bytes()


@pytest.mark.parametrize("copy", ["open", "b.backup"])
def test_a_copy_is_no_book_to_merge_and_it_is_said_how_it_becomes_one(
    school: Path, standfast: Run, typed: Run, copy: str
) -> None:
    del school
    assert standfast("export", "--out", "open").code == 0
    assert typed("backup", "--out", "b.backup").code == 0
    refused = standfast("book", "merge", copy)
    made = typed("book", "restore", copy, "--into", "again")

    assert (refused.code, f"'standfast book restore {copy} --into" in refused.err) == (2, True)
    assert made.out.endswith("next: standfast book audit --school again\n")


KILLS = [
    pytest.param("restoring", "_note", ("book", "restore", "open", "--into", "again"), id="folder"),
    pytest.param("restoring", "_forget", ("book", "restore", "open", "--into", "lost"), id="book"),
    pytest.param("tables", "write_tables", ("export", "--out", "again"), id="export"),
]


@pytest.mark.of_the_file(why="its file is lost")
@pytest.mark.parametrize(("module", "step", "words"), KILLS)
def test_a_kill_leaves_nothing_hidden_and_the_next_run_says_what_it_is(
    school: Path, standfast: Run, module: str, step: str, words: tuple[str, ...]
) -> None:
    assert standfast("export", "--out", "open").code == 0
    shutil.copytree(school, "../lost")
    Path("../lost").rename("lost")
    (school / "lost" / "standfast.db").unlink()
    killed = (
        f"import os; import standfast.desk.{module} as m; m.{step} = lambda *_: os.kill(0, 9);"
        "from standfast.cli.app import run; import sys; run(sys.argv[1:])"
    )
    done = subprocess.run(
        [sys.executable, "-c", killed, *words],
        start_new_session=True,
        check=False,
        capture_output=True,
    )
    hidden = list(school.rglob(".*"))
    left = [path.name for path in school.rglob("*-unfinished")]
    again = standfast(*words)
    for path in list(school.rglob("*-unfinished")):
        shutil.rmtree(path)

    assert done.returncode == -9, done.stderr
    assert hidden == []
    assert len(left) == 1
    assert (again.code, "left this half done, with names in it" in again.err) == (2, True)
    assert standfast(*words).code == 0


@pytest.mark.of_the_file(why="it begins in a file")
def test_a_name_is_erased_and_let_go_in_postgresql_too(
    school: Path, standfast: Run, cluster: Cluster
) -> None:
    address = cluster.address(OWNER, cluster.new_database())
    assert standfast("book", "move", address, "--role", KEEPER).code == 0
    with (school / "school.yaml").open("a", encoding="utf-8") as file:
        file.write("\nkeep: {names: P1M, held: P1M, sessions: P1D, failures: P1D, accounts: P1D}\n")
    with freeze_time("2036-01-01 10:00:00", ignore=["pydantic"]):
        gone = standfast("book", "retention", "--do-it", "--clock-is-right", "--json")
    out = standfast("book", "person-data", MARIT, "--out", "hers")

    assert gone.code == 0, gone.err
    assert INES in [one["what"] for one in gone.json["leaving"]]
    assert (out.code, "no person in the record book" in out.err) == (2, True)
    assert standfast("book", "audit").code == 0
