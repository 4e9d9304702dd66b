"""What cannot be put on paper for want of room or right leaves no half page, and is told."""

from __future__ import annotations

import errno
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, NUMBER, ON, RUBRIC, Run


@pytest.fixture
def awarded(scored: Path, standfast: Run) -> Path:
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


ROOM = 33_000
"""Enough for the shared memory of SQLite, and for no font."""
COMMANDS = [
    ("print", "certificates", "--all"),
    ("print", "certificate", NUMBER),
    ("print", "record", INES),
]


@pytest.mark.usefixtures("awarded")
@pytest.mark.parametrize("command", COMMANDS)
def test_a_file_named_as_the_folder(standfast: Run, command: tuple[str, ...]) -> None:
    Path("paper").write_bytes(b"a file")
    told = standfast(*command, "--on", ON, "--out", "paper")

    assert (told.code, told.out) == (2, "")
    assert "paper" in told.err
    assert told.err.strip().endswith("; name another folder with --out")


@pytest.mark.usefixtures("awarded")
@pytest.mark.parametrize("command", COMMANDS)
def test_no_room_to_lay_out_fonts(command: tuple[str, ...]) -> None:
    """A file that may not grow past some bytes is as a disk that is full."""
    Path("paper").mkdir()

    def no_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (ROOM, ROOM))

    ran = subprocess.run(
        [sys.executable, "-B", "-m", "standfast", *command, "--on", ON, "--out", "paper"],
        capture_output=True,
        text=True,
        preexec_fn=no_room,
        check=False,
    )

    assert ran.returncode == 2, ran.stderr
    assert "Traceback" not in ran.stderr
    assert ": File too large; make room in " in ran.stderr
    assert list(Path("paper").iterdir()) == []


@pytest.mark.usefixtures("awarded")
@pytest.mark.parametrize("command", COMMANDS)
def test_a_folder_without_room(
    standfast: Run, monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...]
) -> None:
    whole = Path.write_bytes

    def full(self: Path, content: bytes) -> int:
        if self.parent.name != "paper":
            return whole(self, content)
        whole(self, content[:1000])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_bytes", full)
    told = standfast(*command, "--on", ON, "--out", "paper")

    assert told.code == 2
    assert "pdf: No space left on device; name another folder" in told.err
    assert list(Path("paper").iterdir()) == []
