"""More awards of a book than anybody earned, for tests of many at once."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta, timezone
from pathlib import Path

from standfast.desk.opening import Moment, open_desk

NOW = datetime(2026, 11, 24, 9, tzinfo=timezone.utc)


def renewal(school: Path, number: str, new: str) -> None:
    """Enters an award that renews the one of that number: the same, for a year longer."""
    with open_desk(school, Moment(NOW, "test", secrets.token_bytes)) as desk:
        kept = desk.book.find_award(number)
        assert kept is not None
        dates = kept.award.dates
        longer = dates.model_copy(update={"last_day": dates.last_day + timedelta(days=365)})
        like = {"id": desk.new_key(), "number": new, "renews": kept.award.id, "dates": longer}
        desk.book.put_award(kept.award.model_copy(update=like), desk.stamp())


def further_awards(school: Path, count: int, series: str = "A") -> list[str]:
    """Enters so many awards like the newest in the book; gives their numbers."""
    with open_desk(school, Moment(NOW, "test", secrets.token_bytes)) as desk:
        award = desk.book.awards()[-1].award
        numbers = [f"LT1-2026-{series}-{at:03}" for at in range(count)]
        for number in numbers:
            like = award.model_copy(update={"id": desk.new_key(), "number": number})
            desk.book.put_award(like, desk.stamp())
    return numbers
