"""The session in a real terminal or behind a pipe, for tests that need a process of their own.

    python driver.py DRAFTS [small|shipped] [live|paper]

Prints the signed sheet as one line of JSON after `SHEET `.  The people are invented.
"""

from __future__ import annotations

import sys
import uuid
from datetime import datetime, timezone
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from tests.cli.scoring.scripted import setup, shipped_setup

from standfast.cli.scoring import session, terminal
from standfast.problems import StandfastError


def main(drafts: str, which: str = "small", how: str = "live") -> int:
    made = (shipped_setup if which == "shipped" else setup)(paper=how == "paper")
    face = terminal.Terminal()
    try:
        sheet = session.run(
            made,
            Path(drafts),
            face.ask,
            face.say,
            lambda: datetime.now(timezone.utc),
            lambda: str(uuid.uuid4()),
        )
    except StandfastError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    if sheet is not None:
        sys.stdout.write(f"SHEET {sheet.model_dump_json()}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
