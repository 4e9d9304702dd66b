"""More awards of a book than anybody earned, for tests of many at once."""

from __future__ import annotations

import secrets
from datetime import datetime, timezone
from pathlib import Path

from standfast.desk.opening import Moment, open_desk

NOW = datetime(2026, 11, 24, 9, tzinfo=timezone.utc)


def further_awards(school: Path, count: int) -> list[str]:
    """Enters so many awards like the newest in the book; gives their numbers."""
    with open_desk(school, Moment(NOW, "test", secrets.token_bytes)) as desk:
        award = desk.book.awards()[-1].award
        stem, numbers = award.number.rpartition("-")[0], []
        for number in (f"{stem}-{1001 + at}" for at in range(count)):
            like = award.model_copy(update={"id": desk.new_key(), "number": number})
            desk.book.put_award(like, desk.stamp())
            numbers.append(number)
    return numbers
