"""What is printed is read by a person, and obeyed by no terminal."""

from __future__ import annotations

import ast
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from standfast.cli import show
from standfast.cli.scoring.terminal import Terminal
from standfast.problems import BadInput, Place, Problem, Refused, StandfastError
from standfast.terminal import CONTROLS

SOURCE = Path(show.__file__).parents[1]
SENT = "".join(map(chr, sorted(CONTROLS)))
"""Every letter that a terminal would obey."""
WAYS_TO_PRINT = {
    *("sys.stdout.write", "sys.stderr.write", "self._screen.write"),
    *("print", "typer.echo", "typer.secho"),
}
PROBLEM = Problem(Place(f"{SENT}.yaml", 1), f"it says {SENT}", f"take {SENT} out")


def in_the_terminal(text: str) -> None:
    """Shown and asked while somebody scores."""
    with Path(os.devnull).open(encoding="utf-8") as keys:
        face = Terminal(keys, sys.stdout)
        face.say(text)
        with pytest.raises(EOFError):
            face.ask(text)


@pytest.mark.parametrize(
    "prints",
    [
        pytest.param(lambda text: show.answer(text, None, as_json=False), id="words"),
        pytest.param(lambda text: show.answer([text], None, as_json=False), id="lines"),
        pytest.param(lambda text: show.answer("", {text: text}, as_json=True), id="JSON"),
        pytest.param(show.remark, id="a remark"),
        pytest.param(
            lambda text: show.failure(StandfastError(text), as_json=False), id="what stopped it"
        ),
        pytest.param(
            lambda text: show.failure(Refused(text, [text]), as_json=False), id="what was refused"
        ),
        pytest.param(
            lambda _: show.failure(BadInput([PROBLEM]), as_json=False), id="a fault in a file"
        ),
        pytest.param(
            lambda _: show.failure(BadInput([PROBLEM]), as_json=True), id="a fault in JSON"
        ),
        pytest.param(in_the_terminal, id="scoring by asking"),
    ],
)
def test_no_control_letter_goes_out_whatever_is_printed(
    prints: Callable[[str], object], capsys: pytest.CaptureFixture[str]
) -> None:
    prints(f"Nova {SENT} Lind")
    said = "".join(capsys.readouterr())

    assert said.strip()
    assert [letter for letter in said if ord(letter) in CONTROLS] == []


def test_no_other_module_prints() -> None:
    """But the terminal in which somebody scores, held above, and the server, by its own test."""
    found = {
        path.relative_to(SOURCE).as_posix()
        for path in SOURCE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) in WAYS_TO_PRINT
    }

    assert found == {"cli/show.py", "cli/scoring/terminal.py", "web/__main__.py"}


def test_in_json_too_no_control_goes_out_and_nothing_is_lost(
    capfd: pytest.CaptureFixture[str],
) -> None:
    value = {"name": "Inês\x1b[2J\x9b1A\x7f\u202eon\n\ttwo"}
    show.answer("", value, as_json=True)
    out = capfd.readouterr().out

    assert json.loads(out) == value
    assert "Inês" in out
    assert not {"\x1b", "\x9b", "\x7f", "\u202e"} & set(out)


@pytest.mark.parametrize("turned", [*"\u202a\u202b\u202d\u202e", *"\u2066\u2067\u2068"], ids=ascii)
def test_no_name_turns_what_is_said_of_it(capfd: pytest.CaptureFixture[str], turned: str) -> None:
    """Also not one that closes what somebody else has opened."""
    show.answer(f"{turned}Noa: not passed\u202c\u2069", None, as_json=False)

    assert capfd.readouterr().out == "\ufffdNoa: not passed\ufffd\ufffd\n"


def test_lines_tabs_and_letters_of_every_script_are_shown_as_they_are(
    capfd: pytest.CaptureFixture[str],
) -> None:
    marked = "\u05e0\u05d5\u05e2\u05d4 (2)\u200f \u0646\u0648\u0631\u061c 7 \u200eAda"
    text = f"Hồ Thị Mai Lan\n\t{marked}\n佐々木 陽菜乃 \U0001f938\n"
    show.answer(text, None, as_json=False)

    assert capfd.readouterr().out == text
