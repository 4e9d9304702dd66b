"""Commands that rule on an award: suspend, reinstate, withdraw, reduce, restore."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standfast.cli import options, show
from standfast.model.caution import CAUTION

if TYPE_CHECKING:
    from standfast.model.award import RulingKind


def add_to(app: typer.Typer) -> None:
    """Adds these commands."""
    who = "LT1-2026-0010 --certifier marit-solheim-aune --on 2026-11-20"
    for command, verb in ((suspend, "suspend"), (reinstate, "reinstate"), (withdraw, "withdraw")):
        example = options.example(f'standfast {verb} {who} --because "asked to by her"')
        app.command(epilog=example)(command)
    app.command(
        epilog=options.example(
            f'standfast reduce {who} --without tuck-turn --because "wrist is hurt"'
        )
    )(reduce)
    app.command(
        epilog=options.example(f'standfast restore {who} --because "seen again, all well"')
    )(restore)


Award = Annotated[
    str,
    typer.Argument(metavar="AWARD", help="The certificate's number, or who holds just this one."),
]
Ruler = Annotated[str, typer.Option("--certifier", help="Who rules; may confirm such decisions.")]
Because = Annotated[
    str, typer.Option(help="Why, naming nobody; it stands in the history, on no paper.")
]


def suspend(
    award: Award,
    ruler: Ruler,
    because: Because,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Suspend an award until it is reinstated."""
    _rule(award, "suspended", ruler, because, (folder, on, by), as_json=as_json)


def reinstate(
    award: Award,
    ruler: Ruler,
    because: Because,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Let a suspended award count again."""
    _rule(award, "reinstated", ruler, because, (folder, on, by), as_json=as_json)


def withdraw(
    award: Award,
    ruler: Ruler,
    because: Because,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Withdraw an award for good."""
    _rule(award, "withdrawn", ruler, because, (folder, on, by), as_json=as_json)


def reduce(
    award: Award,
    without: Annotated[
        list[str], typer.Option(metavar="SKILL", help="A skill to take away; say it for each.")
    ],
    ruler: Ruler,
    because: Because,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Reduce the scope of an award.

    It goes on without the skills named, also when a refresher renews it, until restored or until
    a full practical is passed.
    """
    _rule(award, "reduced", ruler, because, (folder, on, by), without=without, as_json=as_json)


def restore(
    award: Award,
    ruler: Ruler,
    because: Because,
    folder: options.Folder = options.HERE,
    on: options.On = None,
    by: options.By = None,
    as_json: options.Json = False,
) -> None:
    """Give an award its full scope back."""
    _rule(award, "restored", ruler, because, (folder, on, by), as_json=as_json)


def _rule(
    award: str,
    kind: RulingKind,
    ruler: str,
    because: str,
    where: tuple[Path, str | None, str | None],
    *,
    without: Sequence[str] = (),
    as_json: bool,
) -> None:
    from standfast.cli import words
    from standfast.desk.people import enter_files
    from standfast.desk.rulings import rule

    folder, on, by = where
    with options.desk(folder, on, by or ruler) as desk:
        enter_files(desk)
        ruled = rule(desk, award, kind, ruler, because, without)
    state = ruled.standing
    text = [
        f"{ruled.award.number}, {ruled.award.scope.title}, {ruled.holder.name}: {kind}",
        f"  stands as {state.state}: {state.because}",
        *(words.wrapped("; ".join(ruled.skills), "    ", "  covers: ") if ruled.skills else []),
        *([f"  next: {state.next_step}"] if state.next_step else []),
        "",
        *words.wrapped(CAUTION),
    ]
    value = {
        "certificate": ruled.award.number,
        "standing": state.model_dump(mode="json"),
        "skills": ruled.skills,
        "entry": ruled.entry,
        "caution": CAUTION,
    }
    show.answer(text, value, as_json=as_json)
