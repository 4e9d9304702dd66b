"""What one question to a record book costs, in a process of its own.

    python -m tests.bench.questions SMALL FOLDER QUESTION TIMES

asks a small book first, so that whatever is loaded or compiled once is there, then the school in
the folder so many times, and prints seconds and the most memory above what was held before, in MiB
(Linux; elsewhere null), as JSON.  Seconds are of the processor, the server's for this connection
among them: those of the clock tell what else the machine does.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timezone
from math import log
from pathlib import Path
from random import Random

from tests.bench.books import ON
from tests.bench.measured import memory

from standfast.desk.opening import Desk, Moment, open_desk

ROOT = Path(__file__).parents[2]
RUBRIC, WHO = "bar-1", "candidate-0"
NOW = datetime(ON.year, ON.month, ON.day, 12, tzinfo=timezone.utc)


def due_list(desk: Desk) -> object:
    """The next quarter's due list of the whole school."""
    from standfast.desk.due import Asked, due

    return due(desk, Asked(quarter="FY2026/27 Q2"))


def one_record(desk: Desk) -> object:
    """A candidate's competency record in words."""
    from standfast.desk.records import record_of

    return record_of(desk, WHO)


def comparison(desk: Desk) -> object:
    """Everything that `compare` says."""
    from standfast.desk.comparing import compare
    from standfast.desk.marks import marks_of_book

    return compare(marks_of_book(desk, RUBRIC, None), desk, RUBRIC)


def by_counts(desk: Desk) -> object:
    """What counts in the database say of each criterion, over all schools that can be seen."""
    from standfast.desk.grouped import agreement_of
    from standfast.store.grouped import grouped_marks

    with desk.book._reading() as reading:
        found = agreement_of(grouped_marks(reading.conn))
    if not found:
        raise SystemExit("no criterion was marked twice")
    return found


def whole_audit(desk: Desk) -> object:
    """File, guards, journal, tree and tables, and every decision made again."""
    from standfast.desk.books import audit

    found = audit(desk)
    if found.faults:
        raise SystemExit(f"the invented book has a fault: {found.faults[0]}")
    return found


def whole_backup(desk: Desk) -> object:
    """Everything in one file under a passphrase, read back."""
    from standfast.desk.backups import backup

    with tempfile.TemporaryDirectory(dir=desk.root) as name:
        return backup(desk, Path(name) / "kept", "seven pebbles on a sill")


QUESTIONS: dict[str, Callable[[Desk], object]] = {
    "due list": due_list,
    "one record": one_record,
    "compare, one school": comparison,
    "agreement by counts": by_counts,
    "audit": whole_audit,
    "backup": whole_backup,
}


@dataclass(frozen=True)
class Cost:
    """Of one question to a book of one size."""

    seconds: float
    mib: float | None

    def __str__(self) -> str:
        memory = "" if self.mib is None else f" {self.mib:.0f} MiB"
        return f"{self.seconds:.3g} s{memory}"


def cost(small: Path, folder: Path, question: str, times: int = 1) -> Cost:
    """What the question costs that school."""
    command = [sys.executable, "-m", "tests.bench.questions", str(small), str(folder), question]
    one_thread = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(
        [*command, str(times)],
        cwd=ROOT,
        env=one_thread,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise SystemExit(f"{question} of {folder.name}: {done.stderr[-2000:]}")
    return Cost(**json.loads(done.stdout))


def slope(sizes: Sequence[float], costs: Sequence[float]) -> float:
    """How a cost grows: least squares of its logarithm on that of the size.  1 is in proportion.

    >>> round(slope([10, 100, 1000], [0.5, 5.0, 50.0]), 6)
    1.0
    """
    x, y = [log(size) for size in sizes], [log(max(one, 1e-9)) for one in costs]
    mean_x, mean_y = sum(x) / len(x), sum(y) / len(y)
    above = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True))
    return above / sum((a - mean_x) ** 2 for a in x)


def main() -> int:
    """Asks and prints."""
    small, folder, question, times = sys.argv[1:]
    moment = Moment(NOW, "office", Random(1).randbytes, ON)
    ask = QUESTIONS[question]
    with open_desk(Path(small), moment) as desk:
        ask(desk)
    with open_desk(Path(folder), moment) as desk:
        before, server = _forget_peak(), _server_seconds(desk)
        took = []
        for _ in range(int(times)):
            began = time.process_time()
            ask(desk)
            took.append(time.process_time() - began)
        peak = memory("VmHWM")
        waited_for = (_server_seconds(desk) - server) / int(times)
    mib = None if before is None or peak is None else peak - before
    sys.stdout.write(json.dumps({"seconds": min(took) + waited_for, "mib": mib}) + "\n")
    return 0


def _server_seconds(desk: Desk) -> float:
    """Of the processor, of the process that serves our connection; 0 for a file (Linux)."""
    if isinstance(desk.book.where, Path):
        return 0.0
    with desk.book._reading() as reading:
        pid = reading.conn.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
    # Fields 14 and 15 of proc(5), counted behind the name, which may have spaces.
    fields = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _forget_peak() -> float | None:
    """What is held now, from which the peak is counted again."""
    try:
        Path("/proc/self/clear_refs").write_text("5", "ascii")
    except OSError:
        return None
    return memory("VmRSS")


if __name__ == "__main__":
    raise SystemExit(main())
