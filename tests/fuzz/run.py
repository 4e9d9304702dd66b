"""Throws bytes at every parser, guided by what they reach: `./dev fuzz [SECONDS] [TARGET ...]`.

Each target runs in a process of its own, from bytes that are good.  Ends with 1 when a parser
raised anything but a refusal, or the page that checks and Python differ; the bytes that did it are
named.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

SECONDS = 20
ONE = "--one"
PAGE = "page"
"""The page that checks has readers of its own, in a browser (`page.py`)."""
RUNS = re.compile(rb"Done (\d+) runs|stat::number_of_executed_units:\s*(\d+)")


def main() -> int:
    """All targets, or those that are named; 1 when one of them has a fault."""
    from tests.fuzz.targets import TARGETS

    asked = sys.argv[1:]
    seconds = int(asked.pop(0)) if asked and asked[0].isdecimal() else SECONDS
    known = [*TARGETS, PAGE]
    if unknown := sorted(set(asked) - set(known)):
        sys.stderr.write(f"no such parser: {', '.join(unknown)}; known: {', '.join(known)}\n")
        return 2
    names = asked or known
    with ThreadPoolExecutor(os.cpu_count()) as pool:  # each waits for a process of its own
        stood = list(pool.map(lambda name: _thrown_at(name, seconds), names))
    sys.stdout.write(f"{len(names)} parsers, {stood.count(False)} with a fault\n")
    return 0 if all(stood) else 1


def _thrown_at(name: str, seconds: int) -> bool:
    """Whether one target stood it; says how many times."""
    with tempfile.TemporaryDirectory(prefix="standfast-fuzz-") as folder:
        program = ("tests.fuzz.page",) if name == PAGE else ("tests.fuzz.run", ONE, name)
        Path(folder, "bad").mkdir()
        command = [sys.executable, "-m", *program, folder, str(seconds)]
        done = subprocess.run(command, capture_output=True, check=False)
        found = sorted(Path(folder, "bad").glob("*"))
        runs = max((int(a or b) for a, b in RUNS.findall(done.stderr)), default=0)
        stood = done.returncode == 0 and not found and runs > 0
        sys.stdout.write(f"{name:<14}{runs:>9} times  {'stood' if stood else 'A FAULT'}\n")
        sys.stdout.flush()
        if not stood:
            sys.stderr.write((done.stdout + done.stderr[-1000:]).decode("utf-8", "replace"))
            for file in found:
                sys.stderr.write(f"\n{file.name}: {file.read_bytes()[:400]!r}\n")
    return stood


def one(name: str, folder: Path, seconds: int) -> None:
    """Throws bytes at one target; ends the process."""
    import atheris

    with atheris.instrument_imports(include=["standfast.files", "standfast.seal"]):
        from tests.fuzz.targets import REFUSED, TARGETS

    target = TARGETS[name]
    corpus, bad = folder / "corpus", folder / "bad"
    corpus.mkdir()
    for number, content in enumerate(target.seeds()):
        (corpus / str(number)).write_bytes(content)

    def take(content: bytes) -> None:
        try:
            target.take(content)
        except REFUSED:
            return

    atheris.Setup(
        [
            name,
            str(corpus),
            f"-artifact_prefix={bad}/",
            f"-max_total_time={seconds}",
            "-max_len=65536",
            "-timeout=20",
            "-rss_limit_mb=2048",
            "-print_final_stats=1",
            "-verbosity=0",
        ],
        take,
    )
    atheris.Fuzz()


if __name__ == "__main__":
    if sys.argv[1:2] == [ONE]:
        one(sys.argv[2], Path(sys.argv[3]), int(sys.argv[4]))
    sys.exit(main())
