"""Work spread over the cores, a process for each."""

from __future__ import annotations

import gc
import multiprocessing
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

Piece = TypeVar("Piece")
Made = TypeVar("Made")

GROUP = 10
"""Pieces handed to a process at a time."""


def spread(
    do: Callable[[Piece], Made], pieces: Sequence[Piece], processes: int | None = None
) -> Iterator[Made]:
    """What `do` makes of each piece, in their order; of a few in this process alone.

    Let one be done before the others are spread: a forked process has what that one loaded.  `do`
    stands in a module, and neither writes to a database nor reads from one.

    Raises:
        Exception: what `do` raised for the first piece that could not be done.
    """
    wanted = min(processes or os.cpu_count() or 1, -(-len(pieces) // GROUP))
    if wanted <= 1:
        yield from map(do, pieces)
        return
    # macOS's own libraries are not safe to fork.
    kind = "fork" if sys.platform == "linux" else "spawn"
    with multiprocessing.get_context(kind).Pool(wanted, _begin) as pool:
        yield from pool.imap(do, pieces, GROUP)


def _begin() -> None:
    """Keeps the collector from walking again and again what was loaded for all pieces."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
