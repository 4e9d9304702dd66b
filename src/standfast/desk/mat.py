"""Scoring beside the mat: what the page needs, what it sends, and the sheet that is signed.

One bad record never blocks the rest: what cannot be taken is held for the office and acknowledged,
so that a device can let go of it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from standfast.desk.approvals import approval_of
from standfast.desk.focusing import ahead
from standfast.desk.opening import Desk
from standfast.desk.people import person
from standfast.desk.sheets import take_sheet
from standfast.desk.standings import standings
from standfast.engine.replaying import named_last, sheet_of, signature
from standfast.model.account import Account, Device
from standfast.model.base import KEY
from standfast.model.mat import Begin, Record, Reopen, Sign
from standfast.model.people import Person
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    IncidentCriterion,
    RatingCriterion,
    SamplesCriterion,
)
from standfast.problems import BadInput, NotFound, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.store.records import Kept

MOST_AT_ONCE = 100
NOT_AGAIN = "it named somebody whose name was erased since; nothing of it is kept any more"
WHO_MAY_STOP = (
    "Anybody may call stop: a student, the candidate, the assessor, whoever looks on. Voice and"
    " hands first; the page only records."
)


@dataclass(frozen=True)
class Answer:
    """What became of one record."""

    id: str
    answer: Literal["stored", "seen", "held"]
    why: str | None = None


@dataclass(frozen=True)
class Sender:
    """Whose records come in, and whether what they sign counts as signed at once."""

    id: str
    """Of the account or the device."""
    accounts: tuple[Account, ...]
    """Whose records it may send."""
    shared: bool
    """Whether it sends for several, so that who signed confirms it."""

    def whose(self, record: Record, kept: Sequence[Kept]) -> Account | None:
        """Whose record it is; None when nobody here may have scored it."""
        if not self.shared:
            return self.accounts[0]
        if kept:
            return next((one for one in self.accounts if one.id == kept[0].account), None)
        body = record.body
        if not isinstance(body, Begin):
            return None
        return next((one for one in self.accounts if one.person == body.assessor), None)


def own(account: Account) -> Sender:
    """An assessor who signed in and sends her own."""
    return Sender(account.id, (account,), shared=False)


def for_all(desk: Desk, sender: Device | Account) -> Sender:
    """A shared device, or the office with a copy that somebody brought."""
    known = [one for one in desk.book.access.all() if one.may("assessor") and not one.closed]
    return Sender(sender.id, tuple(known), shared=True)


def take_records(desk: Desk, sender: Sender, sent: Sequence[dict[str, Any]]) -> list[Answer]:
    """Keeps what was sent, and says of each record what became of it, in order.

    All of it is durable when this returns.  Every record has an id that can be read.
    """
    with desk.book.together():
        batch = _Batch(desk, sender, {str(one["id"]) for one in sent})
        answers = [batch.take(one) for one in sent]
        batch.keep()
    for sheet in dict.fromkeys(one.record.sheet for one in batch.new):
        _state(desk, batch.sheets[sheet].kept)  # a signature that is whole now becomes a sheet
    for sheet in batch.signed_before:  # who kept it may have been stopped before that
        _state(desk, desk.book.records.of_sheet(sheet))
    return answers


class _Sheet:
    """The records of a sheet, and what each new one is asked for; a copy may bring thousands."""

    def __init__(self) -> None:
        self.kept: list[Kept] = []
        self.numbers: set[int] = set()
        self.closing: dict[int, bool] = {}
        """By number, whether the sheet was signed there, or opened again."""

    def add(self, one: Kept) -> None:
        n = one.record.n
        self.kept.append(one)
        self.numbers.add(n)
        if isinstance(one.record.body, Sign | Reopen):
            self.closing[n] = isinstance(one.record.body, Sign)

    def closed_before(self, n: int) -> bool:
        """Whether the sheet was signed before that number, and not opened again since."""
        before = [number for number in self.closing if number < n]
        return bool(before) and self.closing[max(before)]


class _Batch:
    """Records that came together: what is kept is read once for all, what is new written once."""

    def __init__(self, desk: Desk, sender: Sender, ids: set[str]) -> None:
        self.desk, self.sender = desk, sender
        self.known = desk.book.records.find(ids)
        self.forgotten = desk.book.records.forgotten(ids)
        self.sheets: dict[str, _Sheet] = {}
        """With what was added since."""
        self.new: list[Kept] = []
        self.signed_before: set[str] = set()
        """Sheets of which the signature came again."""

    def take(self, sent: dict[str, Any]) -> Answer:
        """Remembers what can be kept, and holds what cannot."""
        text, known = _as_text(sent), self.known.get(str(sent["id"]))
        if known is not None and _as_text(known.sent) == _as_text(self._as_kept(sent, known)):
            if isinstance(known.record.body, Sign) and known not in self.new:
                self.signed_before.add(known.record.sheet)
            return Answer(known.record.id, "seen")
        if str(sent["id"]) in self.forgotten:
            return Answer(str(sent["id"]), "held", NOT_AGAIN)
        why = "this id was sent before with other content" if known else ""
        try:
            record = Record.model_validate_json(text, strict=True)
        except ValueError as error:
            return self._held(sent, text, why or _in_words(error), None)
        sheet = self._of(record.sheet)
        account = self.sender.whose(record, sheet.kept)
        why = why or _why_not(self.desk, account, record, sheet)
        if why or account is None:
            return self._held(sent, text, why, account)
        return self._stored(record, sent, account)

    def _as_kept(self, sent: dict[str, Any], known: Kept) -> dict[str, Any]:
        """With the opaque id of whoever the kept one names and was erased since, in any words."""
        body, kept = sent.get("body"), known.sent["body"]
        if not isinstance(known.record.body, Begin) or not isinstance(body, dict):
            return sent
        named = {"candidate": kept["candidate"], "assessor": kept["assessor"]}
        known_by_name = self.desk.book.handles().values()
        erased = {field: who for field, who in named.items() if who not in known_by_name}
        return {**sent, "body": {**body, **erased}}

    def keep(self) -> None:
        """Writes what can be kept."""
        records, now = self.desk.book.records, self.desk.moment.now
        records.put(self.new, now)
        for one in self.new:
            if self.sender.shared and isinstance(one.record.body, Sign):
                records.wait_for_confirmation(one.record.sheet, self.sender.id, now)

    def _of(self, sheet: str) -> _Sheet:
        if sheet not in self.sheets:
            self.sheets[sheet] = _Sheet()
            for one in self.desk.book.records.of_sheet(sheet):
                self.sheets[sheet].add(one)
        return self.sheets[sheet]

    def _stored(self, record: Record, sent: dict[str, Any], account: Account) -> Answer:
        from standfast.store.records import Kept

        kept = Kept(record, sent, account.id)
        self.known[record.id] = kept
        self._of(record.sheet).add(kept)
        self.new.append(kept)
        return Answer(record.id, "stored")

    def _held(self, sent: dict[str, Any], text: str, why: str, account: Account | None) -> Answer:
        key, sheet = str(sent["id"]), sent.get("sheet")
        named = sheet if isinstance(sheet, str) and re.fullmatch(KEY, sheet) else ""
        whose = account.id if account else self.sender.id
        self.desk.book.records.hold(key, named, text, why, whose, self.desk.moment.now)
        return Answer(key, "held", why)


def _as_text(sent: dict[str, Any]) -> str:
    """As text, since to Python 1, 1.0 and True are equal; in ASCII, which has half letters too."""
    return json.dumps(sent, sort_keys=True)


def _in_words(error: ValueError) -> str:
    from pydantic import ValidationError

    from standfast.files.shape import in_words

    return "; ".join(in_words(error)) if isinstance(error, ValidationError) else str(error)


def _why_not(  # noqa: PLR0911 - a reason each
    desk: Desk, account: Account | None, record: Record, sheet: _Sheet
) -> str:
    """Why the record cannot stand in its sheet; empty when it can."""
    if account is None:
        return "nobody who may score here began its sheet"
    if sheet.kept and sheet.kept[0].account != account.id:
        return "the sheet is another assessor's"
    if record.n in sheet.numbers:
        return f"number {record.n} of the sheet is another record"
    if sheet.closed_before(record.n) and not isinstance(record.body, Reopen):
        return "the sheet was signed before it"
    if isinstance(record.body, Reopen) and desk.book.find_sheet(record.sheet) is not None:
        return "the sheet is in the record book; what is wrong is corrected with a new one"
    if not isinstance(record.body, Begin):
        return ""
    if record.n != 1:
        return "a lesson begins with number 1"
    if record.body.assessor != account.person:
        return "the account is not the assessor that the sheet names"
    if desk.book.find_person(record.body.candidate) is None:
        return f"nobody in the record book is '{record.body.candidate}'"
    return ""


# --- signing --------------------------------------------------------------------------------


@dataclass(frozen=True)
class SheetState:
    """How a sheet stands on the server."""

    state: Literal["open", "signed", "to confirm", "incomplete", "refused"]
    records: int
    entry: str | None = None
    problems: tuple[str, ...] = ()
    sha256: str | None = None
    """Of what was signed and waits to be confirmed."""


def state_of(desk: Desk, account: Account, sheet: str) -> SheetState:
    """How a sheet stands; one whose signature holds is taken into the record book.

    Raises:
        NotFound: the account has no such sheet.
    """
    kept = desk.book.records.of_sheet(sheet)
    if not kept or any(one.account != account.id for one in kept):
        raise NotFound("sheet of this account", sheet, [])
    return _state(desk, kept)


def _state(desk: Desk, kept: Sequence[Kept]) -> SheetState:
    """How the sheet of these records stands; as `state_of`."""
    opened = max((r.n for r in _of(kept, Reopen)), default=0)
    signs = [record for record in _of(kept, Sign) if record.n > opened]
    first = min(signs, key=lambda record: record.n, default=None)
    if first is None or not isinstance(first.body, Sign):
        return SheetState("open", len(kept))
    n = first.n
    told = signature([one.sent for one in kept], first.body, n)
    if told.missing:
        return SheetState("incomplete", len(kept), problems=(f"missing: {told.missing[:20]}",))
    known = desk.book.find_sheet(kept[0].record.sheet)
    if known is not None and known.sheet.source == "web":
        # What was taken in stays so, though it names an erased person in other words by now.
        return SheetState("signed", len(kept), known.entry)
    if told.fault:
        return SheetState("refused", len(kept), problems=(told.fault,))
    if desk.book.records.waits_for_confirmation(kept[0].record.sheet):
        return SheetState("to confirm", len(kept), sha256=first.body.sha256)
    return _taken(desk, kept, n)


def _of(kept: Sequence[Kept], kind: type[Sign | Reopen]) -> Iterator[Record]:
    return (one.record for one in kept if isinstance(one.record.body, kind))


def account_of(desk: Desk, sheet: str) -> Account:
    """Whose sheet it is.

    Raises:
        NotFound: there is no such sheet, or nobody has the account any more.
    """
    kept = desk.book.records.of_sheet(sheet)
    found = [one for one in desk.book.access.all() if kept and one.id == kept[0].account]
    if not found:
        raise NotFound("sheet", sheet, [])
    return found[0]


def confirm(desk: Desk, account: Account, sheet: str, sha256: str) -> SheetState:
    """Takes a sheet that was signed on a shared device: the account has shown who it is.

    `sha256` is of what was signed when she saw it.  Nothing happens to a sheet that does not wait.

    Raises:
        NotFound: the account has no such sheet.
        Refused: it was opened again and signed anew since.
    """
    with desk.book.together():
        now = state_of(desk, account, sheet)
        if now.state != "to confirm":
            return now
        if now.sha256 != sha256:
            raise Refused(
                "nothing was confirmed",
                ["the sheet was signed anew since the page was read; read it again"],
            )
        desk.book.records.confirm(sheet, desk.moment.now)
        return state_of(desk, account, sheet)


def _taken(desk: Desk, kept: Sequence[Kept], n: int) -> SheetState:
    sheet = sheet_of(one.record for one in kept if one.record.n < n)
    if sheet is None:
        return SheetState("refused", len(kept), problems=("the lesson has no begin",))
    try:
        taken = take_sheet(desk, sheet)
    except BadInput as error:
        problems = tuple(f"{one.what}; {one.cure}" for one in error.problems)
        return SheetState("refused", len(kept), problems=problems)
    except (Refused, NotFound) as error:
        return SheetState("refused", len(kept), problems=tuple(str(error).splitlines()))
    return SheetState("signed", len(kept), taken.entry)


def sheets_of(desk: Desk, account: Account) -> list[dict[str, Any]]:
    """The account's sheets, oldest first."""
    held = [
        one.sheet
        for one in desk.book.records.held()
        if one.account == account.id and one.settled is None
    ]
    found = []
    for sheet, count, last in desk.book.records.sheets(account.id):
        kept = desk.book.records.of_sheet(sheet)
        told, first = _state(desk, kept), kept[0].record.body
        head = first if isinstance(first, Begin) else None
        found.append(
            {
                "sheet": sheet,
                "practical": named_last(one.record for one in kept),
                "candidate": head and head.candidate,
                "rubric": head and head.rubric,
                "records": count,
                "last_n": last,
                "signed": told.state == "signed",
                "state": told.state,
                "sha256": told.sha256,
                "entry": told.entry,
                "held": held.count(sheet),
            }
        )
    return found


# --- what the page needs --------------------------------------------------------------------


def kits(desk: Desk, account: Account) -> dict[str, Any]:
    """Under which rubrics the account's person may score today, and whom.

    Anybody else may be under assessment; those of whom a trainer is known come first.
    """
    me = _assessor(desk, account)
    rubrics = {one.noun.id: one.noun for one in desk.definitions.rubrics}
    able = [
        {"id": key, "title": text.title}
        for key, text in sorted(rubrics.items())
        if me.may_score(key, desk.today)
        and approval_of(desk, me, key, desk.today).state != "lapsed"
    ]
    others = [one for one in desk.book.people() if one.id != me.id]
    candidates = sorted(others, key=lambda one: (not one.trained_by, one.name.casefold()))
    return {
        "rubrics": able,
        "candidates": [
            {"id": one.id, "name": one.name, "trained": bool(one.trained_by)} for one in candidates
        ],
    }


def _assessor(desk: Desk, account: Account) -> Person:
    """Who the account is.

    Raises:
        Refused: nobody, or not in the record book.
    """
    if account.person is None:
        raise Refused("this account is nobody in the record book, so it cannot score")
    return person(desk, account.person)


def kit(desk: Desk, account: Account, rubric: str, candidate: str) -> dict[str, Any]:
    """All that the page needs to score a lesson of that candidate without a network.

    Raises:
        NotFound: no such rubric or candidate.
        Refused: the account's person may not score it today.
    """
    me, who = _assessor(desk, account), person(desk, candidate)
    if not me.may_score(rubric, desk.today):
        raise Refused(f"{me.id} is not approved to score {rubric} on {desk.today}")
    coming = ahead(desk, candidate, rubric)
    text, syllabus, covers = coming.texts.rubric, coming.texts.syllabus, coming.covers
    criteria = [
        one
        for one in text.criteria()
        if not covers or one.id in covers or isinstance(one, IncidentCriterion)
    ]
    samples = [one for one in criteria if isinstance(one, SamplesCriterion)]
    return {
        "rubric": text.id,
        "rubric_version": text.version,
        "title": text.title,
        "candidate": {"id": who.id, "name": who.name},
        "assessor": {"id": me.id, "name": me.name},
        "every": samples[0].standard.every if samples else None,
        "clearances": any(isinstance(one, ClearancesCriterion) for one in criteria),
        "questions": [
            {
                "id": one.id,
                "title": one.title,
                "question": one.question,
                "asked": one.asked,
                "skills": list(one.skills),
            }
            for one in criteria
            if isinstance(one, AttemptsCriterion)
        ],
        "ratings": [
            {
                "id": one.id,
                "title": one.title,
                "levels": [level.model_dump(mode="json") for level in one.levels],
            }
            for one in criteria
            if isinstance(one, RatingCriterion)
        ],
        "incidents": [
            {"id": one.id, "title": one.title, "stops": one.standard.effect == "stops"}
            for one in criteria
            if isinstance(one, IncidentCriterion)
        ],
        "skills": [
            {
                "id": one.id,
                "title": one.title,
                "prerequisites": [p.model_dump(mode="json") for p in one.prerequisites],
                "spot": one.spot.model_dump(mode="json"),
                "hazards": list(one.hazards),
            }
            for one in syllabus.skills
        ],
        "who_may_stop": WHO_MAY_STOP,
        "held_back": list(_held_back(desk, candidate)),
        "covers": list(covers),
    }


def _held_back(desk: Desk, candidate: str) -> Iterator[str]:
    """What the record takes from the candidate on this day."""
    try:
        found = standings(desk, candidate)
    except StandfastError:
        return
    for one in found:
        told = one.standing
        if told.state in {"suspended", "withdrawn", "lapsed", "in grace"}:
            yield f"{one.award.number}, {one.award.scope.title}: {told.state}, {told.because}"
        if one.without:
            yield f"{one.award.number}: without {', '.join(one.without)}"
