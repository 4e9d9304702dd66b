"""How commands are listed under --help: the whole first sentence of each, by what one wants."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

import typer.core

NO_LIMIT = 10_000
"""Of the letters of a first sentence: a sentence that does not fit its line goes on in the next."""


class Listed(typer.core.TyperGroup):
    """A group whose help lists every command with a whole sentence."""

    headings: ClassVar[Mapping[str, Sequence[str]]] = {}
    """What stands under which heading; all that is in none stands under "Commands"."""

    def format_commands(
        self,
        ctx: Any,  # noqa: ANN401 - typer keeps its own classes to itself
        formatter: Any,  # noqa: ANN401 - the same
    ) -> None:
        """Write the list, the headings in their order."""
        told = {
            name: command.get_short_help_str(NO_LIMIT)
            for name in self.list_commands(ctx)
            if (command := self.get_command(ctx, name))
        }
        width = max(len(name) for name in told)
        under = {title: [n for n in names if n in told] for title, names in self.headings.items()}
        rest = told.keys() - {name for names in under.values() for name in names}
        for title, names in {**under, "Commands": [name for name in told if name in rest]}.items():
            if names:
                with formatter.section(title):
                    formatter.write_dl([(f"{name:<{width}}", told[name]) for name in names])


class Top(Listed):
    """The command `standfast` itself."""

    headings: ClassVar[Mapping[str, Sequence[str]]] = {
        "Assess": ("score", "decide", "award", "history", "print"),
        "Keep current": ("due", "standing", "holds", "plan", "forecast"),
        "Keep assessors in step": ("assessors", "reference", "calibrate", "compare"),
        "Rule, and answer who objects": (
            *("suspend", "reinstate", "withdraw", "reduce", "restore"),
            *("appeal", "complain", "answer", "appeals"),
        ),
        "Certificates that anybody can check": (
            *("keys", "sign", "publish", "trust", "verify", "head", "prove"),
        ),
        "Set up a school": ("new", "check", "people", "key", "account", "serve", "demo"),
        "Look after the book": (
            *("book", "backup", "export", "hand-over", "take-in", "federation"),
        ),
    }
