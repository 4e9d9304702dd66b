"""How often the tests of faults try something, and where they say what they counted."""

from __future__ import annotations

import os
import sys


def kills(usual: int) -> int:
    """So many; `./dev faults COUNT` asks for more."""
    return int(os.environ.get("STANDFAST_KILLS", str(usual)))


def say(words: str) -> None:
    """Counts, for whoever reads what the tests said."""
    sys.stderr.write(f"{words}\n")
