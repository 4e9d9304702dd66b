"""Imports point inward only, and neighbours in a ring do not know each other."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

SOURCE = Path(__file__).parent.parent / "src" / "standfast"
RINGS = (
    {"problems"},
    {"model"},
    {"files", "engine", "agreement", "store", "seal", "paper"},
    {"desk"},
    {"cli", "web"},
    {"__main__"},
)


def ring_of(entry: str) -> int:
    return next(depth for depth, ring in enumerate(RINGS) if entry in ring)


def imported(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Line and module of each import that runs, inside functions too."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test).endswith("TYPE_CHECKING"):
            for part in node.orelse:
                yield from imported(part)
        elif isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = "." * node.level + (node.module or "")
            yield (node.lineno, module)
            if module == "standfast":
                yield from ((node.lineno, f"standfast.{alias.name}") for alias in node.names)
        else:
            yield from imported(node)


def violations(source: Path) -> list[str]:
    found = []
    for path in sorted(source.rglob("*.py")):
        inside = path.relative_to(source)
        own = inside.parts[0].removesuffix(".py")
        if own in {"__init__", "_shipped"}:
            continue
        for line, module in imported(ast.parse(path.read_text(encoding="utf-8"))):
            if module.startswith("."):
                found.append(f"{inside}:{line}: write {module} out in full")
            parts = module.split(".")
            if parts[0] != "standfast" or len(parts) == 1 or parts[1] == own:
                continue
            if ring_of(parts[1]) >= ring_of(own):
                found.append(f"{inside}:{line}: {own} may not import {parts[1]}")
    return found


def test_imports_point_inward_only() -> None:
    assert violations(SOURCE) == []


def test_every_package_stands_in_a_ring() -> None:
    entries = {path.stem for path in SOURCE.iterdir() if path.suffix == ".py" or path.is_dir()}

    known = set().union(*RINGS) | {"__init__", "__pycache__", "_shipped"}
    assert {entry for entry in entries if not entry.startswith(".")} <= known


@pytest.mark.parametrize(
    ("module", "text", "wrong"),
    [
        pytest.param("model/a.py", "import standfast.engine.dates", True, id="outward"),
        pytest.param("engine/a.py", "from standfast.store import book", True, id="neighbour"),
        pytest.param("engine/a.py", "def f():\n    from standfast import paper", True, id="hidden"),
        pytest.param("store/a.py", "from ..engine import dates", True, id="relative"),
        pytest.param("desk/a.py", "from standfast.store import book", False, id="inward"),
        pytest.param(
            "engine/a.py",
            "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import standfast.store",
            False,
            id="for types only",
        ),
    ],
)
def test_the_rule_sees_a_made_up_import(
    tmp_path: Path, module: str, text: str, *, wrong: bool
) -> None:
    path = tmp_path / module
    path.parent.mkdir()
    path.write_text(text, encoding="utf-8")

    assert bool(violations(tmp_path)) is wrong
