"""Many pages at once, each process with its fonts and styles read once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.in_place import put_in_place
from standfast.paper.archive import Attached
from standfast.paper.pdf import Printer
from standfast.problems import PaperError, StandfastError
from standfast.spreading import spread

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

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
        StandfastError: the first that could not be written; no half page is there.
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
    first, others = jobs[:1], jobs[1:]
    for job in first:
        _write(job, folders)  # loads what every page needs
        progress(1, len(jobs))
    work = [(job, folders) for job in others]
    for done, fault in enumerate(spread(_try, work, processes), 2):
        if fault:
            raise fault
        progress(done, len(jobs))


def _try(work: tuple[Job, tuple[Path, ...]]) -> StandfastError | None:
    try:
        _write(*work)
    except PaperError as error:
        return PaperError(f"{work[0].file.name}: {error}")
    except StandfastError as error:
        return error
    return None


def _write(job: Job, folders: tuple[Path, ...]) -> None:
    printer = _printers.setdefault(folders, Printer(folders))
    page = printer.print(job.name, job.view, attached=job.attached)
    put_in_place(job.file, page, "name another folder")
