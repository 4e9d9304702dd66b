"""What the project's own files promise."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

ROOT = Path(__file__).parent.parent
LOCK = (ROOT / "requirements.lock").read_text(encoding="utf-8")

# Written in two halves so that this file does not name what it looks for.
FORBIDDEN = [
    "py" + "pi.org",
    "python" + "hosted",
    "deb." + "debian",
    "npm" + "js",
    "/wo" + "rk/",
    "/ro" + "ot/",
]


def tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True)
    return [ROOT / name for name in listed.stdout.decode().split("\0") if name]


def test_every_locked_version_has_a_hash() -> None:
    requirements = [line for line in LOCK.splitlines() if re.match(r"^[a-z0-9]", line)]
    entries = re.split(r"\n(?=[a-z0-9#])", LOCK)
    hashed = [entry for entry in entries if "--hash=sha256:" in entry]

    assert len(requirements) > 20
    assert len(hashed) == len(requirements)
    assert "http" not in LOCK


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
    agreed |= {"src", "rubrics", "candidates", "tests", "templates"}
    assert {name for name in top if not name.startswith(".")} == agreed


def test_readme_names_the_two_commands() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")

    assert "./dev demo" in readme
    assert "./dev test" in readme
