"""What the school's rules on keeping (`keep:` in school.yaml) let go, and letting it go."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import TYPE_CHECKING, cast
from zoneinfo import ZoneInfo

from standfast.desk.books import forget
from standfast.desk.opening import Desk
from standfast.engine.dates import add, subtract
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.model.people import Person

Days = Mapping[str, Mapping[str, str]]
"""By slug and kind of reason the last day."""
Kept = dict[str, list[tuple[date, str]]]
"""By slug, until when a name is kept and why."""

NEVER = (
    ("the journal", "every entry is part of the tree, and shows who judged on what"),
    ("tree heads", "others were given them, and hold the book to them"),
    ("records of devices", "they show what a signed sheet was made from, with people as numbers"),
    ("devices", "a revoked one must stay known as revoked"),
)
"""What stays whatever the rules say, and why."""


QUIET_DAYS = 90
"""After so long without an entry a clock is more likely wrong than right; ours, no source."""


@dataclass(frozen=True)
class Leaving:
    """Something that a rule lets go."""

    kind: str
    """As in the rule: names, accounts, sessions, failures or held."""
    what: str
    last: date
    """The last day on which it was needed."""
    because: str
    rule: str
    """The period."""
    key: object = None
    """What the store knows it by."""


def leaving(desk: Desk) -> tuple[Leaving, ...]:
    """What goes on the desk's day: what was needed last longer ago than its rule says.

    By kind; nothing of a kind without a rule.
    """
    rules = desk.school.keep
    found: list[Leaving] = []
    for kind, look in _LOOKS.items():
        period = getattr(rules, kind)
        if period is not None:
            found += [replace(one, kind=kind, rule=period) for one in look(desk, period)]
    return tuple(found)


def clock_in_doubt(desk: Desk) -> str:
    """Why the clock may be wrong, by which everything would go at once; empty when it is not."""
    newest = desk.book.newest(1)
    last = _day(desk, newest[0].at) if newest else desk.calendar_day
    if (desk.calendar_day - last).days <= QUIET_DAYS:
        return ""
    return (
        f"the clock says {desk.calendar_day}, and the newest entry of the book is of {last}, more"
        f" than {QUIET_DAYS} days before"
    )


def let_go(desk: Desk, *, clock_is_right: bool = False) -> tuple[Leaving, ...]:
    """Lets go of all that `leaving` gives, and gives it.

    Names go by erasing, one entry each.

    Raises:
        Refused: another day than today is asked about; nothing was entered for long, and nobody
            says that the clock is right.
    """
    if desk.today != desk.calendar_day:
        raise Refused("what goes is what has to go today; leave out --on, or --do-it")
    found = leaving(desk)
    if found and not clock_is_right and (doubt := clock_in_doubt(desk)):
        raise Refused(
            "nothing was let go:",
            [f"{doubt}; mend the clock, or say --clock-is-right when it is"],
        )
    by_kind = {kind: [one for one in found if one.kind == kind] for kind in _LOOKS}
    keeping = desk.book.keeping
    keeping.forget_settled([cast("int", one.key) for one in by_kind["held"]])
    for kind, end in (
        ("sessions", keeping.end_unused_sessions),
        ("failures", keeping.forget_failures),
    ):
        if by_kind[kind]:
            end(_before(desk, by_kind[kind][0].rule))
    keeping.delete_accounts([one.what for one in by_kind["accounts"]])
    for one in by_kind["names"]:
        forget(desk, one.what)
    return found


def _before(desk: Desk, period: str) -> datetime:
    """The first instant that is kept: the begin of the day that lies the period before."""
    return datetime.combine(subtract(desk.today, period), time(), ZoneInfo(desk.school.zone))


def _day(desk: Desk, instant: str) -> date:
    return datetime.fromisoformat(instant).astimezone(ZoneInfo(desk.school.zone)).date()


def _held(desk: Desk, period: str) -> Iterator[Leaving]:
    for key, at in desk.book.keeping.settled(_before(desk, period)):
        day = _day(desk, at)
        yield Leaving("", f"held record {key}", day, f"settled on {day}", "", key)


def _sessions(desk: Desk, period: str) -> Iterator[Leaving]:
    for login, seen in desk.book.keeping.unused_sessions(_before(desk, period)):
        day = _day(desk, seen)
        yield Leaving("", f"a session of {login}", day, f"used last on {day}", "")


def _failures(desk: Desk, period: str) -> Iterator[Leaving]:
    for whose, last in desk.book.keeping.old_failures(_before(desk, period)):
        day = _day(desk, last)
        yield Leaving("", f"failures of {whose}", day, f"the last on {day}", "")


def _accounts(desk: Desk, period: str) -> Iterator[Leaving]:
    for login, closed in desk.book.keeping.closed_accounts(_before(desk, period)):
        day = _day(desk, closed)
        yield Leaving("", str(login), day, f"closed on {day}", "")


def _names(desk: Desk, period: str) -> Iterator[Leaving]:
    """Whoever leaves keeps nobody else: a trainer may go with the last of her trainees."""
    known, staying = desk.book.keeping.last_days(), {one.id: one for one in desk.book.people()}
    at_hand = _with_others(desk)
    while going := list(_going(desk, period, staying.values(), known, at_hand)):
        yield from going
        for one in going:
            del staying[one.what]


def _going(
    desk: Desk, period: str, people: Collection[Person], known: Days, at_hand: Kept
) -> Iterator[Leaving]:
    trained: Kept = {}
    for who in people:
        for tie in who.trained_by:
            last = tie.until or desk.today
            trained.setdefault(tie.trainer, []).append((last, "trained somebody until"))
    for who in people:
        days = {**known.get(who.id, {}), **_approved(who)}
        reasons = [(date.fromisoformat(day), _SAYS[kind]) for kind, day in days.items()]
        reasons += [*at_hand.get(who.id, []), *trained.get(who.id, [])]
        last, why = max(reasons, default=(desk.today, ""))
        if add(last, period) < desk.today:
            yield Leaving("", who.id, last, f"{why} {last}", "")


_SAYS = {
    "entry": "last entry about the person",
    "scored": "last practical that the person scored",
    "award": "last day of the last award",
    "approved": "last approval ended",
}


def _approved(who: Person) -> dict[str, str]:
    terms = [one.until for one in (*who.scores, *who.certifies)]
    terms += [one.until for one in who.hears_appeals]
    return {"approved": max(terms).isoformat()} if terms else {}


def _with_others(desk: Desk) -> Kept:
    """What keeps a name beside the person's own: appeals and logins; open ones until today."""
    found: Kept = {}

    def keep(slug: str | None, until: date | None, why: str) -> None:
        if slug is not None:
            found.setdefault(slug, []).append((until or desk.today, why))

    for kept in desk.book.appeals():
        until = kept.answer.on if kept.answer else None
        keep(kept.appeal.about, until, "an appeal or complaint was answered on")
        keep(kept.appeal.by, until, "an appeal or complaint was answered on")
    for one in desk.book.access.all():
        keep(one.person, one.closed.date() if one.closed else None, "login closed on")
    return found


_LOOKS: dict[str, Callable[[Desk, str], Iterator[Leaving]]] = {
    "names": _names,
    "accounts": _accounts,
    "sessions": _sessions,
    "failures": _failures,
    "held": _held,
}
