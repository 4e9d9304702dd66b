"""The command demo: builds the invented school, then does the main job on it while one watches."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from standfast.cli import options, show
from standfast.cli.running import run
from standfast.problems import StandfastError

MARK = "everything-here-is-invented.txt"
ALL = "certificates"
SAYS = (
    "Made by 'standfast demo', and made anew by the next one.  The school and everybody in it are"
    " invented.\nNothing here lets anybody teach anything.\n"
)


def add_to(app: typer.Typer) -> None:
    """Adds this command."""
    app.command(epilog=options.example("standfast demo --out demo-out"))(demo)


def demo(
    context: typer.Context,
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="FOLDER", help="Where everything goes.")
    ] = Path("demo-out"),
    small: Annotated[
        bool, typer.Option("--small", help="Fewer candidates, for those in a hurry.")
    ] = False,
    as_json: options.Json = False,
) -> None:
    """Do the main job on an invented school.

    Builds a school of three years, then scores, decides, awards and prints before your eyes.
    """
    from standfast.desk.demo.building import DAY, build

    _clear(out)
    say = show.remark
    say(f"building an invented school in {out / 'school'}: three years, seen on {DAY}")
    built = build(
        out / "school", options.moment(str(DAY), "office"), show.progress("days lived"), small=small
    )
    say(f"{built.people} invented people, {built.entries} entries in the record book\n")
    for command, expected in _commands(out / "school", out, str(DAY)):
        _do(context.find_root().command, command, expected, as_json=as_json)
    files = sorted(str(file) for file in out.glob("*.pdf"))
    words = [
        "\nEverything here is invented.  On paper:",
        *(f"  {file}" for file in files),
        f"The school itself, to try things on: {out / 'school'}",
        f"  standfast due --school {out / 'school'} --on {DAY}",
    ]
    show.answer(words, {"school": str(out / "school"), "files": files}, as_json=as_json)


def _clear(out: Path) -> None:
    """Removes what an earlier demonstration left, and nothing else."""
    try:
        if (out / MARK).exists():
            shutil.rmtree(out / "school", ignore_errors=True)
            for file in (*out.glob("*.pdf"), *out.glob(f"{ALL}/*.pdf")):
                file.unlink()
        elif out.exists() and any(out.iterdir()):
            raise StandfastError(f"{out} holds something already; name a new folder with --out")
        out.mkdir(parents=True, exist_ok=True)
        (out / MARK).write_text(SAYS, encoding="utf-8")
    except OSError as error:
        raise StandfastError(f"{out}: {error.strerror}; name a folder that can be made") from None


def _commands(school: Path, out: Path, day: str) -> Iterator[tuple[list[str], int]]:
    """The main job, and the exit code that each command must give."""
    sheets = school / "candidates" / "practicals"
    at = ["--school", str(school)]
    on = [*at, "--on", day]
    to = ["--out", str(out)]
    ines, parvin, rubric = "ines-carvalho-teles", "parvin-shirazi-nooshabadi", "low-trapeze-1"
    yield ["check", *at], show.YES
    for name in ("lesson-2026-10-13-hana", "lesson-2026-10-13-leilani"):
        yield ["score", str(sheets / f"{name}.yaml"), *at], show.YES
    yield ["score", str(sheets / "lesson-2026-11-03-aurelio.yaml"), *at], show.YES
    yield ["score", str(sheets / "lesson-2026-11-10-tendai.yaml"), *at], show.YES
    yield ["decide", parvin, rubric, *on], show.NO
    yield ["decide", ines, rubric, *on], show.YES
    yield ["award", ines, rubric, "--certifier", "marit-solheim-aune", *on], show.YES
    yield ["history", ines, *at], show.YES
    yield ["due", *on], show.YES
    yield ["due", "--quarter", "FY2026/27 Q2", *on], show.YES
    yield ["print", "certificate", ines, *on, *to], show.YES
    yield ["print", "record", ines, *on, *to], show.YES
    lesson = ["--candidate", parvin, "--practical", "mill-2026-11-24"]
    yield ["print", "sheet", rubric, *lesson, *at, *to], show.YES
    yield ["print", "due", *on, *to], show.YES
    every = ["--all", "--out", str(out / ALL)]
    yield ["print", "certificates", *every, *on], show.YES
    yield ["book", "audit", *at], show.YES


def _do(standfast: Callable[..., Any], command: list[str], expected: int, *, as_json: bool) -> None:
    """Runs one command as if it had been typed, and shows that line before its answer."""
    if as_json:
        with show.silenced():
            code = run(standfast, command)
    else:
        show.answer(f"$ standfast {shlex.join(command)}", None, as_json=False)
        code = run(standfast, command)
        show.answer("", None, as_json=False)
    if code != expected:
        raise StandfastError(f"'standfast {shlex.join(command)}' gave {code} instead of {expected}")
