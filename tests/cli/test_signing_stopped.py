"""Signing that is stopped: what is entered has its files, or gets them with the next command."""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.conftest import FILE, MARIT, NUMBER, Run
from tests.cli.further_awards import further_awards
from tests.counting import kills, say
from tests.desk.signing_killer import entered, faults, forked, sign_all

ROOT = Path(__file__).parents[2]
SEED = 20261124
KILLS = kills(10)
PAPER = FILE.with_suffix(".pdf")
UNFINISHED = Path("out/signing-unfinished")


def nothing_entered(school: Path) -> bool:
    return not any(entered(school).values())


def test_a_file_named_as_the_folder(keyed: Path, typed: Run) -> None:
    Path("out").write_bytes(b"a file")
    told = typed("sign", "--all", "--out", "out")

    assert (told.code, told.out) == (2, "")
    assert told.err.strip() == "out: File exists; name another folder with --out"
    assert nothing_entered(keyed)


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to root")
def test_a_folder_in_which_nobody_may_write(keyed: Path, typed: Run) -> None:
    Path("out").mkdir(mode=0o500)
    told = typed("sign", "--all", "--out", "out")

    assert (told.code, "Permission denied" in told.err) == (2, True)
    assert nothing_entered(keyed)


@pytest.mark.parametrize("after", range(5))
def test_a_full_disk_leaves_nothing_entered_and_no_file(
    keyed: Path, typed: Run, monkeypatch: pytest.MonkeyPatch, after: int
) -> None:
    """Whichever is the first that does not fit: of two certificates, two papers, their folder."""
    further_awards(keyed, 1)
    whole, done = os.fsync, []

    def full(handle: int) -> None:
        done.append(handle)
        if len(done) > after:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        whole(handle)

    monkeypatch.setattr("standfast.desk.unfinished.os.fsync", full)
    told = typed("sign", "--all", "--out", "out")

    assert told.code == 2
    assert "No space left on device; name another folder with --out" in told.err
    assert nothing_entered(keyed)
    assert list(Path("out").iterdir()) == []


def test_a_page_that_does_not_fit_leaves_nothing_entered_and_no_file(
    keyed: Path, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Path, content: bytes) -> None:
        with self.open("wb") as out:
            out.write(content[:1000])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_bytes", full)
    told = typed("sign", "--all", "--out", "out")

    assert (told.code, "No space left on device" in told.err) == (2, True)
    assert nothing_entered(keyed)
    assert list(Path("out").iterdir()) == []


def test_what_cannot_be_put_in_its_place_is_named_and_the_same_command_does_it(
    keyed: Path, typed: Run
) -> None:
    (other,) = further_awards(keyed, 1)
    in_its_place = Path(f"out/signed-{other}.json")
    (in_its_place / "kept").mkdir(parents=True)
    told = typed("sign", "--all", "--out", "out")
    (in_its_place / "kept").rmdir()
    in_its_place.rmdir()
    again = typed("sign", "--all", "--out", "out")

    assert told.code == 2
    assert "entered in the record book, and not in their place yet: " in told.err
    assert other in told.err
    assert again.code == 0, again.err
    assert "an earlier run that was stopped had entered it; now it is in its place" in again.out
    assert faults(keyed, Path("out")) == []


def killed() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def stopped_after_it_was_entered(
    school: Path, monkeypatch: pytest.MonkeyPatch, at: str = "giving.put_in_place"
) -> None:
    """A run that is killed just before that function of the desk would run."""
    with monkeypatch.context() as patched:
        patched.setattr(f"standfast.desk.{at}", lambda *_: killed())
        _, status = os.waitpid(forked(lambda: sign_all(school, Path("out"))), 0)
    assert os.WIFSIGNALED(status)


def test_one_that_was_entered_when_the_run_was_killed_is_put_in_place_and_not_signed_again(
    keyed: Path, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    stopped_after_it_was_entered(keyed, monkeypatch)
    files = sorted(one.name for one in UNFINISHED.iterdir())
    told = typed("sign", NUMBER, "--out", "out", "--json")

    assert files == [FILE.name, PAPER.name]
    assert told.json["certificates"] == []
    assert told.json["finished"] == [{"number": NUMBER, "file": str(FILE), "paper": str(PAPER)}]
    assert faults(keyed, Path("out")) == []


def test_one_that_was_not_entered_when_the_run_was_killed_is_signed_anew(
    keyed: Path, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    stopped_after_it_was_entered(keyed, monkeypatch, "giving.entered")
    assert nothing_entered(keyed)
    assert list(UNFINISHED.iterdir())
    told = typed("sign", NUMBER, "--out", "out", "--json")

    assert (len(told.json["certificates"]), told.json["finished"]) == (1, [])
    assert faults(keyed, Path("out")) == []


def test_killed_between_paper_and_certificate(
    keyed: Path, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    stopped_after_it_was_entered(keyed, monkeypatch)
    (UNFINISHED / PAPER.name).rename(PAPER)
    told = typed("sign", "--all", "--out", "out", "--json")

    assert told.json["certificates"] == []
    assert faults(keyed, Path("out")) == []


def test_one_that_was_withdrawn_before_it_was_in_place_never_comes_there(
    keyed: Path, typed: Run, standfast: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    stopped_after_it_was_entered(keyed, monkeypatch)
    because = ("--certifier", MARIT, "--because", "as the holder asked")
    assert standfast("withdraw", NUMBER, *because).code == 0
    told = typed("sign", "--all", "--out", "out")

    assert f"{NUMBER}: not put in its place: " in told.out
    assert "withdrawn on 2026-11-24" in told.out
    assert list(Path("out").iterdir()) == []


def test_two_runs_do_not_work_in_one_folder(
    keyed: Path, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    other: list[int] = []

    def meanwhile(*given: object, **more: object) -> object:
        other.append(typed("sign", "--all", "--out", "out").code)
        return whole(*given, **more)

    whole: Callable[..., object] = _given_out()
    monkeypatch.setattr("standfast.desk.giving._given_out", meanwhile)
    assert sign_all(keyed, Path("out")).made

    assert other == [2]
    assert faults(keyed, Path("out")) == []


def _given_out() -> Callable[..., object]:
    from standfast.desk import giving

    return giving._given_out


@pytest.mark.slow
def test_whoever_is_killed_while_signing_all_has_every_file_after_the_next_run(
    keyed: Path,
) -> None:
    command = [sys.executable, "-m", "tests.desk.signing_killer", str(keyed), str(keyed / "out")]
    done = subprocess.run(
        [*command, str(SEED), str(KILLS)], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, f"seed {SEED}: {done.stderr}"
    counted = json.loads(done.stdout)

    assert counted["killed"] >= KILLS / 2, f"seed {SEED}: {counted}"
    assert 1 <= counted["left in between"] == counted["put in place"], f"seed {SEED}: {counted}"
    told = ", ".join(f"{count} {what}" for what, count in counted.items())
    say(f"signing killed {KILLS} times: {told}; 0 without their files, 0 twice")
