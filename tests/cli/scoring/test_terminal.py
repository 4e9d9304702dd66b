"""The same session in a real terminal and behind a pipe, interrupted and killed."""

from __future__ import annotations

import json
import random
import re
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pexpect
import pytest
from tests.cli.typed import heed_ctrl_c

from standfast.cli.scoring.drafts import unfinished
from standfast.cli.scoring.entries import ENTRY, Entry
from standfast.cli.scoring.state import replay

DRIVER = Path(__file__).with_name("driver.py")
SCRIPT = (
    *("3", "all", "4 4", "1 0", "5", "l", "2 looked twice", ""),
    *("h 2 3", "gt 1 3", "y", "-", "y", "t 3 1", "yn", "n", "i 2 1 hand on the arm"),
    *("+ voice low", "u 1 2", "x", "s", "2", "-", "lesson-7"),
)
PROMPT = r"(?:\?\] |what to look for\] |> )$"
TIMES = re.compile(r'"(at|began|id|minutes)":("[^"]*"|\d+),?')


def begin(drafts: Path) -> pexpect.spawn[str]:
    child = pexpect.spawn(
        sys.executable,
        [str(DRIVER), str(drafts)],
        encoding="utf-8",
        dimensions=(24, 80),
        timeout=20,
        preexec_fn=heed_ctrl_c,
        env={"TERM": "dumb", "PATH": "/usr/bin:/bin", "PYTHONPATH": str(src())},
    )
    child.delaybeforesend = None
    return child


def src() -> Path:
    return Path(__file__).resolve().parents[3] / "src"


def answer(child: pexpect.spawn[str], lines: tuple[str, ...]) -> None:
    for line in lines:
        child.expect(PROMPT)
        child.sendline(line)


def sheet_of(child: pexpect.spawn[str]) -> dict[str, Any]:
    """The signed sheet without what differs from run to run: times and its key."""
    child.expect(r"SHEET (\{.*\})\r\n")
    assert isinstance(child.match, re.Match)
    told: dict[str, Any] = timeless(child.match.group(1))
    child.expect(pexpect.EOF)
    return told


def timeless(sheet: str) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(TIMES.sub("", sheet).replace(",}", "}"))
    return told


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    child = begin(tmp_path_factory.mktemp("whole"))
    answer(child, SCRIPT)
    return sheet_of(child)


@pytest.mark.parametrize("k", range(len(SCRIPT)))
def test_ctrl_c_at_any_prompt_of_a_terminal_loses_nothing(
    tmp_path: Path, whole: dict[str, Any], k: int
) -> None:
    child = begin(tmp_path)
    answer(child, SCRIPT[:k])
    child.expect(PROMPT)
    child.sendintr()
    child.expect("every answer is kept. To go on: standfast score")
    child.expect(pexpect.EOF)
    child.close()
    again = begin(tmp_path)
    answer(again, SCRIPT[k:])

    assert child.exitstatus == 0
    assert sheet_of(again) == whole


def test_ctrl_d_leaves_the_draft_and_says_how_to_go_on(tmp_path: Path) -> None:
    child = begin(tmp_path)
    answer(child, SCRIPT[:3])
    child.expect(PROMPT)
    child.sendeof()

    child.expect("To go on: standfast score")
    assert len(unfinished(tmp_path)) == 1


def kept(drafts: Path) -> tuple[Entry, ...]:
    ((path, _),) = unfinished(drafts)
    lines = path.read_bytes().split(b"\n")[1:-1]
    return tuple(ENTRY.validate_json(line) for line in lines)


@pytest.mark.parametrize("seed", range(12))
def test_a_kill_at_any_prompt_loses_no_acknowledged_answer(
    tmp_path: Path, whole: dict[str, Any], seed: int
) -> None:
    k = random.Random(seed).randrange(1, len(SCRIPT))
    child = begin(tmp_path)
    answer(child, SCRIPT[:k])
    child.expect(PROMPT)
    child.kill(signal.SIGKILL)
    child.wait()
    before = kept(tmp_path)
    again = begin(tmp_path)
    answer(again, SCRIPT[k:])

    assert sheet_of(again) == whole
    assert kept(tmp_path)[: len(before)] == before
    assert replay(before).last == len(before) > 0


@pytest.mark.parametrize("seed", range(6))
def test_a_kill_while_an_answer_is_written_keeps_all_before_it(
    tmp_path: Path, whole: dict[str, Any], seed: int
) -> None:
    k = random.Random(seed).randrange(1, len(SCRIPT))
    child = begin(tmp_path)
    answer(child, SCRIPT[:k])
    child.kill(signal.SIGKILL)
    child.wait()
    acknowledged = k - 1
    again = begin(tmp_path)
    again.expect(PROMPT)
    again.sendline("e 99")
    again.expect(PROMPT)
    again.sendintr()
    again.expect(pexpect.EOF)
    last = begin(tmp_path)
    answer(last, SCRIPT[acknowledged + _written(tmp_path, acknowledged) :])

    assert sheet_of(last) == whole


def _written(drafts: Path, acknowledged: int) -> int:
    """Whether the answer that was under way when the kill came is there: one, or none."""
    return int(len(kept(drafts)) > _entries_after(acknowledged))


def _entries_after(lines: int) -> int:
    """How many entries the first so many lines of the script make."""
    makes = (1, 1, 2, 2, 1, 1, 1, 1, 1, 2, 1, 1, 1, 1, 2, 1, 1, 1, 1, 1, 1, 1, 1, 1)
    return sum(makes[:lines])


def test_a_pipe_does_as_well_as_a_keyboard(tmp_path: Path, whole: dict[str, Any]) -> None:
    done = subprocess.run(
        [sys.executable, str(DRIVER), str(tmp_path)],
        input="\n".join(SCRIPT) + "\n",
        capture_output=True,
        text=True,
        check=True,
        timeout=30,
        env={"PATH": "/usr/bin:/bin", "PYTHONPATH": str(src())},
    )
    told = done.stdout.split("SHEET ")[1]

    assert timeless(told) == whole
    assert "How many students? [1-30, x undo, ?] 3\n" in done.stdout


def test_a_last_line_that_a_pipe_cuts_off_is_not_used(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, str(DRIVER), str(tmp_path)],
        input="1",
        capture_output=True,
        text=True,
        check=True,
        timeout=30,
        env={"PATH": "/usr/bin:/bin", "PYTHONPATH": str(src())},
    )

    assert kept(tmp_path) == ()


def test_keys_that_are_no_text_are_refused(tmp_path: Path) -> None:
    child = begin(tmp_path)
    child.expect(PROMPT)
    child.sendline("\x1b[A")
    assert child.expect("keys in it that are no letters") == 0
    child.expect(PROMPT)
    child.sendline("+ caf\xe9 \u2603")
    assert child.expect("kept: note: caf\xe9 \u2603") == 0
    child.close(force=True)
