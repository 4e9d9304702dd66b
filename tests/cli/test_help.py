"""Every command explains itself, and loads no more than it needs."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
from tests.cli.conftest import INES, ON, ROOT, RUBRIC, Run

from standfast.cli.app import app
from standfast.cli.listing import Top
from standfast.desk.opening import ADDRESS_FILE

TOP = typer.main.get_command(app)
HEAVY = (
    *("pandas", "scipy", "weasyprint", "numpy", "openpyxl", "fontTools", "sqlalchemy.orm"),
    *("psycopg", "sqlalchemy.dialects.postgresql"),
)


def commands(
    group: Any = TOP,  # noqa: ANN401 - typer keeps its own classes to itself
    name: str = "standfast",
) -> Iterator[tuple[str, Any]]:
    """Every command with the words that call it."""
    for word, command in sorted(getattr(group, "commands", {}).items()):
        yield f"{name} {word}", command
        yield from commands(command, f"{name} {word}")


ALL = dict(commands())
LEAVES = {name: command for name, command in ALL.items() if not hasattr(command, "commands")}

EXAMPLES = {
    name: (command.epilog or "").replace("\\\n", " ")
    for name, command in {"standfast": TOP, **ALL}.items()
}
"""The end of each command's help, lines that go on joined."""


def test_there_are_commands() -> None:
    assert {"standfast score", "standfast decide", "standfast print record"} <= set(LEAVES)


@pytest.mark.parametrize("name", ALL)
def test_every_command_says_what_it_does_and_gives_an_example(name: str, standfast: Run) -> None:
    ran = standfast(*name.split()[1:], "--help")

    assert ran.code == 0
    assert f"Example: {name.split(maxsplit=1)[0]} {name.split()[1]}" in ran.out
    assert (ALL[name].help or "").strip().endswith(".")


GROUPS: dict[str, Any] = {"standfast": TOP} | {
    name: one for name, one in ALL.items() if name not in LEAVES
}


@pytest.mark.parametrize("name", GROUPS)
def test_a_group_lists_each_of_its_commands_once_with_a_whole_sentence(
    name: str, standfast: Run
) -> None:
    listed = standfast(*name.split()[1:], "--help").out.partition("Options:")[2]
    words = " ".join(listed.split())

    for word, command in GROUPS[name].commands.items():
        assert len(re.findall(rf"^  {word} ", listed, re.MULTILINE)) == 1
        assert f" {word} {' '.join(command.help.split('.')[0].split())}." in words


def test_every_command_of_the_top_stands_under_a_heading_of_what_one_wants(standfast: Run) -> None:
    top: Any = TOP
    assert sorted(one for names in Top.headings.values() for one in names) == sorted(top.commands)
    assert "Commands:" not in standfast("--help").out


def example_of(name: str) -> list[str]:
    """The words of a command's example, as a shell reads them."""
    return shlex.split(EXAMPLES[name].removeprefix("\b\n").removeprefix("Example: "))


@pytest.mark.parametrize("name", LEAVES)
def test_every_example_is_understood(name: str) -> None:
    words = example_of(name)

    assert words[: len(name.split())] == name.split()
    context = LEAVES[name].make_context(name, words[len(name.split()) :])
    assert context.info_name == name


@pytest.mark.parametrize("name", ALL)
def test_no_example_is_broken_inside_a_word(
    name: str, standfast: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("TERMINAL_WIDTH", "80")
    out = standfast(*name.split()[1:], "--help").out
    *_, shown = out.partition("Example: ")
    lines = shown.rstrip("\n").split("\n")

    assert all(line.endswith(" \\") for line in lines[:-1])
    assert shlex.split(shown.replace("\\\n", " ")) == example_of(name)
    assert max(len(line) for line in out.splitlines()) <= 80


@pytest.mark.parametrize("name", LEAVES)
def test_every_command_answers_in_json_too(name: str) -> None:
    options = {option for parameter in LEAVES[name].params for option in parameter.opts}

    assert "--json" in options


@pytest.mark.parametrize("name", LEAVES)
def test_every_option_says_what_it_is(name: str) -> None:
    for parameter in LEAVES[name].params:
        assert getattr(parameter, "help", None), parameter.name


@pytest.mark.parametrize("name", LEAVES)
def test_every_command_appears_in_the_readme(name: str) -> None:
    readme = (ROOT / "README.md").read_text("utf-8")

    assert re.search(rf"{re.escape(name)}\b", readme), name


DATABASE = {"psycopg", "sqlalchemy.dialects.postgresql"}
"""What is loaded to read a book that is in PostgreSQL."""


def loaded(*arguments: str, folder: Path) -> set[str]:
    """The heavy packages that a command loads."""
    probe = (
        "import sys; from standfast.cli.app import run; code = run(sys.argv[1:]);"
        f"print(code, *[m for m in {HEAVY!r} if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", probe, *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        check=True,
    )
    code, *found = done.stderr.splitlines()[-1].split()
    assert code == "0", done.stderr
    return set(found)


@pytest.mark.parametrize(
    "arguments",
    [
        pytest.param(("--help",), id="help"),
        pytest.param(("print", "--help"), id="help of a group"),
        pytest.param(("check",), id="check"),
        pytest.param(("decide", INES, RUBRIC, "--on", ON), id="decide"),
        pytest.param(("due",), id="due"),
        pytest.param(("history", INES), id="history"),
    ],
)
def test_light_commands_load_nothing_heavy(scored: Path, arguments: tuple[str, ...]) -> None:
    needed = DATABASE if (scored / ADDRESS_FILE).exists() else set()

    assert loaded(*arguments, folder=scored) <= needed


def test_help_loads_no_database_either(tmp_path: Path) -> None:
    probe = (
        "import sys; from standfast.cli.app import run; run(['--help']);"
        "assert not {'sqlalchemy', 'jinja2', 'yaml'} & set(sys.modules)"
    )

    assert subprocess.run([sys.executable, "-c", probe], check=False, cwd=tmp_path).returncode == 0


def test_the_probe_sees_what_is_loaded(scored: Path) -> None:
    assert "weasyprint" in loaded("print", "due", folder=scored)


def test_help_defers_and_names_the_version(standfast: Run) -> None:
    assert "student stays on the ground" in " ".join(standfast("--help").out.split())
    assert re.fullmatch(r"standfast \d+\.\d+\.\d+\n", standfast("--version").out)
