"""A school to run commands in, and a way to run them."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from standfast.cli.app import run

ROOT = Path(__file__).resolve().parents[2]
ON = "2026-11-20"
INES, RUBRIC, MARIT = "ines-carvalho-teles", "low-trapeze-1", "marit-solheim-aune"
SHEETS = ("lesson-2026-10-13-hana", "lesson-2026-10-13-leilani", "lesson-2026-11-03-aurelio")


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:  # noqa: ANN401 - any JSON value
        return json.loads(self.out)


Run = Callable[..., Ran]


@pytest.fixture
def standfast(capfd: pytest.CaptureFixture[str]) -> Run:
    """Runs one command line in this process."""

    def ran(*arguments: object) -> Ran:
        capfd.readouterr()
        code = run([str(argument) for argument in arguments])
        out, err = capfd.readouterr()
        return Ran(code, out, err)

    return ran


def sheet(name: str) -> str:
    """The file of a shipped practical, from inside the school's folder."""
    return f"candidates/practicals/{name}.yaml"


@pytest.fixture(scope="session")
def schools(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The invented school with an empty book, and the same with three scored practicals."""
    fresh = tmp_path_factory.mktemp("schools") / "fresh"
    assert run(["new", str(fresh), "--name", "Sandhof"]) == 0
    settings = (ROOT / "candidates" / "school.yaml").read_text("utf-8")
    # Nobody has scored a reference practical in this book, so none is asked for.
    settings = re.sub("reference_every.*\n", "", settings)
    (fresh / "school.yaml").write_text(settings, "utf-8")
    shutil.copyfile(ROOT / "candidates" / "people.yaml", fresh / "candidates" / "people.yaml")
    shutil.copytree(ROOT / "candidates" / "practicals", fresh / "candidates" / "practicals")
    scored = fresh.with_name("scored")
    shutil.copytree(fresh, scored)
    for name in SHEETS:
        assert run(["score", str(scored / sheet(name)), "--school", str(scored)]) == 0
    return fresh, scored


@pytest.fixture
def sandhof(tmp_path: Path, schools: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """The invented school with an empty book; commands run inside its folder."""
    monkeypatch.chdir(shutil.copytree(schools[0], tmp_path / "sandhof"))
    return tmp_path / "sandhof"


@pytest.fixture
def scored(tmp_path: Path, schools: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """The school after both of the candidate's practicals were scored."""
    monkeypatch.chdir(shutil.copytree(schools[1], tmp_path / "sandhof"))
    return tmp_path / "sandhof"
