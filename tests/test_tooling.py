"""What the project's own files promise."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from standfast.model.canonical import canonical

ROOT = Path(__file__).parent.parent
LOCK = (ROOT / "requirements.lock").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))

# Written in halves so that this file does not name what it looks for.
FORBIDDEN = [
    "py" + "pi.org",
    "python" + "hosted",
    "debian" + ".org",
    "npm" + "js",
    "/wo" + "rk/",
    "/ro" + "ot/",
]


def tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True)
    return [ROOT / name for name in listed.stdout.decode().split("\0") if name]


def locked(lock: str) -> list[tuple[Requirement, int]]:
    """Each requirement of a lock, and how many hashes it has."""
    entries = re.findall(r"^([a-z0-9].*?)\s*\\?$((?:\n .*)*)", lock, flags=re.MULTILINE)
    return [
        (Requirement(first), len(re.findall(r"--hash=sha256:[0-9a-f]{64}\b", rest)))
        for first, rest in entries
    ]


def are_locked(wanted: list[str], lock: str) -> bool:
    """Whether the lock holds, for every wanted name, only versions that it may have."""
    versions: dict[str, list[str]] = {}
    for requirement, _ in locked(lock):
        name = canonicalize_name(requirement.name)
        versions.setdefault(name, []).append(str(requirement.specifier).removeprefix("=="))
    return all(
        (found := versions.get(canonicalize_name(want.name)))
        and all(want.specifier.contains(version) for version in found)
        for want in map(Requirement, wanted)
    )


def test_every_locked_requirement_is_exact_and_has_a_hash() -> None:
    loose = [str(r) for r, hashes in locked(LOCK) if "==" not in str(r.specifier) or not hashes]

    assert len(locked(LOCK)) > 20
    assert loose == []


def test_the_lock_names_no_address() -> None:
    assert "://" not in LOCK
    assert "--index" not in LOCK


def test_the_lock_holds_what_the_project_asks_for() -> None:
    runtime, mark, _ = LOCK.partition("# --- development only")

    assert mark
    assert are_locked(PROJECT["project"]["dependencies"], runtime)
    assert are_locked(PROJECT["dependency-groups"]["dev"], LOCK)


def test_a_lock_without_a_hash_or_with_an_old_version_is_seen() -> None:
    lock = f"some-name==1.5\nother==2.0 \\\n    --hash=sha256:{'0' * 64}\n"

    assert [hashes for _, hashes in locked(lock)] == [0, 1]
    assert are_locked(["Some_Name>=1.5"], lock)
    assert not are_locked(["some-name>=1.6"], lock)
    assert not are_locked(["missing"], lock)


def test_no_tracked_file_names_a_registry_or_a_machine() -> None:
    found = [
        f"{path.relative_to(ROOT)}: {word}"
        for path in tracked()
        if path.is_file()
        for word in FORBIDDEN
        if word.encode() in path.read_bytes()
    ]

    assert found == []


def test_the_top_level_holds_only_what_was_agreed() -> None:
    top = {path.relative_to(ROOT).parts[0] for path in tracked()}

    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "dev", "requirements.lock"}
    agreed |= {"src", "rubrics", "candidates", "tests", "templates", "deploy"}
    assert {name for name in top if not name.startswith(".")} == agreed


def test_readme_names_the_two_commands() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")

    assert "./dev demo" in readme
    assert "./dev test" in readme


@pytest.mark.parametrize("argument", [[], ["help"], ["--help"]])
def test_dev_says_what_it_can_do(argument: list[str]) -> None:
    told = subprocess.run(
        ["./dev", *argument], cwd=ROOT, capture_output=True, text=True, check=True
    )

    assert told.stdout.startswith("./dev demo")
    assert told.stderr == ""


def test_dev_stops_at_a_task_it_does_not_know() -> None:
    told = subprocess.run(
        ["./dev", "juggle"], cwd=ROOT, capture_output=True, text=True, check=False
    )

    assert told.returncode == 2
    assert told.stdout == ""
    assert told.stderr.startswith("./dev demo")


def test_dev_needs_a_python_that_is_new_enough(tmp_path: Path) -> None:
    """With only what a script needs on the path, and no Python."""
    for name in ("bash", "dirname"):
        (tmp_path / name).symlink_to(_which(name))
    told = subprocess.run(
        [tmp_path / "bash", "dev", "check"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env={"PATH": str(tmp_path), "PYTHON": "no-such-python"},
    )

    assert told.returncode == 2
    assert "Python 3.11 or newer is needed" in told.stderr


def _which(name: str) -> Path:
    folders = os.environ["PATH"].split(os.pathsep)
    return next(path for folder in folders if (path := Path(folder) / name).exists())


def test_the_bench_of_the_due_list_still_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.bench import due

    monkeypatch.setattr(due, "PEOPLE", 2_000)

    rows = list(due.rows())

    assert len(rows) == 6
    assert all(row.ratio > 0 for row in rows)


def test_a_row_of_the_bench_asks_for_at_most_or_at_least() -> None:
    from tests.bench.measured import Row
    from tests.bench.run import shown

    assert [Row("x", ratio, 2.5, "").ok for ratio in (2.5, 2.51)] == [True, False]
    assert [Row("x", ratio, None, "", 5).ok for ratio in (5, 4.99)] == [True, False]
    assert not Row("x", float("nan"), None, "not there: pingouin", 5).ok
    assert "|     >5 | NO" in shown(Row("x", 4.99, None, "", 5))


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere there is no figure but the system's")
def test_the_memory_of_a_bench_is_its_own_and_not_of_whoever_started_it() -> None:
    held = bytearray(300 << 20)
    code = "from tests.bench.measured import most_memory; print(most_memory())"
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)

    assert len(held) == 300 << 20
    assert 5 < float(done.stdout) < 200


def test_the_bench_of_agreement_still_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.bench import agreement

    monkeypatch.setattr(agreement, "SIZE", 4_000)
    monkeypatch.setattr(agreement, "ROUNDS", 1)

    rows = [*agreement.alphas(), agreement.kappa(), agreement.fleiss(), agreement.icc()]
    assert all(row.ratio > 0 for row in rows), [row.detail for row in rows]

    monkeypatch.setitem(sys.modules, "krippendorff", None)
    row = next(agreement.alphas())
    assert not row.ok
    assert row.detail == "not there: krippendorff"


def test_the_bench_of_the_seal_still_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.bench import seal
    from tests.published import test_credential_cases as cases

    made = seal.Sealed(
        canonical(cases.signed(cases.sample())),
        (cases.status_list(),),
        cases.TRUSTED,
        cases.KEY,
        cases.NOW,
    )
    monkeypatch.setattr(seal, "sealed", lambda _folder: made)
    monkeypatch.setattr(seal, "ROUNDS", 1)
    monkeypatch.setattr(seal, "EACH", 2)
    monkeypatch.setattr(seal, "WHOLE", seal.SMALL)
    monkeypatch.setattr(seal, "GIVEN", 3)

    rows = list(seal.rows())

    assert len(rows) == 10
    assert all(row.ratio > 0 for row in rows)


def test_no_file_holds_two_sides_of_an_unfinished_merge() -> None:
    marks = re.compile(r"^(<{7} |>{7} |={7}$)", flags=re.MULTILINE)
    texts = (path for path in tracked() if path.suffix in {".md", ".py", ".toml", ".yaml", ".html"})

    assert [str(path) for path in texts if marks.search(path.read_text(encoding="utf-8"))] == []
