"""The school's keys when something goes wrong: clocks, interruptions, thieves, slips."""

from __future__ import annotations

import io
import json
import os
import stat
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from freezegun import freeze_time
from tests.cli.conftest import INES, ISSUER, PASSPHRASE, Run
from tests.schools import copied


@pytest.fixture
def keyed(
    today: None,
    schools_with_keys: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Path:
    """The folder of the school's keys; commands run inside the school's."""
    del today
    monkeypatch.chdir(copied(schools_with_keys[0], tmp_path / "sandhof"))
    return tmp_path / "sandhof" / "keys"


def stands(standfast: Run) -> list[str]:
    """How the keys stand, oldest first."""
    return [one["stands"] for one in standfast("keys", "show", "--json").json["keys"]]


def fingerprint(standfast: Run, how: str) -> str:
    keys = standfast("keys", "show", "--json").json["keys"]
    return str(next(one["fingerprint"] for one in keys if one["stands"] == how))


# Clocks


def test_a_key_made_in_the_same_second_signs_from_then_on(
    keyed: Path, standfast: Run, typed: Run
) -> None:
    new = typed("keys", "rotate", "--json").json["fingerprint"]

    assert fingerprint(standfast, "signs") == new
    assert stands(standfast) == ["retired", "standby", "signs"]
    newer = typed("keys", "rotate", "--json").json["fingerprint"]
    assert fingerprint(standfast, "signs") == newer
    assert keyed.is_dir()


@pytest.mark.usefixtures("keyed")
@pytest.mark.parametrize("command", [("rotate",), ("lost",), ("lost", "--stolen")])
def test_a_clock_that_was_set_back_does_not_let_the_old_key_sign_on(
    standfast: Run, typed: Run, tmp_path: Path, command: tuple[str, ...]
) -> None:
    trusted = ("--trust-folder", tmp_path / "trust")
    signing = fingerprint(standfast, "signs")
    known = standfast("trust", "keys/trust.json", "--fingerprint", signing, *trusted)
    with freeze_time("2019-01-01 00:00:00", ignore=["pydantic"]):
        made = typed("keys", *command, "--json").json
        first = made if isinstance(made, dict) else made[0]

        assert fingerprint(standfast, "signs") == first["fingerprint"]
    assert (known.code, signing == first["fingerprint"]) == (0, False)
    # Others take the new list, although its clock went back.
    assert standfast("trust", "keys/trust.json", *trusted).code == 0


# Interruptions


def test_an_interrupted_rotation_changes_nothing_and_can_be_done_again(
    keyed: Path, standfast: Run, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, signs = (keyed / "trust.json").read_bytes(), fingerprint(standfast, "signs")
    replace = Path.replace

    def stops(self: Path, target: Path) -> Path:
        if Path(target).name == "trust.json":
            raise KeyboardInterrupt
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", stops)
    assert typed("keys", "rotate").code == 2
    monkeypatch.setattr(Path, "replace", replace)

    assert (keyed / "trust.json").read_bytes() == before
    assert fingerprint(standfast, "signs") == signs
    assert [one.name for one in keyed.iterdir() if one.name.startswith(".")] == []
    assert typed("keys", "rotate").code == 0
    assert fingerprint(standfast, "signs") != signs


def test_a_lost_list_is_not_taken_for_a_school_without_keys(
    keyed: Path, standfast: Run, typed: Run
) -> None:
    (keyed / "trust.json").unlink()
    shown, made = standfast("keys", "show"), typed("keys", "make", "--issuer", ISSUER)

    assert (shown.code, "trust.json" in shown.err, "keys make" in shown.err) == (2, True, False)
    assert (made.code, "key files" in made.err) == (1, True)
    assert len(list(keyed.glob("*.pem"))) == 2


def test_two_who_rotate_at_once_forget_no_key(keyed: Path, standfast: Run) -> None:
    command = [sys.executable, "-m", "standfast", "keys", "rotate", "--passphrase-stdin"]
    both = [
        subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    said = [one.communicate(f"{PASSPHRASE}\n")[1] for one in both]

    assert [one.returncode for one in both] == [0, 0], said
    assert stands(standfast) == ["retired", "standby", "retired", "signs"]
    assert len(list(keyed.glob("*.pem"))) == 4


# What the machine refuses


@pytest.mark.parametrize("name", ["trust.json", "*.pem"])
def test_a_file_that_cannot_be_read_is_said_in_a_line(keyed: Path, typed: Run, name: str) -> None:
    for file in keyed.glob(name):
        file.unlink()
        file.mkdir()  # reading a folder fails for root too
    told = typed("keys", "rotate")

    assert told.code == 2
    assert len(told.err.splitlines()) == 1
    assert "Traceback" not in told.err


def test_secret_files_are_never_for_other_eyes_not_even_for_a_moment(
    today: None, sandhof: Path, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    del today
    (sandhof / "keys").mkdir(mode=0o755)
    modes, replace = [], Path.replace

    def looks(self: Path, target: Path) -> Path:
        if Path(target).suffix == ".pem":
            modes.append(stat.S_IMODE(self.stat().st_mode))
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", looks)
    old = os.umask(0)
    try:
        assert typed("keys", "make", "--issuer", ISSUER).code == 0
    finally:
        os.umask(old)

    assert modes == [0o600, 0o600]


def test_a_link_in_the_place_of_a_key_is_not_followed(
    keyed: Path, typed: Run, tmp_path: Path
) -> None:
    paper = typed("keys", "paper", "--standby").out.splitlines()[0]
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_text("of somebody else", "utf-8")
    for file in keyed.glob("*.pem"):
        file.unlink()
        file.symlink_to(elsewhere)

    assert typed("keys", "bring", words=f"{paper}\n{PASSPHRASE}").code == 0
    assert elsewhere.read_text("utf-8") == "of somebody else"
    assert sum(not one.is_symlink() for one in keyed.glob("*.pem")) == 1


# Passphrases


@pytest.mark.usefixtures("today")
def test_a_passphrase_is_the_same_however_its_letters_were_put_together(
    sandhof: Path, typed: Run
) -> None:
    words = "vier schöne Wörter für Inês"
    one, other = (unicodedata.normalize(form, words) for form in ("NFC", "NFD"))
    del sandhof

    assert one != other
    assert typed("keys", "make", "--issuer", ISSUER, words=other).code == 0
    assert typed("keys", "rotate", words=one).code == 0
    assert typed("keys", "rotate", words=other).code == 0


@pytest.mark.parametrize("content", [b"", b"\n", b"\xff\xfe four plain words\n"])
def test_what_is_no_passphrase_is_said_in_a_line(
    keyed: Path, standfast: Run, monkeypatch: pytest.MonkeyPatch, content: bytes
) -> None:
    del keyed
    for errors in ("strict", "surrogateescape"):
        stream = io.TextIOWrapper(io.BytesIO(content), encoding="utf-8", errors=errors)
        monkeypatch.setattr(sys, "stdin", stream)
        told = standfast("keys", "rotate", "--passphrase-stdin")

        assert told.code in {1, 2}
        assert len(told.err.splitlines()) == 1


# Thieves


@pytest.fixture
def nobody_types(monkeypatch: pytest.MonkeyPatch) -> None:
    def asked(*_: object, **_more: object) -> str:
        raise AssertionError("the passphrase was asked for, and would have been typed for nothing")

    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("typer.prompt", asked)


@pytest.mark.usefixtures("nobody_types", "scored")
@pytest.mark.parametrize(
    "command",
    [
        "sign --all --out out",
        "publish --out out",
        "head --out out",
        "prove 1 --out out",
        f"hand-over {INES} --to Elsewhere --agreed 2026-11-01 --out file.json",
        "keys rotate",
        "keys lost",
        "keys paper",
        "keys bring",
        "keys revoke abc",
    ],
)
def test_a_school_without_keys_is_told_so_before_anybody_types(
    standfast: Run, command: str
) -> None:
    refused = standfast(*command.split())

    assert refused.code == 2
    assert refused.err == "keys: the school has no keys yet; 'standfast keys make' makes them\n"


@pytest.mark.usefixtures("nobody_types")
def test_what_cannot_be_done_whatever_the_passphrase_is_said_before_anybody_types(
    keyed: Path, standfast: Run, tmp_path: Path
) -> None:
    (tmp_path / "there").write_text("x", "utf-8")
    said = {
        ("keys", "make"): "has keys already",
        ("keys", "revoke", "abc"): "none of this school's keys",
        ("backup", "--out", tmp_path / "there"): "is there already",
        ("book", "restore", tmp_path / "there", "--into", keyed.parent): "none is ever overwritten",
    }
    for command, why in said.items():
        refused = standfast(*command)
        assert (refused.code, why in refused.err) == (1, True), command

    for file in keyed.glob("*.pem"):
        file.unlink()
    gone = standfast("keys", "rotate")
    assert (gone.code, "the key is not here" in gone.err) == (2, True)


def test_a_retired_key_that_was_stolen_is_revoked(keyed: Path, standfast: Run, typed: Run) -> None:
    typed("keys", "rotate")
    retired = fingerprint(standfast, "retired")
    told = typed("keys", "revoke", retired)

    assert told.code == 0
    assert stands(standfast) == ["revoked", "standby", "signs"]
    assert json.loads((keyed / "trust.json").read_text("utf-8"))["keys"][0]["revoked"]


@pytest.mark.usefixtures("keyed")
def test_a_standby_key_that_was_stolen_is_revoked_and_another_is_made(
    standfast: Run, typed: Run
) -> None:
    stolen = fingerprint(standfast, "standby")
    made = typed("keys", "revoke", stolen, "--json").json

    assert stands(standfast) == ["signs", "revoked", "standby"]
    assert fingerprint(standfast, "standby") == made[0]["fingerprint"] != stolen


@pytest.mark.usefixtures("keyed")
def test_a_fingerprint_that_begins_with_a_hyphen_is_no_option(typed: Run, standfast: Run) -> None:
    found = f"-s{'R' * 41}"
    revoking = typed("keys", "revoke", found)
    trusting = standfast("trust", "keys/trust.json", "--fingerprint", found)

    assert (revoking.code, "none of this school's" in revoking.err) == (1, True), revoking.err
    assert (trusting.code, "option" in trusting.err) == (1, False)


@pytest.mark.usefixtures("keyed")
def test_the_key_that_signs_is_not_revoked_by_hand_and_a_stranger_not_at_all(
    standfast: Run, typed: Run
) -> None:
    signing = typed("keys", "revoke", fingerprint(standfast, "signs"))
    stranger = typed("keys", "revoke", "x" * 43)

    assert (signing.code, "keys lost --stolen" in signing.err) == (1, True)
    assert (stranger.code, "none of this school's" in stranger.err) == (1, True)
    assert stands(standfast) == ["signs", "standby"]


def test_a_thief_does_not_bring_a_revoked_key_back_with_its_own_fingerprint(
    keyed: Path, standfast: Run, typed: Run, tmp_path: Path
) -> None:
    trusted = ("--trust-folder", tmp_path / "trust")
    before = tmp_path / "before.json"
    before.write_bytes((keyed / "trust.json").read_bytes())
    stolen = fingerprint(standfast, "signs")
    assert standfast("trust", before, "--fingerprint", stolen, *trusted).code == 0
    with freeze_time("2026-11-25 10:00:00", ignore=["pydantic"]):
        assert typed("keys", "lost", "--stolen").code == 0
        assert standfast("trust", "keys/trust.json", *trusted).code == 0
        # The fingerprint is still on every paper of the time before.
        back = standfast("trust", before, "--fingerprint", stolen, *trusted)

    assert (back.code, "revoked" in back.err) == (1, True)


@pytest.mark.usefixtures("keyed")
def test_an_older_list_is_not_believed_again(standfast: Run, typed: Run, tmp_path: Path) -> None:
    trusted = ("--trust-folder", tmp_path / "trust")
    signs = fingerprint(standfast, "signs")
    before = tmp_path / "before.json"
    before.write_bytes(Path("keys/trust.json").read_bytes())
    assert typed("keys", "rotate").code == 0
    assert standfast("trust", "keys/trust.json", "--fingerprint", signs, *trusted).code == 0

    for more in ((), ("--fingerprint", signs)):
        older = standfast("trust", before, *more, *trusted)
        assert (older.code, "older" in older.err) == (1, True)


@pytest.mark.usefixtures("keyed")
def test_a_list_signed_by_its_statements_alone_is_refused_in_a_line(
    standfast: Run, tmp_path: Path
) -> None:
    told = json.loads(Path("keys/trust.json").read_text("utf-8"))
    told["proof"][0]["cryptosuite"] = "eddsa-rdfc-2022"
    file = tmp_path / "offered.json"
    file.write_text(json.dumps(told), "utf-8")
    refused = standfast("trust", file, "--fingerprint", fingerprint(standfast, "signs"))

    assert (refused.code, "every byte" in refused.err) == (2, True)


@pytest.mark.usefixtures("keyed")
def test_nothing_that_somebody_sends_moves_the_cursor(standfast: Run, tmp_path: Path) -> None:
    file = tmp_path / "offered \x1b[2J\x9b1A.json"
    file.write_text("{}", "utf-8")
    refused = standfast("trust", file)

    assert refused.code == 2
    assert not {"\x1b", "\x9b"} & set(refused.err + refused.out)
    assert "[2J" in refused.err
