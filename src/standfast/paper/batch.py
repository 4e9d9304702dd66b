"""Many pages at once: one process for each core, each with its fonts and styles read once."""

from __future__ import annotations

import gc
import multiprocessing
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.paper.archive import Attached
from standfast.paper.pdf import Printer
from standfast.problems import PaperError

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

GROUP = 10
"""Pages handed to a process at a time."""
_printers: dict[tuple[Path, ...], Printer] = {}
"""This process's printer; empty in a process that only hands out work."""


@dataclass(frozen=True)
class Job:
    """One page: what it says, and the file it becomes."""

    name: str
    view: DataclassInstance
    file: Path
    attached: tuple[Attached, ...] = ()


def print_all(
    jobs: Sequence[Job],
    folders: tuple[Path, ...],
    progress: Callable[[int, int], None],
    processes: int | None = None,
) -> None:
    """Writes every page to its file, with the same bytes as printed alone.

    Memory does not grow with the number of pages: a page is written by the process that drew
    it, and only its place in the count comes back.

    Raises:
        PaperError: the first page that could not be made; those before it are written.
    """
    try:
        _print_all(jobs, folders, progress, processes)
    finally:
        _printers.clear()  # WeasyPrint's fonts must go before the interpreter does


def _print_all(
    jobs: Sequence[Job],
    folders: tuple[Path, ...],
    progress: Callable[[int, int], None],
    processes: int | None,
) -> None:
    wanted = min(processes or os.cpu_count() or 1, -(-len(jobs) // GROUP))
    if wanted <= 1:
        for done, job in enumerate(jobs, 1):
            _write(job, folders)
            progress(done, len(jobs))
        return
    first, *others = jobs
    _write(first, folders)  # loads what every page needs; a forked process has it too
    progress(1, len(jobs))
    # macOS's own libraries are not safe to fork.
    kind = "fork" if sys.platform == "linux" else "spawn"
    work = [(job, folders) for job in others]
    with multiprocessing.get_context(kind).Pool(wanted, _begin) as pool:
        for done, said in enumerate(pool.imap_unordered(_try, work, GROUP), 2):
            if said:
                raise PaperError(said)
            progress(done, len(jobs))


def _begin() -> None:
    """Keeps the collector from walking again and again what was loaded for all pages."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


def _try(work: tuple[Job, tuple[Path, ...]]) -> str | None:
    try:
        _write(*work)
    except PaperError as error:
        return f"{work[0].file.name}: {error}"
    return None


def _write(job: Job, folders: tuple[Path, ...]) -> None:
    printer = _printers.setdefault(folders, Printer(folders))
    job.file.write_bytes(printer.print(job.name, job.view, attached=job.attached))
