"""Files that are there whole or not at all, whatever stops the program."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from standfast.problems import StandfastError


def put_in_place(file: Path, content: bytes, cure: str = "name another file") -> None:
    """Writes the file beside its place first; what lay there before stays until then.

    Raises:
        StandfastError: it cannot be written; says why, and `cure`.
    """
    half = file.with_name(f".{file.name}.{os.getpid()}")
    try:
        half.write_bytes(content)
        half.replace(file)
    except OSError as error:
        _remove(half)
        raise StandfastError(f"{file}: {error.strerror}; {cure}") from None
    except BaseException:
        _remove(half)
        raise


def write_through(file: Path, content: bytes) -> None:
    """Writes the file where it is; it is on disk when this returns.

    Raises:
        OSError: it cannot be written.
    """
    with file.open("wb") as opened:
        opened.write(content)
        opened.flush()
        os.fsync(opened.fileno())


def _remove(half: Path) -> None:
    with suppress(OSError):  # it is not there, or its folder is none
        half.unlink()
