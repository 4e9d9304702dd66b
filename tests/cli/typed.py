"""What a program needs that a test types into."""

from __future__ import annotations

import signal


def heed_ctrl_c() -> None:
    """Ctrl-C counts in the program that is about to start.

    A test runner in the background of a shell has it ignored, and so would all that it starts.
    """
    signal.signal(signal.SIGINT, signal.SIG_DFL)
