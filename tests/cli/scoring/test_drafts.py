"""What is on the disk while a practical is scored, and what happens to it."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.cli.scoring.scripted import KEY, RUBRIC, Keyboard, score, setup
from tests.cli.scoring.test_session import BEFORE, SCRIPT, TestPaper, scored

from standfast.cli.scoring.drafts import draft_of, opened_draft, unfinished
from standfast.cli.scoring.entries import ENTRY, Entry, Event
from standfast.cli.scoring.state import replay
from standfast.problems import BadInput, StandfastError

HALF = (*BEFORE, "h 2 3", "t 1 1 yy")


def half(drafts: Path) -> Path:
    score(Keyboard(HALF), drafts)
    return draft_of(drafts, KEY)


def entries(path: Path) -> tuple[Entry, ...]:
    return tuple(ENTRY.validate_json(line) for line in path.read_bytes().splitlines()[1:])


def test_each_answer_is_one_line_before_the_next_prompt(tmp_path: Path) -> None:
    counts: list[int] = []

    class Counting(Keyboard):
        def ask(self, prompt: str, seconds: float | None = None, /) -> str | None:
            counts.append(len(draft_of(tmp_path, KEY).read_bytes().splitlines()))
            return super().ask(prompt, seconds)

    score(Counting(("3", "all", "4", "4")), tmp_path)

    assert counts == [1, 2, 3, 4, 5]


@pytest.mark.parametrize("cut", range(1, 40, 3))
def test_a_torn_last_line_is_dropped_and_said(tmp_path: Path, cut: int) -> None:
    path = half(tmp_path)
    whole = path.read_bytes()
    last = whole.splitlines(keepends=True)[-1]
    path.write_bytes(whole[: -len(last)] + last[:cut])
    keyboard = Keyboard(())
    score(keyboard, tmp_path)

    assert "torn by a crash" in keyboard.screen
    assert path.read_bytes() == whole[: -len(last)]


def test_a_last_line_of_zeros_is_torn_too(tmp_path: Path) -> None:
    path = half(tmp_path)
    whole = path.read_bytes()
    path.write_bytes(whole + b"\0" * 30 + b"\n")
    keyboard = Keyboard(())
    score(keyboard, tmp_path)

    assert "torn by a crash" in keyboard.screen
    assert path.read_bytes() == whole


def test_a_whole_draft_is_not_said_to_be_torn(tmp_path: Path) -> None:
    half(tmp_path)
    keyboard = Keyboard(())
    score(keyboard, tmp_path)

    assert "torn" not in keyboard.screen
    assert "Going on after 14 entries, in the lesson." in keyboard.screen


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        pytest.param(b'"what":"log"', b'"what":"lag"', "this line cannot be read", id="unknown"),
        pytest.param(b'{"n":3', b'{"n":4', "entry 4 where 3 is due", id="a line is missing"),
        pytest.param(b'{"n":3', b'"n":3', "this line cannot be read", id="not JSON"),
    ],
)
def test_damage_in_the_middle_is_refused_with_its_line(
    tmp_path: Path, old: bytes, new: bytes, told: str
) -> None:
    path = half(tmp_path)
    path.write_bytes(path.read_bytes().replace(old, new, 1))
    before = path.read_bytes()

    with pytest.raises(BadInput, match=rf"jsonl:4:1: .*{told}"):
        score(Keyboard(()), tmp_path)
    assert path.read_bytes() == before


def test_of_another_version_of_the_rubric_is_refused_with_the_cure(tmp_path: Path) -> None:
    path = half(tmp_path)
    before = path.read_bytes()

    with pytest.raises(StandfastError, match=r"version 1, the school now has version 2; put the"):
        score(Keyboard(()), tmp_path, rubric=RUBRIC.model_copy(update={"version": 2}))
    assert path.read_bytes() == before


def test_of_another_text_of_the_same_version_is_refused(tmp_path: Path) -> None:
    half(tmp_path)

    with pytest.raises(StandfastError, match=r"another text of version 1"):
        score(Keyboard(()), tmp_path, rubric=RUBRIC.model_copy(update={"title": "Other"}))


def test_of_another_candidate_is_refused(tmp_path: Path) -> None:
    half(tmp_path)

    with pytest.raises(StandfastError, match=r"begun for candidate 'ada-berg', not 'bo-lind'"):
        score(Keyboard(()), tmp_path, candidate="bo-lind")


def test_of_another_practical_or_assessor_is_left_alone(tmp_path: Path) -> None:
    path = half(tmp_path)
    before = path.read_bytes()
    with opened_draft(setup(practical="lesson-8"), tmp_path, lambda: KEY[:-1] + "2") as other:
        assert other.new

    assert path.read_bytes() == before
    assert len(unfinished(tmp_path)) == 2


def test_two_terminals_on_one_draft_are_refused_in_one_line(tmp_path: Path) -> None:
    with opened_draft(setup(), tmp_path, lambda: KEY), pytest.raises(StandfastError) as told:
        score(Keyboard(()), tmp_path)

    assert "is being scored in another terminal" in str(told.value)
    assert "\n" not in str(told.value)


def test_a_lock_goes_with_the_process_that_held_it(tmp_path: Path) -> None:
    driver = Path(__file__).with_name("driver.py")
    with subprocess.Popen(
        [sys.executable, str(driver), str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as other:
        assert other.stdout is not None
        while b"How many students" not in other.stdout.readline():
            if b"Students are codes" in other.stdout.peek():  # type: ignore[attr-defined]
                break
        with pytest.raises(StandfastError, match="another terminal"):
            score(Keyboard(()), tmp_path)
        other.kill()
        other.wait()

    assert score(Keyboard(()), tmp_path) is None


def test_a_draft_can_be_read_by_its_owner_only(tmp_path: Path) -> None:
    assert stat.S_IMODE(half(tmp_path).stat().st_mode) == 0o600


def test_a_folder_that_cannot_be_made_is_said_before_the_lesson(tmp_path: Path) -> None:
    (tmp_path / "drafts").write_text("a file")

    with pytest.raises(StandfastError, match="no draft can be kept here"):
        score(Keyboard(()), tmp_path / "drafts")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_read_only_folder_is_said_before_the_lesson(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)

    with pytest.raises(StandfastError, match="no draft can be kept here"):
        score(Keyboard(()), tmp_path)


@pytest.fixture(scope="session")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Entry, ...]:
    """Entries of every kind: a live lesson with undone ones, and one from paper."""
    live, paper = tmp_path_factory.mktemp("live"), tmp_path_factory.mktemp("paper")
    scored((*SCRIPT[:-1], "x 11", "o", "l 1 3 4", "x", "lesson-7"), live)
    assert score(Keyboard(TestPaper.LINES), paper, paper=True) is not None
    return (*entries(draft_of(live, KEY)), *entries(draft_of(paper, KEY)))


def test_replay_of_any_beginning_never_raises(kept: tuple[Entry, ...]) -> None:
    for k in range(len(kept) + 1):
        assert replay(kept[:k]).last == (kept[k - 1].n if k else 0)


@settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_replay_of_any_entries_in_any_order_never_raises(
    kept: tuple[Entry, ...], data: st.DataObject
) -> None:
    drawn: list[Event] = data.draw(st.lists(st.sampled_from([e.event for e in kept]), max_size=40))
    when = kept[0].when
    made = tuple(Entry(n=n, when=when, event=event) for n, event in enumerate(drawn, 1))

    state = replay(made)

    assert state.last == len(made)
    assert {e.n for e in state.in_effect} <= {e.n for e in made}


def test_a_draft_names_nobody_but_by_slug_and_code(tmp_path: Path) -> None:
    head = json.loads(half(tmp_path).read_bytes().splitlines()[0])

    assert (head["candidate"], head["assessor"]) == ("ada-berg", "kaz-ito")
    assert "Ada Berg" not in draft_of(tmp_path, KEY).read_text()
