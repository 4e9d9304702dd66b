"""Imports point inward only, and neighbours in a ring do not know each other."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

SOURCE = Path(__file__).parent.parent / "src" / "standfast"
RINGS = (
    {"problems", "spreading", "terminal"},
    {"in_place", "model"},
    {"files", "engine", "agreement", "store", "seal", "paper"},
    {"desk"},
    {"cli", "web"},
    {"__main__"},
)
DEPTH = {entry: depth for depth, ring in enumerate(RINGS) for entry in ring}
OUTSIDE_THE_RINGS = {"__init__", "__pycache__", "_shipped"}


def imported(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Line and module of each import that runs, inside functions too."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and is_for_types_only(node):
            for part in node.orelse:
                yield from imported(ast.Module(body=[part], type_ignores=[]))
        elif isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = "." * node.level + (node.module or "")
            if module == "standfast":
                yield from ((node.lineno, f"standfast.{alias.name}") for alias in node.names)
            else:
                yield (node.lineno, module)
        else:
            yield from imported(node)


def is_for_types_only(node: ast.If) -> bool:
    return ast.unparse(node.test) in {"TYPE_CHECKING", "typing.TYPE_CHECKING"}


def what_is_wrong(own: str, module: str) -> str | None:
    """Why a module of package `own` may not import `module`; None when it may."""
    if module.startswith("."):
        return f"write {module} out in full"
    top, _, inside = module.partition(".")
    other = inside.partition(".")[0]
    if top != "standfast" or other in {"", "__version__", own}:
        return None
    if other not in DEPTH:
        return f"{other} stands in no ring"
    if DEPTH[other] >= DEPTH[own]:
        return f"{own} may not import {other}"
    return None


def violations(source: Path) -> list[str]:
    found = []
    for path in sorted(source.rglob("*.py")):
        inside = path.relative_to(source)
        own = inside.parts[0].removesuffix(".py")
        if own in OUTSIDE_THE_RINGS:
            continue
        for line, module in imported(ast.parse(path.read_text(encoding="utf-8"))):
            wrong = what_is_wrong(own, module)
            if wrong:
                found.append(f"{inside.as_posix()}:{line}: {wrong}")
    return found


def test_imports_point_inward_only() -> None:
    assert violations(SOURCE) == []


def test_every_package_stands_in_a_ring() -> None:
    entries = {path.stem for path in SOURCE.iterdir() if path.suffix == ".py" or path.is_dir()}

    assert {name for name in entries if not name.startswith(".")} <= {*DEPTH, *OUTSIDE_THE_RINGS}


@pytest.mark.parametrize(
    ("module", "text", "expected"),
    [
        pytest.param(
            "model/a.py",
            "import standfast.engine.dates",
            ["model/a.py:1: model may not import engine"],
            id="outward",
        ),
        pytest.param(
            "engine/a.py",
            "from standfast.store import book",
            ["engine/a.py:1: engine may not import store"],
            id="a neighbour",
        ),
        pytest.param(
            "engine/a.py",
            "def f():\n    from standfast import paper",
            ["engine/a.py:2: engine may not import paper"],
            id="inside a function",
        ),
        pytest.param(
            "engine/a.py",
            "try:\n    x = 1\nexcept ValueError:\n    import standfast.store",
            ["engine/a.py:4: engine may not import store"],
            id="inside an except",
        ),
        pytest.param(
            "engine/a.py",
            "if TYPE_CHECKING:\n    x = 1\nelse:\n    import standfast.store",
            ["engine/a.py:4: engine may not import store"],
            id="when not for types",
        ),
        pytest.param(
            "engine/a.py",
            "if not TYPE_CHECKING:\n    import standfast.store",
            ["engine/a.py:2: engine may not import store"],
            id="only when not for types",
        ),
        pytest.param(
            "store/a.py",
            "from ..engine import dates",
            ["store/a.py:1: write ..engine out in full"],
            id="relative",
        ),
        pytest.param(
            "desk/a.py",
            "import standfast.helpers",
            ["desk/a.py:1: helpers stands in no ring"],
            id="unknown",
        ),
        pytest.param("desk/a.py", "from standfast.store import book", [], id="inward"),
        pytest.param("desk/a.py", "from standfast.desk import awards", [], id="its own package"),
        pytest.param("cli/a.py", "from standfast import __version__", [], id="the version"),
        pytest.param("model/a.py", "import engine.store", [], id="somebody else's package"),
        pytest.param(
            "engine/a.py",
            "if TYPE_CHECKING:\n    import standfast.store",
            [],
            id="for types only",
        ),
    ],
)
def test_the_rule_sees_a_made_up_import(
    tmp_path: Path, module: str, text: str, expected: list[str]
) -> None:
    path = tmp_path / module
    path.parent.mkdir()
    path.write_text(text, encoding="utf-8")

    assert violations(tmp_path) == expected


def test_the_package_itself_loads_nothing() -> None:
    program = (
        "import sys; before = set(sys.modules); import standfast;"
        " print(*sorted(set(sys.modules) - before))"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )

    assert loaded.stdout.split() == ["standfast"]
