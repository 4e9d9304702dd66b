"""An old certificate, within its days, of an award that goes on in another one."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.cli.conftest import FILE, MARIT, NUMBER, Run
from tests.cli.further_awards import renewal
from tests.cli.test_sealing import LISTS, believed, found

RENEWED, AGAIN = "LT1-2026-0801", "LT1-2026-0802"
BECAUSE = ("--certifier", MARIT, "--because", "as the holder asked")
WITHOUT = ("--without", "knee-hang-rise")


def taken_back(typed: Run, standfast: Run) -> dict[str, str]:
    assert typed("publish", "--out", "out").code == 0
    told = found(standfast("verify", FILE, *LISTS, "--json"))
    return {one: told[one] for one in ("revocation", "suspension")}


@pytest.mark.parametrize(
    ("ruled", "wanted"),
    [
        pytest.param((), ("yes", "yes"), id="a renewal alone"),
        pytest.param(("withdraw", RENEWED, *BECAUSE), ("no", "yes"), id="withdrawn"),
        pytest.param(("suspend", RENEWED, *BECAUSE), ("yes", "no"), id="suspended"),
        pytest.param(("reduce", RENEWED, *WITHOUT, *BECAUSE), ("no", "yes"), id="reduced"),
    ],
)
def test_the_old_certificate_says_what_became_of_the_award_that_renewed_it(
    keyed: Path, typed: Run, standfast: Run, ruled: tuple[str, ...], wanted: tuple[str, str]
) -> None:
    believed(standfast)
    typed("sign", NUMBER, "--out", "out")
    renewal(keyed, NUMBER, RENEWED)
    if ruled:
        assert standfast(*ruled).code == 0

    assert tuple(taken_back(typed, standfast).values()) == wanted


def test_one_that_says_no_more_than_is_left_holds(keyed: Path, typed: Run, standfast: Run) -> None:
    believed(standfast)
    assert standfast("reduce", NUMBER, *WITHOUT, *BECAUSE).code == 0
    typed("sign", NUMBER, "--out", "out")
    renewal(keyed, NUMBER, RENEWED)
    assert standfast("reduce", RENEWED, *WITHOUT, *BECAUSE).code == 0

    assert set(taken_back(typed, standfast).values()) == {"yes"}


def test_what_is_renewed_twice_is_followed_to_the_end(
    keyed: Path, typed: Run, standfast: Run
) -> None:
    believed(standfast)
    typed("sign", NUMBER, "--out", "out")
    renewal(keyed, NUMBER, RENEWED)
    renewal(keyed, RENEWED, AGAIN)
    assert standfast("suspend", AGAIN, *BECAUSE).code == 0
    suspended = taken_back(typed, standfast)
    assert standfast("reinstate", AGAIN, *BECAUSE).code == 0
    reinstated = taken_back(typed, standfast)
    assert standfast("withdraw", AGAIN, *BECAUSE).code == 0
    withdrawn = taken_back(typed, standfast)

    assert [tuple(one.values()) for one in (suspended, reinstated, withdrawn)] == [
        ("yes", "no"),
        ("yes", "yes"),
        ("no", "yes"),
    ]


def test_what_was_taken_from_one_on_the_way_does_not_come_back(
    keyed: Path, typed: Run, standfast: Run
) -> None:
    """A certificate that was revoked stays so, whatever a later award covers again."""
    believed(standfast)
    typed("sign", NUMBER, "--out", "out")
    renewal(keyed, NUMBER, RENEWED)
    assert standfast("reduce", RENEWED, *WITHOUT, *BECAUSE).code == 0
    renewal(keyed, RENEWED, AGAIN)

    assert taken_back(typed, standfast)["revocation"] == "no"
