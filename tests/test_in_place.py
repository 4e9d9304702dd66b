"""A file is there whole or not at all, and what cannot be written is told in words."""

from __future__ import annotations

import errno
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from standfast.in_place import put_in_place
from standfast.problems import StandfastError


def a_file_for_a_folder(folder: Path) -> Path:
    (folder / "paper").write_bytes(b"a file")
    return folder / "paper" / "page.pdf"


def no_folder(folder: Path) -> Path:
    return folder / "paper" / "page.pdf"


def a_folder_in_its_place(folder: Path) -> Path:
    (folder / "page.pdf").mkdir()
    return folder / "page.pdf"


@pytest.mark.parametrize(
    ("place", "why"),
    [
        (a_file_for_a_folder, "Not a directory"),
        (no_folder, "No such file or directory"),
        (a_folder_in_its_place, "Is a directory"),
    ],
)
def test_where_it_cannot_be_written_it_is_said_in_words(
    tmp_path: Path, place: Callable[[Path], Path], why: str
) -> None:
    file = place(tmp_path)
    before = sorted(tmp_path.rglob("*"))

    with pytest.raises(StandfastError, match=f"^{file}: {why}; name another file$"):
        put_in_place(file, b"page")

    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("stops", [OSError(errno.ENOSPC, "No space left"), KeyboardInterrupt()])
def test_a_fault_in_the_middle_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stops: BaseException
) -> None:
    file = tmp_path / "page.pdf"
    put_in_place(file, b"before")

    def full(self: Path, content: bytes) -> None:
        with self.open("wb") as out:
            out.write(content[:2])
        raise stops

    monkeypatch.setattr(Path, "write_bytes", full)

    with pytest.raises((StandfastError, KeyboardInterrupt)):
        put_in_place(file, b"after")

    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == {"page.pdf": b"before"}


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to root")
def test_without_the_right_to_write_it_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(StandfastError, match="Permission denied"):
        put_in_place(tmp_path / "page.pdf", b"page")


def test_a_disk_that_takes_no_more_is_told_and_nothing_half_is_left(tmp_path: Path) -> None:
    """A file that may not grow is as a disk that is full: only a part of it is written."""
    write = (
        "from pathlib import Path; from standfast.in_place import put_in_place;"
        "put_in_place(Path('page.pdf'), b'x' * 5000)"
    )

    def no_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (4000, 4000))

    ran = subprocess.run(
        [sys.executable, "-B", "-c", write],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        preexec_fn=no_room,
        check=False,
    )

    assert "StandfastError: page.pdf: File too large; name another file" in ran.stderr
    assert list(tmp_path.iterdir()) == []
