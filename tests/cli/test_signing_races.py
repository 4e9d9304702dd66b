"""What is ruled while certificates are being signed counts: nobody gets one for it."""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import datetime, timezone
from functools import partial
from hashlib import sha256
from pathlib import Path
from threading import Thread

import pytest
from tests.cli.conftest import FILE, INES, MARIT, NUMBER, PASSPHRASE, Run
from tests.cli.further_awards import further_awards
from tests.desk.signing_killer import entered, faults, forked, sign_all

from standfast.cli import show
from standfast.cli.app import run
from standfast.desk import giving
from standfast.desk.awards import find_award
from standfast.desk.giving import Gave
from standfast.desk.issuing import drafts_for
from standfast.desk.opening import Desk, Moment, open_desk
from standfast.desk.rulings import rule

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
        waiting = [happen]

        def signed(*given: object, **more: object) -> object:
            made = drafts_for(*given, **more)  # type: ignore[arg-type]
            while waiting:  # once, also when it signs itself
                waiting.pop()()
            return made

        monkeypatch.setattr("standfast.desk.giving.drafts_for", signed)

    return let


def desk_of(school: Path) -> AbstractContextManager[Desk]:
    now = datetime(2026, 11, 24, 10, tzinfo=timezone.utc)
    return open_desk(school, Moment(now, "test", secrets.token_bytes))


def issued(school: Path) -> list[str]:
    """Of which awards the book says that one was given out."""
    with desk_of(school) as desk:
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


def test_no_ruling_comes_between_what_was_asked_and_what_is_entered(
    keyed: Path, typed: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole, others = giving._came_between, []

    def asked(*given: object) -> str:
        why = whole(*given)  # type: ignore[arg-type]
        others.append(Thread(target=withdrawn_beside, args=(keyed,)))
        others[-1].start()
        others[-1].join(1)
        return why

    monkeypatch.setattr(giving, "_came_between", asked)
    told = typed("sign", NUMBER, "--out", "out")
    others[0].join()

    assert told.code == 0, told.err
    with desk_of(keyed) as desk:
        last = [one.kind for one in desk.book.history()[-2:]]
    assert last == ["credential-issued", "award-ruled"]


def withdrawn_beside(school: Path) -> None:
    """Withdrawn over a connection of its own."""
    with desk_of(school) as desk:
        rule(desk, NUMBER, "withdrawn", MARIT, "as the holder asked")


# Two who sign everything at once, into different folders


def test_what_another_run_gave_out_meanwhile_is_told_and_not_signed_again(
    keyed: Path, typed: Run, meanwhile: Callable[[Callable[[], None]], None]
) -> None:
    others = further_awards(keyed, 2)
    meanwhile(lambda: held(sign_all(keyed, Path("first"))))
    second = typed("sign", "--all", "--out", "second", "--json")
    with desk_of(keyed) as desk:
        given = {one.award: one for one in desk.book.issued()}
        numbers = {one.award.number: given[one.award.id] for one in desk.book.awards()}

    assert (second.code, second.json["certificates"]) == (0, [])
    assert second.json["not_signed"] == [
        f"{number} was given one meanwhile, by another run: urn:uuid:{one.credential}, place"
        f" {one.place} of the lists"
        for number, one in numbers.items()
    ]
    assert sorted(issued(keyed)) == sorted([NUMBER, *others])
    assert faults(keyed, Path("first")) == []
    assert list(Path("second").iterdir()) == []


def held(gave: Gave) -> None:
    assert len(gave.made) == 3


def test_one_that_holds_no_more_when_the_turn_has_come_is_none(
    keyed: Path, typed: Run, meanwhile: Callable[[Callable[[], None]], None]
) -> None:
    """The other run signed what was reduced afterwards, as this one did: the next run is good."""

    def happen() -> None:
        sign_all(keyed, Path("first"))
        reduced()

    meanwhile(happen)
    second = typed("sign", "--all", "--out", "second", "--json").json
    third = typed("sign", "--all", "--out", "second", "--json").json

    assert second["not_signed"] == [
        f"{NUMBER}: something of it was changed meanwhile; sign it again"
    ]
    assert [one["issued"]["award"] for one in third["certificates"]] == [award_of(keyed)]
    assert issued(keyed) == [NUMBER, NUMBER]


def award_of(school: Path) -> str:
    with desk_of(school) as desk:
        return find_award(desk, NUMBER).id


def test_whoever_names_one_certificate_gets_another_of_it_all_the_same(
    keyed: Path, typed: Run, meanwhile: Callable[[Callable[[], None]], None]
) -> None:
    meanwhile(lambda: sign_one(keyed, Path("first")))
    second = typed("sign", NUMBER, "--out", "out", "--json")

    assert (second.code, len(second.json["certificates"])) == (0, 1)
    assert issued(keyed) == [NUMBER, NUMBER]


def sign_one(school: Path, out: Path) -> None:
    with desk_of(school) as desk:
        giving.give_out(desk, NUMBER, PASSPHRASE, out)


def test_of_two_programs_that_sign_all_at_the_same_moment_each_award_gets_one(
    keyed: Path,
) -> None:
    """Both have signed everything before either may enter it."""
    others = further_awards(keyed, 2)
    ready, go = os.pipe(), os.pipe()
    children = [forked(partial(after_both, keyed, Path(out), ready, go)) for out in ("a", "b")]
    for _ in children:
        assert os.read(ready[0], 1) == b"."
    os.write(go[1], b"..")
    codes = [os.waitpid(child, 0)[1] for child in children]
    files = [*Path("a").iterdir(), *Path("b").iterdir()]

    assert codes == [0, 0]
    assert sorted(issued(keyed)) == sorted([NUMBER, *others])
    assert sorted(one.name for one in files) == sorted(
        f"signed-{one}.{end}" for one in (NUMBER, *others) for end in ("json", "pdf")
    )
    known = {digest for digests in entered(keyed).values() for digest in digests}
    signed = (one.read_bytes() for one in files if one.suffix == ".json")
    assert {sha256(one).hexdigest() for one in signed} == known


def after_both(school: Path, out: Path, ready: tuple[int, int], go: tuple[int, int]) -> None:
    """Signs, says so, and enters it when it may."""

    def signed(*given: object, **more: object) -> object:
        made = drafts_for(*given, **more)  # type: ignore[arg-type]
        os.write(ready[1], b".")
        assert os.read(go[0], 1) == b"."
        return made

    setattr(giving, "drafts_for", signed)  # noqa: B010 - the child's own
    sign_all(school, out)
