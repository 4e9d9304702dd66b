"""Whose turn it is to write: first come, first served, across threads and programs.

SQLite's own waiting sleeps and tries again, so that a busy writer can starve the others.  An
advisory lock on a file beside the book wakes those who wait in the order in which they came.
"""

from __future__ import annotations

import fcntl
import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from standfast.problems import RecordBookError


class WritersQueue:
    """The queue before one record book.

    `patience` is the longest wait in seconds.
    """

    def __init__(self, file: Path, patience: float) -> None:
        self._file = file
        self._patience = patience
        self._mine = threading.Lock()
        self._descriptor: int | None = None

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Waits for the turn, and has it until the block ends.

        Raises:
            RecordBookError: another program kept it too long, or the lock cannot be made.
        """
        if not self._mine.acquire(timeout=self._patience):
            raise self._too_long()
        try:
            self._lock()
            try:
                yield
            finally:
                self._unlock()
        finally:
            self._mine.release()

    def close(self) -> None:
        """Lets go of the file."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None

    def _lock(self) -> None:
        try:
            if self._descriptor is None:
                flags = os.O_RDWR | os.O_CREAT | os.O_CLOEXEC
                self._descriptor = os.open(self._file, flags, 0o666)
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            self._wait()
        except OSError as error:
            raise RecordBookError(
                f"{self._file}: cannot be locked for writing ({error.strerror});"
                " check who may write in this folder, and whether the disk is full"
            ) from None

    def _wait(self) -> None:
        """Stands in the queue; a thread does, because such a wait has no limit of its own."""
        turn = _Turn(self._descriptor)
        turn.start()
        turn.join(self._patience)
        if not turn.taken():
            self._descriptor = None
            raise self._too_long()

    def _unlock(self) -> None:
        if self._descriptor is not None:
            fcntl.flock(self._descriptor, fcntl.LOCK_UN)

    def _too_long(self) -> RecordBookError:
        told = (
            f"another program has been writing to this record book for {self._patience:g} seconds;"
            " wait until it is done, or end it, and try again"
        )
        return RecordBookError(f"{self._file.parent}: {told}", told)


class _Turn(threading.Thread):
    """Waits for a lock; gives it back when nobody waits for it any more."""

    def __init__(self, descriptor: int | None) -> None:
        super().__init__(daemon=True)
        self._descriptor = descriptor if descriptor is not None else -1
        self._decide = threading.Lock()
        self._has = False
        self._given_up = False

    def run(self) -> None:
        fcntl.flock(self._descriptor, fcntl.LOCK_EX)
        with self._decide:
            self._has = True
            if self._given_up:
                os.close(self._descriptor)

    def taken(self) -> bool:
        """Whether the lock is there; when not, it will be let go as soon as it comes."""
        with self._decide:
            self._given_up = not self._has
            return self._has
