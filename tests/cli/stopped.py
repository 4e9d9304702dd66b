"""Runs one command, and kills itself before or after a step of putting a record book on a server.

`python -m tests.cli.stopped NUMBER COMMAND...`: the even numbers are before a step, the odd after.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from standfast.cli.app import run
from standfast.desk import moving as desk
from standfast.desk import restoring
from standfast.store import founding, moving

_STEPS = (
    (desk, "write_address"),
    (restoring, "write_address"),
    (founding, "make_tables"),
    (founding, "admit"),
    (moving, "_copy_book"),
    (Path, "rename"),
    (Path, "replace"),
)


def main(at: int) -> None:
    """Counts the moments before and after every step, and ends at the wanted one."""
    passed = 0

    def moment() -> None:
        nonlocal passed
        if passed == at:
            os.kill(os.getpid(), signal.SIGKILL)
        passed += 1

    def watched(step: Callable[..., object]) -> Callable[..., object]:
        def doing(*given: Any, **named: Any) -> object:  # noqa: ANN401 - whatever the step takes
            moment()
            done = step(*given, **named)
            moment()
            return done

        return doing

    for where, name in _STEPS:
        setattr(where, name, watched(getattr(where, name)))


if __name__ == "__main__":
    main(int(sys.argv[1]))
    sys.exit(run(sys.argv[2:]))
