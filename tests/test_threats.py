"""The page of threats names tests that are there and run, and each line names one."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
NAMED = re.compile(r"`(tests/[a-z_/]+\.py)::(test_[a-z0-9_]+)`")
NEVER_HELD = re.compile(r"(pytest|mark)\.(skip|xfail)\b")
"""Whatever is marked so holds nothing; `skipif` and a skip inside say when."""


def lines() -> list[str]:
    words = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    table = words.partition("## Threats")[2].partition("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("| ")]
    return rows[2:]  # after the heading and the rule below it


@cache
def tree(file: Path) -> ast.Module:
    return ast.parse(file.read_text("utf-8"))


def marks_of(file: Path, name: str) -> list[str] | None:
    """The marks of that test, and of all in its file; None when it is not there."""
    top = tree(file).body
    found = [one for one in top if isinstance(one, ast.FunctionDef) and one.name == name]
    all_of_it = [ast.unparse(one) for one in top if "pytestmark" in ast.unparse(one)]
    return [*map(ast.unparse, found[0].decorator_list), *all_of_it] if found else None


def test_every_threat_names_a_test_that_is_there_and_never_marked_as_skipped_or_failing() -> None:
    assert len(lines()) > 20
    for line in lines():
        named = NAMED.findall(line)

        assert named, line
        for file, name in named:
            marks = marks_of(ROOT / file, name)
            assert marks is not None, f"{file}::{name}"
            assert [mark for mark in marks if NEVER_HELD.search(mark)] == [], f"{file}::{name}"


@pytest.mark.parametrize(
    ("marked", "held"),
    [
        ("@pytest.mark.skip(reason='later')", False),
        ("@pytest.mark.xfail", False),
        ("@pytest.mark.parametrize('x', [pytest.param(1, marks=pytest.mark.skip)])", False),
        ("@pytest.mark.skipif(CADDY is None, reason='no caddy here')", True),
        ("@pytest.mark.of_the_file", True),
        ("", True),
    ],
)
def test_the_marks_of_a_test_are_seen(tmp_path: Path, marked: str, held: bool) -> None:
    file = tmp_path / "test_made.py"
    file.write_text(f"{marked}\ndef test_it(): pass\n", "utf-8")
    marks = marks_of(file, "test_it")

    assert marks is not None
    assert (not any(map(NEVER_HELD.search, marks))) is held
    assert marks_of(file, "test_another") is None
