"""What is there as long as the server runs: the school's folder, its open book, the clock."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.opening import Desk, Moment

if TYPE_CHECKING:
    from starlette.datastructures import ImmutableMultiDict
    from starlette.requests import Request

    from standfast.desk.comparing import Comparison
    from standfast.store.book import Book


@dataclass(frozen=True)
class Typed:
    """What stood in a form that was sent after the session's end."""

    path: str
    """Where it was sent to."""
    form: ImmutableMultiDict[str, str]
    at: datetime


@dataclass(frozen=True)
class House:
    """A school that is open for visitors."""

    root: Path
    book: Book
    now: Callable[[], datetime]
    random: Callable[[int], bytes]
    on: date | None = None
    """The day that counts as today; for the invented school, whose days are over."""
    hashing: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(2))
    """A password takes 64 MiB to check: two at a time."""

    planning: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(1))
    """A plan of a day can take a core for a while: one at a time."""

    typed: dict[str, Typed] = field(default_factory=dict)
    """By account, the last form that could not be taken since it had to sign in again."""

    compared: dict[object, Comparison] = field(default_factory=dict)
    """The last comparison of assessors, by what it was made from."""

    def desk(self, who: str = "web") -> Desk:
        """The desk now; `who` is doing this."""
        return Desk(self.root, Moment(self.now(), who, self.random, self.on), self.book)


def house_of(request: Request) -> House:
    """The house of the application that answers."""
    house: House = request.app.state.house
    return house
