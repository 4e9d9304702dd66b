"""A school to run commands in, and a way to run them."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from freezegun import freeze_time
from PIL import Image
from tests.schools import copied

from standfast.cli.app import run

ROOT = Path(__file__).resolve().parents[2]
ON = "2026-11-20"
INES, RUBRIC, MARIT = "ines-carvalho-teles", "low-trapeze-1", "marit-solheim-aune"
NUMBER = "LT1-2026-0001"
NAME = "Inês Carvalho Teles"
ISSUER = "https://sandhof.example/issuer"
PASSPHRASE = "four plain words here"  # noqa: S105 - of keys that are made up
FILE = Path("out/signed-LT1-2026-0001.json")
SHEETS = ("lesson-2026-10-13-hana", "lesson-2026-10-13-leilani", "lesson-2026-11-03-aurelio")


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str

    @property
    def flat(self) -> str:
        """The answer in one line, however it was broken."""
        return " ".join(self.out.split())

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


def audited(standfast: Run, school: str | Path = ".") -> dict[str, Any]:
    """What an audit says of the book; not what it remarks, as on the server of these tests."""
    told = standfast("book", "audit", "--school", school, "--json").json
    return {name: value for name, value in told.items() if name != "remarks"}


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
    monkeypatch.chdir(copied(schools[0], tmp_path / "sandhof"))
    return tmp_path / "sandhof"


@pytest.fixture
def scored(tmp_path: Path, schools: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """The school after both of the candidate's practicals were scored."""
    monkeypatch.chdir(copied(schools[1], tmp_path / "sandhof"))
    return tmp_path / "sandhof"


@pytest.fixture
def today() -> Iterator[None]:
    with freeze_time("2026-11-24 10:00:00", ignore=["pydantic"]):
        yield


@pytest.fixture
def typed(standfast: Run, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command that asks for a passphrase, which is typed."""

    def ran(*arguments: object, words: str = PASSPHRASE) -> Ran:
        monkeypatch.setattr("sys.stdin", io.StringIO(f"{words}\n"))
        return standfast(*arguments, "--passphrase-stdin")

    return ran


@pytest.fixture(scope="session")
def schools_with_keys(
    schools: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Path]:
    """The school with an empty book and keys, and the one with an award and keys.

    Made once, since a passphrase takes half a second for each key.
    """
    made = tmp_path_factory.mktemp("keyed")
    with (
        freeze_time("2026-11-24 10:00:00", ignore=["pydantic"]),
        pytest.MonkeyPatch.context() as on,
    ):
        for school in schools:
            folder = shutil.copytree(school, made / school.name)
            on.setattr("sys.stdin", io.StringIO(f"{PASSPHRASE}\n"))
            make = ["keys", "make", "--issuer", ISSUER, "--passphrase-stdin"]
            assert run([*make, "--school", str(folder)]) == 0
        award = ["award", INES, RUBRIC, "--certifier", MARIT, "--on", ON]
        assert run([*award, "--school", str(made / "scored")]) == 0
    return made / "fresh", made / "scored"


@pytest.fixture
def keyed(
    today: None,
    schools_with_keys: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Path:
    """The school with an award and keys; commands run inside its folder."""
    del today
    monkeypatch.setenv("STANDFAST_TRUST", str(tmp_path / "trust"))
    monkeypatch.chdir(copied(schools_with_keys[1], tmp_path / "sandhof"))
    return tmp_path / "sandhof"


def credential() -> dict[str, Any]:
    told: dict[str, Any] = json.loads(FILE.read_text("utf-8"))
    return told


def scanned(paper: Path, dots: int = 150) -> str:
    """What a phone reads, by a library that did not write it."""
    there = str(paper.with_suffix(""))
    made = ["pdftoppm", "-r", str(dots), "-png", "-singlefile", str(paper), there]
    subprocess.run(made, check=True)
    with Image.open(paper.with_suffix(".png")) as picture:
        (one,) = zxingcpp.read_barcodes(picture)
    return str(one.text)
