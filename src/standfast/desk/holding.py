"""What could not be taken from beside the mat: the office looks, and says what was done."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from standfast.desk.mat import Answer, for_all, own, take_records
from standfast.desk.opening import Desk
from standfast.desk.people import check_because, name_of
from standfast.engine.replaying import named_last
from standfast.model.account import Account
from standfast.problems import NotFound, Refused

if TYPE_CHECKING:
    from standfast.store.records import Held

TAKEN = "taken after all"


@dataclass(frozen=True)
class Waiting:
    """A held record, in words."""

    held: Held
    sent_by: str
    """Login, or the name of a device."""
    about: str
    """Practical and assessor of its sheet, as far as they are known."""
    content: str
    """As it came, made readable."""


def held_records(desk: Desk) -> tuple[list[Waiting], list[Waiting]]:
    """Those that somebody must look at, oldest first, and those that were settled, newest first."""
    found = [_waiting(desk, one) for one in desk.book.records.held()]
    open_ones = [one for one in found if one.held.settled is None]
    return open_ones, [one for one in reversed(found) if one.held.settled]


def _waiting(desk: Desk, one: Held) -> Waiting:
    access = desk.book.access
    accounts = {account.id: account.login for account in access.all()}
    devices = {device.id: device.name for device in access.devices()}
    sent_by = accounts.get(one.account) or devices.get(one.account) or "nobody who is known"
    sent = json.loads(one.body)
    return Waiting(one, sent_by, _about(desk, one.sheet, sent), _readable(sent))


def _about(desk: Desk, sheet: str, sent: dict[str, Any]) -> str:
    kept = desk.book.records.of_sheet(sheet) if sheet else ()
    begins = [one.sent["body"] for one in kept[:1]]
    body = next(iter(begins), sent.get("body"))
    if not isinstance(body, dict) or body.get("kind") != "begin":
        return "a sheet of which nothing else is here"
    practical = named_last(one.record for one in kept) or body.get("practical")
    return f"{practical}, scored by {name_of(desk, str(body.get('assessor')))}"


def _readable(sent: dict[str, Any]) -> str:
    return json.dumps(sent, ensure_ascii=False, indent=1)


def settle(desk: Desk, key: int, record: str, by: str, because: str) -> None:
    """Keeps what was done about a held record, which stays as it came; `record` is its id.

    Raises:
        NotFound: none of that number and id is held.
        Refused: it was settled before.
        StandfastError: no words, or too many.
    """
    check_because(desk, because)
    with desk.book.together():
        _unsettled(desk, key, record)
        desk.book.records.settle(key, by, because, desk.moment.now)


def _unsettled(desk: Desk, key: int, record: str) -> Held:
    """The held record of that number, which another may have had that is gone, and that id."""
    known = (one for one in desk.book.records.held() if (one.key, one.record) == (key, record))
    one = next(known, None)
    if one is None:
        raise NotFound("held record", str(key), ())
    if one.settled:
        raise Refused(f"held record {key} was settled before; read the list again")
    return one


def take_again(desk: Desk, key: int, record: str, by: str) -> Answer:
    """Tries a held record once more, after what stood in its way was mended; `record` is its id.

    Raises:
        NotFound: none of that number and id is held.
        Refused: it was settled before, nobody sent it who may, or it still cannot be taken.
    """
    with desk.book.together():
        one = _unsettled(desk, key, record)
        accounts = [a for a in desk.book.access.all() if a.id == one.account and not a.closed]
        if not accounts:
            raise Refused("it was sent by a device, or from an account that is closed: settle it")
        (answer,) = take_records(desk, own(accounts[0]), [json.loads(one.body)])
        if answer.answer == "held":
            raise Refused("it still cannot be taken", [answer.why or ""])
        desk.book.records.settle(key, by, TAKEN, desk.moment.now)
    return answer


def hand_in(desk: Desk, office: Account, records: Sequence[dict[str, Any]]) -> Counter[str]:
    """Takes the copy of a sheet that somebody saved on a device which cannot send any more.

    Gives how many were stored, seen before, and held.  A sheet that is signed in it is taken when
    whoever signed it has confirmed that.

    Every record has an id that can be read.
    """
    answers = take_records(desk, for_all(desk, office), records)
    return Counter(one.answer for one in answers)
