"""The page of threats names tests that are there, and each line names one."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
NAMED = re.compile(r"`(tests/[a-z_/]+\.py)::(test_[a-z0-9_]+)`")


def lines() -> list[str]:
    words = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    table = words.partition("## Threats")[2].partition("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("| ")]
    return rows[2:]  # after the heading and the rule below it


def names_in(file: Path) -> set[str]:
    found = ast.walk(ast.parse(file.read_text("utf-8")))
    return {one.name for one in found if isinstance(one, ast.FunctionDef)}


def test_every_threat_names_a_test_that_is_there() -> None:
    assert len(lines()) > 20
    for line in lines():
        named = NAMED.findall(line)

        assert named, line
        for file, name in named:
            assert name in names_in(ROOT / file), f"{file}::{name}"
