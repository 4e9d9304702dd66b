"""What is ruled while certificates are being signed counts: nobody gets one for it."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import datetime, timezone
from pathlib import Path

import pytest
from tests.cli.conftest import FILE, INES, MARIT, NUMBER, Run
from tests.cli.further_awards import further_awards

from standfast.cli import show
from standfast.cli.app import run
from standfast.desk.issuing import drafts_for
from standfast.desk.opening import Moment, open_desk

BECAUSE = ("--certifier", MARIT, "--because", "as the holder asked")


def silently(*command: str) -> None:
    """Runs a command while another one runs."""
    with show.silenced():
        assert run([*command]) == 0


def withdrawn() -> None:
    silently("withdraw", NUMBER, *BECAUSE)


def suspended() -> None:
    silently("suspend", NUMBER, *BECAUSE)


def reduced() -> None:
    silently("reduce", NUMBER, "--without", "knee-hang-rise", *BECAUSE)


def erased() -> None:
    silently("book", "forget", INES, "--yes")


@pytest.fixture
def meanwhile(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], None]], None]:
    """Lets something happen after certificates were signed, and before they are entered."""

    def let(happen: Callable[[], None]) -> None:
        def signed(*given: object, **more: object) -> object:
            made = drafts_for(*given, **more)  # type: ignore[arg-type]
            happen()
            return made

        monkeypatch.setattr("standfast.desk.giving.drafts_for", signed)

    return let


def issued(school: Path) -> list[str]:
    """Of which awards the book says that one was given out."""
    now = datetime(2026, 11, 24, 10, tzinfo=timezone.utc)
    with open_desk(school, Moment(now, "test", secrets.token_bytes)) as desk:
        numbers = {one.award.id: one.award.number for one in desk.book.awards(past=True)}
        return [numbers[one.award] for one in desk.book.issued()]


@pytest.mark.parametrize(
    ("happens", "says"),
    [
        (withdrawn, "LT1-2026-0001 is withdrawn on 2026-11-24: withdrawn on 2026-11-24"),
        (suspended, "LT1-2026-0001 is suspended on 2026-11-24: suspended on 2026-11-24"),
        (reduced, "LT1-2026-0001: something of it was changed meanwhile; sign it again"),
        (erased, "LT1-2026-0001: its holder's name was erased"),
    ],
)
def test_what_was_ruled_while_it_was_signed_leaves_no_certificate(
    keyed: Path,
    typed: Run,
    meanwhile: Callable[[Callable[[], None]], None],
    happens: Callable[[], None],
    says: str,
) -> None:
    meanwhile(happens)
    refused = typed("sign", NUMBER, "--out", "out")

    assert (refused.code, says in refused.err) == (1, True)
    assert issued(keyed) == []
    assert not FILE.exists()


def test_of_many_only_that_one_is_left_out_and_it_is_said_why(
    keyed: Path, typed: Run, meanwhile: Callable[[Callable[[], None]], None]
) -> None:
    others = further_awards(keyed, 2)
    meanwhile(withdrawn)
    told = typed("sign", "--all", "--out", "out", "--json")

    assert told.code == 0
    assert told.json["not_signed"] == [
        f"{NUMBER} is withdrawn on 2026-11-24: withdrawn on 2026-11-24"
    ]
    assert issued(keyed) == others
    files = sorted(one.name for one in Path("out").iterdir())
    assert files == sorted(f"signed-{one}.{end}" for one in others for end in ("json", "pdf"))


def test_in_words_it_is_said_too(
    keyed: Path, typed: Run, meanwhile: Callable[[Callable[[], None]], None]
) -> None:
    del keyed
    meanwhile(withdrawn)
    told = typed("sign", "--all", "--out", "out")

    assert told.code == 0
    assert f"not signed: {NUMBER} is withdrawn on 2026-11-24: withdrawn on 2026-11-24" in told.out
    assert "every award" not in told.out
