"""Prints the ratios that matter and their targets; ends with 1 when one is missed.

    ./dev bench                  everything, each bench in a process of its own
    ./dev bench --only store     one bench; may be given again for others
    ./dev bench --only load --whole    as large as it is meant for; takes an hour or more

A bench is a module here with `rows()`, which gives `measured.Row` one after the other; one with
`whole_rows()` as well has a size that is too large for every day.
"""

from __future__ import annotations

import argparse
import importlib
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
sys.path[0] = str(FOLDER.parents[1])  # as a script this would find only what is beside it

from tests.bench.measured import Row  # noqa: E402 - the line above makes it findable

NO_BENCH = {"run", "measured", "books", "questions"}


def benches() -> list[str]:
    """The names of the modules that measure."""
    return sorted({file.stem for file in FOLDER.glob("*.py")} - NO_BENCH)


def line(what: str, ratio: str, most: str, ok: str, detail: str) -> str:
    """One line of the table."""
    return f"{what:<58} | {ratio:>7} | {most:>6} | {ok:<4} | {detail}".rstrip()


def shown(row: Row) -> str:
    """The row as a line."""
    target = "" if row.most is None else f"{row.most:g}"
    target = target if row.least is None else f">{row.least:g}"
    ok = "" if not target else "yes" if row.ok else "NO"
    return line(row.what, f"{row.ratio:.2f}", target, ok, row.detail)


def measured(name: str, *, whole: bool) -> Iterator[Row]:
    """Every row of the bench, as it comes."""
    bench = importlib.import_module(f"tests.bench.{name}")
    yield from bench.whole_rows() if whole and hasattr(bench, "whole_rows") else bench.rows()


def each_alone(names: Sequence[str], *more: str) -> int:
    """Every bench in a process of its own, since what one leaves in memory slows the next."""
    command = [sys.executable, __file__, *more, "--only"]
    return max(subprocess.run([*command, name], check=False).returncode for name in names)


def main() -> int:
    """Prints the table; 1 when a ratio misses its target."""
    parser = argparse.ArgumentParser(prog="./dev bench")
    parser.add_argument("--only", action="append", choices=benches())
    parser.add_argument("--whole", action="store_true")
    asked = parser.parse_args()
    names = asked.only or benches()
    if len(names) > 1:
        return each_alone(names, *["--whole"] * asked.whole)
    missed = 0
    sys.stdout.write(line(names[0], "ratio", "target", "ok", "") + "\n")
    for row in measured(names[0], whole=asked.whole):
        missed += not row.ok
        sys.stdout.write(shown(row) + "\n")
        sys.stdout.flush()
    return 1 if missed else 0


if __name__ == "__main__":
    raise SystemExit(main())
