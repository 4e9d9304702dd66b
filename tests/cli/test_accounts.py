"""Accounts at the command line, and what `serve` says when it cannot."""

from __future__ import annotations

import io
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from tests.cli.conftest import Ran, Run

from standfast.desk.access import matches
from standfast.desk.opening import where_the_book_is
from standfast.store.connect import open_book

WORDS = "four plain words here"


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{WORDS}\n"))


def add(standfast: Run, *more: str) -> Ran:
    return standfast("account", "add", "hana", *more, "--password-stdin")


@pytest.mark.usefixtures("scored", "typed")
def test_an_account_is_made_and_listed(standfast: Run) -> None:
    made = add(standfast, "--person", "hana-dvorakova", "--role", "lead", "--role", "assessor")
    listed = standfast("account", "list", "--json").json

    assert made.code == 0
    assert made.out == "hana may sign in, as assessor, lead\n"
    assert [(one["login"], one["person"], one["roles"]) for one in listed] == [
        ("hana", "hana-dvorakova", ["assessor", "lead"])
    ]
    assert WORDS not in str(listed)


@pytest.mark.usefixtures("scored")
@pytest.mark.parametrize(
    ("password", "more", "code", "words"),
    [
        (WORDS, (), 1, "an account needs a role"),
        (WORDS, ("--role", "assessor"), 1, "name the person"),
        ("short", ("--role", "office"), 1, "12 to 200 characters"),
        (WORDS, ("--role", "ofice"), 2, "did you mean 'office'?"),
        (WORDS, ("--role", "office", "--person", "hana-dvorakov"), 2, "did you mean"),
    ],
)
def test_an_account_that_would_not_do_is_not_made(
    standfast: Run,
    monkeypatch: pytest.MonkeyPatch,
    password: str,
    more: tuple[str, ...],
    code: int,
    words: str,
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{password}\n"))
    refused = add(standfast, *more)

    assert refused.code == code
    assert words in refused.err
    assert standfast("account", "list", "--json").json == []


@pytest.mark.usefixtures("scored", "typed")
def test_a_login_is_given_once(standfast: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert add(standfast, "--role", "office").code == 0
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{WORDS}\n"))

    assert "the login hana is taken" in add(standfast, "--role", "lead").err


@pytest.mark.usefixtures("scored", "typed")
def test_a_pin_is_set_and_one_that_is_none_refused(
    standfast: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{WORDS}\n4711\n"))
    hers = ("--role", "assessor", "--person", "hana-dvorakova", "--pin-stdin")
    assert add(standfast, *hers).code == 0
    assert pin_of("hana", "4711")
    monkeypatch.setattr("sys.stdin", io.StringIO("2580\n"))
    assert standfast("account", "change", "hana", "--pin-stdin").code == 0
    assert pin_of("hana", "2580")
    monkeypatch.setattr("sys.stdin", io.StringIO("25x\n"))
    refused = standfast("account", "change", "hana", "--pin-stdin")

    assert (refused.code, "4 to 8 digits" in refused.err) == (1, True)


def pin_of(login: str, pin: str) -> bool:
    with open_book(where_the_book_is(Path())) as book:
        found = book.access.find(login)
    assert found is not None
    assert found[1].pin is not None
    return matches(found[1].pin, pin)


@pytest.mark.usefixtures("scored", "typed")
def test_a_person_has_one_account(standfast: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    hers = ("--role", "assessor", "--person", "hana-dvorakova")
    assert add(standfast, *hers).code == 0
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{WORDS}\n"))
    second = standfast("account", "add", "hana-again", "--password-stdin", *hers)

    assert second.code == 1
    assert "hana-dvorakova has the account hana" in second.err
    standfast("account", "close", "hana")
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{WORDS}\n"))
    assert standfast("account", "add", "hana-again", "--password-stdin", *hers).code == 0


@pytest.mark.usefixtures("scored", "typed")
def test_an_account_is_changed_and_closed(standfast: Run) -> None:
    add(standfast, "--role", "office")
    changed = standfast("account", "change", "hana", "--role", "reader", "--json").json
    closed = standfast("account", "close", "hana", "--json").json

    assert changed["roles"] == ["reader"]
    assert closed["closed"] is not None
    assert standfast("account", "close", "hanna").code == 2
    assert "nothing to change" in standfast("account", "change", "hana").err


def test_serve_says_when_the_port_is_taken(scored: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        command = [sys.executable, "-m", "standfast", "serve", "--port", str(port)]
        refused = subprocess.run(command, cwd=scored, capture_output=True, text=True, check=False)

    assert refused.returncode == 2
    assert f"port {port}" in refused.stderr
    assert "choose another with --port" in refused.stderr


def test_serve_needs_a_school(standfast: Run, tmp_path: Path) -> None:
    refused = standfast("serve", "--school", tmp_path)

    assert refused.code == 2
    assert "no school lives in this folder" in refused.err
