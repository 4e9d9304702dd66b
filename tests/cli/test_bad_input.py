"""What may go wrong around a command: each says what and the cure, and nothing is lost."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.cli.conftest import INES, ON, RUBRIC, SHEETS, Ran, Run, sheet

from standfast.cli.app import run


def entries(standfast: Run) -> int:
    audit = standfast("book", "audit", "--json")
    assert audit.code == 0, audit.out
    return int(audit.json["entries"])


def apart(*arguments: object, before: Callable[[], None] | None = None) -> Ran:
    """Runs a command in a process of its own; `before` runs in it first."""
    done = subprocess.run(
        [sys.executable, "-m", "standfast", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
        preexec_fn=before,
    )
    return Ran(done.returncode, done.stdout, done.stderr)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("", "sheet.yaml", id="empty"),
        pytest.param("\x00\x01\x02binary", "sheet.yaml", id="binary"),
        pytest.param("sheet: [" * 4000, "sheet.yaml", id="deeply nested"),
        pytest.param("a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n", "sheet.yaml", id="aliases"),
        pytest.param("sheet: x\nsheet: y\n", "sheet.yaml:2:1", id="a key twice"),
        pytest.param("people: []\n", "sheet.yaml", id="another kind of file"),
    ],
)
def test_a_file_that_is_no_sheet_is_refused_with_its_place(
    sandhof: Path, standfast: Run, text: str, said: str
) -> None:
    before = entries(standfast)
    Path("sheet.yaml").write_text(text, "utf-8")

    ran = standfast("score", "sheet.yaml")

    assert ran.code == 2
    assert ran.err.startswith(said)
    assert "Traceback" not in ran.err
    assert entries(standfast) == before


def test_a_huge_file_is_refused_at_once(sandhof: Path, standfast: Run) -> None:
    with Path("sheet.yaml").open("wb") as file:
        file.truncate(100 * 2**20)

    ran = standfast("score", "sheet.yaml")

    assert ran.code == 2
    assert "sheet.yaml" in ran.err


def test_every_contradiction_of_a_sheet_is_named_with_its_line(
    sandhof: Path, standfast: Run
) -> None:
    text = Path(sheet(SHEETS[0])).read_text("utf-8")
    text = text.replace("minutes: 55", "minutes: 20")
    text = text.replace('assessor: "hana-dvorakova"', 'assessor: "ruben-van-den-oetelaar"')
    text = text.replace("2026-10-13T", "2024-10-13T")
    Path("wrong.yaml").write_text(text, "utf-8")

    ran = standfast("score", "wrong.yaml")

    assert ran.code == 2
    lines = ran.err.splitlines()
    assert all(line.startswith("wrong.yaml:") for line in lines)
    assert any("ruben-van-den-oetelaar" in line for line in lines)
    assert sum("after" in line or "minutes" in line for line in lines) > 5


def wrong_names(school: Path) -> tuple[Path, set[int]]:
    """A sheet of that school with its rubric's version and two people wrong, and their lines."""
    text = Path(sheet(SHEETS[0])).read_text("utf-8")
    changes = {
        "rubric_version: 1": "rubric_version: 7",
        'candidate: "ines-carvalho-teles"': 'candidate: "ines-carvalho-tels"',
        'assessor: "hana-dvorakova"': 'assessor: "hanna-dvorakova"',
    }
    for right, wrong in changes.items():
        text = text.replace(right, wrong)
    file = school / "wrong.yaml"
    file.write_text(text, "utf-8")
    lines = text.splitlines()
    return file, {lines.index(wrong) + 1 for wrong in changes.values()}


@pytest.mark.parametrize("command", ["score", "check"])
def test_people_and_rubric_that_are_not_there_are_named_at_their_lines_all_at_once(
    sandhof: Path, standfast: Run, command: str
) -> None:
    file, lines = wrong_names(sandhof)

    ran = standfast(command, file, "--json")

    assert ran.code == (2 if command == "score" else 1)
    assert {problem["line"] for problem in ran.json["problems"]} == lines
    assert {problem["file"] for problem in ran.json["problems"]} == {str(file)}
    cures = " ".join(problem["cure"] for problem in ran.json["problems"])
    assert "did you mean 'ines-carvalho-teles'?" in cures
    assert "did you mean 'hana-dvorakova'?" in cures
    assert "known: 1;" in cures
    Path(file).write_text(Path(sheet(SHEETS[0])).read_text("utf-8"), "utf-8")
    assert not standfast("score", file, "--json").json["again"]


def test_nobody_is_called_unknown_while_the_file_of_people_cannot_be_read(
    sandhof: Path, standfast: Run
) -> None:
    shutil.copy(sheet(SHEETS[0]), "lesson.yaml")
    sound = standfast("check", "lesson.yaml")
    people = sandhof / "candidates" / "people.yaml"
    people.write_text(people.read_text("utf-8").replace("name:", "nmae:", 1), "utf-8")

    told = standfast("check", ".", "--json")

    assert sound.code == 0
    assert standfast("check", "lesson.yaml").code == 0
    assert {Path(problem["file"]).name for problem in told.json["problems"]} == {"people.yaml"}


def test_the_same_id_with_other_content_is_refused(scored: Path, standfast: Run) -> None:
    text = Path(sheet(SHEETS[0])).read_text("utf-8")
    Path("again.yaml").write_text(text.replace("minutes: 55", "minutes: 56"), "utf-8")
    before = entries(standfast)

    ran = standfast("score", "again.yaml")

    assert ran.code == 1
    assert entries(standfast) == before


def test_a_changed_rubric_without_a_higher_version_is_refused_with_the_difference(
    scored: Path, standfast: Run
) -> None:
    file = Path("rubrics/low-trapeze-1.yaml")
    text = file.read_text("utf-8")
    file.write_text(text.replace("Refuses a doubt and asks", "Sees a doubt and asks"), "utf-8")

    ran = standfast("score", sheet("lesson-2026-11-10-tendai"))

    assert ran.code == 1
    assert "Refuses a doubt and asks" in ran.err
    assert "Sees a doubt and asks" in ran.err
    assert "version" in ran.err
    file.write_text(text, "utf-8")
    assert standfast("score", sheet("lesson-2026-11-10-tendai")).code == 0


def test_a_rubric_of_a_new_version_leaves_old_sheets_under_the_old_one(
    scored: Path, standfast: Run
) -> None:
    file = Path("rubrics/low-trapeze-1.yaml")
    text = file.read_text("utf-8").replace("Refuses a doubt and asks", "Sees a doubt and asks")
    assert "version: 1\n" in text
    file.write_text(text.replace("version: 1\n", "version: 2\n", 1), "utf-8")

    decided = standfast("decide", INES, RUBRIC, "--on", ON, "--json").json["decision"]

    assert decided["rubric"]["version"] == 1
    assert decided["outcome"] == "pass"


def test_a_fault_in_one_rubric_does_not_stop_the_scoring_of_another(
    scored: Path, standfast: Run
) -> None:
    Path("rubrics/floor-tumbling-1.yaml").write_text("rubric: half written\n", "utf-8")

    assert standfast("score", sheet("lesson-2026-11-10-tendai")).code == 0
    tumbling = standfast("decide", INES, "floor-tumbling-1")

    assert tumbling.code == 2
    assert "rubrics/floor-tumbling-1.yaml:1:" in tumbling.err


def test_links_out_of_the_folder_are_not_followed(sandhof: Path, standfast: Run) -> None:
    outside = sandhof.parent / "outside.yaml"
    outside.write_text("people:\n  - person: eve\n    name: Eve\n", "utf-8")
    Path("candidates/more.yaml").symlink_to(outside)

    assert "eve" not in standfast("people", "--json").json["new"]


@pytest.mark.parametrize("name", ["../outside", "a/../../b", ".hidden", "a\x00b", "con|prn"])
def test_names_cannot_lead_out_of_a_folder(sandhof: Path, standfast: Run, name: str) -> None:
    text = Path(sheet(SHEETS[0])).read_text("utf-8")
    escaped = name.replace("\x00", "\\0")
    Path("sheet.yaml").write_text(
        text.replace('practical: "sandhof-2026-10-13"', f'practical: "{escaped}"')
    )

    ran = standfast("score", "sheet.yaml")

    assert ran.code == 2
    assert ran.err.startswith("sheet.yaml:")


@pytest.fixture
def nobody(scored: Path, standfast: Run) -> Iterator[Callable[..., Ran]]:
    """Runs a command in a child that may read the school and write nowhere.

    To root read-only means nothing, so the child of a root process becomes somebody else; what
    it needs to load was loaded before, as that somebody may not read the interpreter's folders.
    """
    standfast("score", sheet("lesson-2026-11-10-tendai"))
    standfast("print", "record", INES, "--out", "loaded")
    for path in (scored, *scored.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    closed = [p for p in scored.parents if not p.stat().st_mode & 0o001]
    for folder in closed:
        folder.chmod(folder.stat().st_mode | 0o011)

    def ran(*arguments: object) -> Ran:
        with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
            child = os.fork()
            if not child:
                os.dup2(out.fileno(), 1)
                os.dup2(err.fileno(), 2)
                if os.getuid() == 0:
                    os.setgroups([])
                    os.setgid(65534)
                    os.setuid(65534)
                sys.stdout, sys.stderr = os.fdopen(1, "w"), os.fdopen(2, "w")
                code = run([str(argument) for argument in arguments])
                sys.stdout.flush()
                sys.stderr.flush()
                os._exit(code)
            code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
            out.seek(0)
            err.seek(0)
            return Ran(code, out.read(), err.read())

    yield ran
    for folder in closed:
        folder.chmod(folder.stat().st_mode & ~0o011)
    for path in (scored, *(p for p in scored.rglob("*") if p.is_dir())):
        path.chmod(0o755)


@pytest.mark.of_the_file(why="what may be done with its file")
def test_a_read_only_folder_is_said(nobody: Callable[..., Ran], scored: Path) -> None:
    before = Path("standfast.db").read_bytes()

    ran = nobody("score", sheet(SHEETS[0]))

    assert ran.code == 2
    assert "standfast.db: the record book cannot be" in ran.err
    assert "check who may write this file and its folder" in ran.err
    assert Path("standfast.db").read_bytes() == before


def full() -> None:
    """No file of this process may grow past 16 kB, as on a disk with next to no room."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (16_384, 16_384))


@pytest.mark.of_the_file(why="a file that may not grow")
def test_a_full_disk_is_said_and_nothing_is_half_there(scored: Path, standfast: Run) -> None:
    before = entries(standfast)

    ran = apart("score", sheet("lesson-2026-11-10-tendai"), before=full)

    assert ran.code == 2
    assert "Traceback" not in ran.err
    assert "full" in ran.err or "written" in ran.err
    assert entries(standfast) == before
    assert standfast("score", sheet("lesson-2026-11-10-tendai")).code == 0


@pytest.mark.of_the_file(why="its file says its format")
def test_a_book_from_a_newer_standfast_is_left_alone(scored: Path, standfast: Run) -> None:
    book = sqlite3.connect("standfast.db")
    book.execute("update meta set value = value + 1 where key = 'format'")
    book.commit()
    book.close()

    ran = standfast("decide", INES, RUBRIC)

    assert ran.code == 2
    assert "a later version of standfast wrote this" in ran.err


@pytest.mark.of_the_file(why="a file that is none")
def test_a_file_that_is_no_book_is_named(sandhof: Path, standfast: Run) -> None:
    Path("standfast.db").write_bytes(b"this is a shopping list")

    ran = standfast("due")

    assert ran.code == 2
    assert "standfast.db" in ran.err
    assert Path("standfast.db").read_bytes() == b"this is a shopping list"


def test_two_people_who_score_at_once_both_succeed(sandhof: Path, standfast: Run) -> None:
    files = [sheet(name) for name in (*SHEETS, "lesson-2026-11-10-tendai")]
    running = [
        subprocess.Popen(
            [sys.executable, "-m", "standfast", "score", file],
            stderr=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
        )
        for file in files
    ]
    said = [process.communicate()[1] for process in running]

    assert [process.returncode for process in running] == [0] * 4, said
    decided = standfast("decide", INES, RUBRIC, "--on", ON, "--json").json["decision"]
    assert len(decided["sheets"]) == 3
    people, texts, settings = 15, 2, 2
    assert entries(standfast) == settings + people + texts + len(files)


@pytest.mark.usefixtures("scored")
def test_a_name_that_is_no_short_name_is_said_with_the_cure() -> None:
    who = ("--candidate", INES, "--rubric", RUBRIC, "--assessor", "hana-dvorakova")
    ran = apart("score", *who, "--practical", "P 2")

    assert ran.code == 2
    assert ran.err.startswith("this cannot be entered:\n  practical: 'P 2' is no short name; use")


def test_a_folder_without_a_school_is_said(tmp_path: Path, standfast: Run) -> None:
    ran = standfast("due", "--school", tmp_path)

    assert ran.code == 2
    assert "standfast new" in ran.err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        pytest.param(
            ("decide", "ines-carvalho-tele", RUBRIC),
            "did you mean 'ines-carvalho-teles'?",
            id="person",
        ),
        pytest.param(("decide", INES, "low-trapeze"), "did you mean 'low-trapeze-1'?", id="rubric"),
        pytest.param(("decide", INES, RUBRIC, "--on", "2026-02-30"), "no such day", id="day"),
        pytest.param(("print", "certificate", "LT1-2026-9999"), "no certificate", id="certificate"),
        pytest.param(
            ("print", "sheet", RUBRIC, "--skills", "tuck-turm"),
            "did you mean 'tuck-turn'?",
            id="skill",
        ),
        pytest.param(
            ("print", "sheet", RUBRIC, "--candidate", "ines-carvalho-tele"),
            "did you mean 'ines-carvalho-teles'?",
            id="whose sheet",
        ),
        pytest.param(("score",), "--candidate, --rubric, --assessor, --practical", id="nothing"),
        pytest.param(("score", "nowhere.yaml"), "nowhere.yaml", id="no file"),
        pytest.param(("fly",), "fly", id="command"),
        pytest.param(("due", "--quater", "2026Q4"), "--quarter", id="option"),
    ],
)
def test_a_wrong_word_is_answered_with_the_nearest_right_one(
    scored: Path, standfast: Run, arguments: tuple[str, ...], said: str
) -> None:
    ran = standfast(*arguments)

    assert ran.code == 2
    assert said in ran.err
    assert "Traceback" not in ran.err


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        pytest.param(("decide", "nobody", RUBRIC, "--json"), 2, id="not found"),
        pytest.param(("decide", "--json"), 2, id="missing argument"),
        pytest.param(("due", "--quarter", "soon", "--json"), 2, id="no quarter"),
        pytest.param(("award", INES, RUBRIC, "--certifier", INES, "--json"), 1, id="refused"),
        pytest.param(("score", "nowhere.yaml", "--json"), 2, id="bad input"),
        pytest.param(("decide", INES, RUBRIC, "--school", "/nowhere", "--json"), 2, id="school"),
    ],
)
def test_what_stops_a_command_is_json_where_json_was_asked_for(
    scored: Path, standfast: Run, arguments: tuple[str, ...], code: int
) -> None:
    ran = standfast(*arguments)

    assert ran.code == code
    assert ran.json["error"]
    assert ran.err == ""


def test_a_fault_in_one_file_of_people_enters_nobody(sandhof: Path, standfast: Run) -> None:
    before = entries(standfast)
    Path("candidates/more.yaml").write_text(
        "people:\n  - person: Ada Berg\n    nmae: Ada\n", "utf-8"
    )

    ran = standfast("people")

    assert ran.code == 2
    assert "candidates/more.yaml:2:" in ran.err
    assert "candidates/more.yaml:3:" in ran.err
    assert entries(standfast) == before


def test_a_closed_pipe_is_no_error_of_ours(scored: Path) -> None:
    command = f"{sys.executable} -m standfast decide {INES} {RUBRIC} | true"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False)

    assert "Traceback" not in done.stderr


def test_a_certificate_is_not_half_written(scored: Path, standfast: Run) -> None:
    shutil.rmtree("paper", ignore_errors=True)
    Path("paper").write_text("a file, not a folder")

    ran = standfast("print", "record", INES, "--out", "paper")

    assert ran.code == 2
    assert "--out" in ran.err
    assert Path("paper").read_text() == "a file, not a folder"
