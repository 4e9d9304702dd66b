"""Deciding and awarding, with the reasons in view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Literal

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from standfast.desk.appeals import appeals
from standfast.desk.awards import Covered, Granted, covered, grant, granted, why_no_award
from standfast.desk.deciding import to_decide
from standfast.desk.decisions import Decided, decide_and_keep, decide_for, known_as
from standfast.desk.opening import Desk
from standfast.desk.people import name_of
from standfast.desk.rulings import rule, why_no_ruling
from standfast.model.award import COUNTING, RulingKind
from standfast.model.base import LARGEST_WHOLE, Hash, Slug, Text
from standfast.model.decision import OUTCOME_WORDS, STATE_WORDS
from standfast.problems import Refused
from standfast.web.forms import NO, Returned, form_of, returned, typed_before
from standfast.web.pages import RECORDS, page
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)

Reads = Annotated[Visitor, Depends(allowed(*RECORDS))]
TIED = "; the assessor has a conflict of interest, which the school allows"

NOBODY = "this account is nobody in the record book, so it confirms no decision"

Kind = Literal["suspended", "reinstated", "withdrawn", "restored"]
VERBS: dict[Kind, str] = {
    "suspended": "Suspend it",
    "reinstated": "Let it count again",
    "withdrawn": "Withdraw it for good",
    "restored": "Give its full scope back",
}
"""Rulings of which nothing but the reason is asked."""

Certifier = Annotated[Visitor, Depends(allowed("certifier"))]


@dataclass(frozen=True)
class SheetLine:
    """A sheet that the decision looked at, called by a number."""

    number: int
    id: str
    words: str
    """Its day and its assessor."""
    practical: str
    counts: str


def _lines(desk: Desk, decided: Decided) -> list[SheetLine]:
    known = known_as(desk, decided.sheets)
    left = {one.sheet: f"no: {one.because}" for one in decided.decision.left_out}
    tied = set(decided.decision.tied)
    order = sorted(decided.sheets, key=lambda sheet: (known[sheet.id], sheet.id))
    return [
        SheetLine(
            number,
            sheet.id,
            known[sheet.id],
            sheet.practical,
            left.get(sheet.id, f"yes{TIED if sheet.id in tied else ''}"),
        )
        for number, sheet in enumerate(order, 1)
    ]


@router.get("/decisions")
async def decisions_page(request: Request, visitor: Reads) -> Response:
    """Who waits for a decision or an award."""
    found = await run_in_threadpool(to_decide, visitor.desk)
    return page(request, "decisions", visitor, found=found, outcomes=OUTCOME_WORDS)


@router.get("/decisions/{candidate}/{rubric}")
async def decision_page(
    request: Request, visitor: Reads, candidate: str, rubric: str, top_up: bool = False
) -> Response:
    """What the rule says of the evidence today, step by step."""
    return await _decision(request, visitor, candidate, rubric, top_up=top_up)


async def _decision(  # what makes a page
    request: Request,
    visitor: Visitor,
    candidate: str,
    rubric: str,
    *,
    top_up: bool,
    back: Returned | None = None,
) -> Response:
    desk = visitor.desk
    decided = await run_in_threadpool(decide_for, desk, candidate, rubric, top_up=top_up)
    lines = _lines(desk, decided)
    kept = [one for one in desk.book.decisions(candidate, rubric) if one.decision.on <= desk.today]
    return page(
        request,
        "decision",
        visitor,
        status=back.status if back else 200,
        back=back,
        why_not=await run_in_threadpool(_why_not, visitor, decided),
        decided=decided,
        decision=decided.decision,
        lines=lines,
        outcomes=OUTCOME_WORDS,
        states=STATE_WORDS,
        kept=kept[-1] if kept else None,
        top_up=top_up,
        confirms=visitor.account.person and name_of(desk, visitor.account.person),
    )


def _why_not(visitor: Visitor, decided: Decided) -> tuple[str, ...]:
    """Why a pass cannot be awarded by this visitor now; none when it can, or is no pass."""
    if decided.decision.outcome != "pass" or not visitor.may("certifier"):
        return ()
    if visitor.account.person is None:
        return (NOBODY,)
    return why_no_award(visitor.desk, decided, visitor.account.person)


class Asked(BaseModel):
    """The forms that enter a decision, or an award."""

    model_config = ConfigDict(extra="forbid")

    top_up: bool = False
    read: Hash
    """What the page showed: what is entered must be what was read."""


@router.post("/decisions/{candidate}/{rubric}/keep")
async def keep_decision(
    request: Request, visitor: Certifier, candidate: str, rubric: str
) -> Response:
    """Enters the decision into the record book."""
    form = await form_of(request, Asked)
    try:
        desk, as_shown = visitor.desk, form.model_dump()
        await run_in_threadpool(decide_and_keep, desk, candidate, rubric, **as_shown)
    except NO as error:
        back = await returned(request, error)
        return await _decision(request, visitor, candidate, rubric, top_up=form.top_up, back=back)
    more = "?top_up=true" if form.top_up else ""
    return RedirectResponse(f"/decisions/{candidate}/{rubric}{more}", 303)


@router.post("/decisions/{candidate}/{rubric}/award")
async def award(request: Request, visitor: Certifier, candidate: str, rubric: str) -> Response:
    """Grants what the pass permits, confirmed by the visitor; or says every reason why not."""
    form = await form_of(request, Asked)
    certifier = visitor.account.person
    try:
        if certifier is None:
            raise Refused(NOBODY)
        desk, as_shown = visitor.desk, form.model_dump()
        made = await run_in_threadpool(grant, desk, candidate, rubric, certifier, **as_shown)
    except NO as error:
        back = await returned(request, error)
        return await _decision(request, visitor, candidate, rubric, top_up=form.top_up, back=back)
    return RedirectResponse(f"/awards/{made.award.number}", 303)


@router.get("/awards/{number}")
async def award_page(request: Request, visitor: Reads, number: str) -> Response:
    """One award as it stands: what was granted, until when, and who confirmed it."""
    return _award(request, visitor, number, typed_before(request, visitor))


def _award(
    request: Request, visitor: Visitor, number: str, back: Returned | None = None
) -> Response:
    found = granted(visitor.desk, number)
    read = len(visitor.desk.book.rulings(found.award.id))
    covers = covered(visitor.desk, found.award)
    told = {
        "read": read,
        "granted": found,
        "open": [
            one
            for one in appeals(visitor.desk, found.candidate.id)
            if one.appeal.award == found.award.id and one.answer is None
        ],
        "counts": not found.later and found.standing.state in COUNTING,
        "covers": covers,
        "back": back,
        "rules": visitor.account.person and name_of(visitor.desk, visitor.account.person),
        "rulings": _rulings(visitor, found, covers),
        "verbs": VERBS,
    }
    return page(request, "granted", visitor, status=back.status if back else 200, **told)


def _rulings(
    visitor: Visitor, found: Granted, covers: Covered
) -> dict[RulingKind, tuple[str, ...]]:
    """What the visitor could rule of the award now, each with every reason why not."""
    ruler = visitor.account.person
    if ruler is None or found.later or not visitor.may("certifier"):
        return {}
    any_one = tuple(covers.skills)[:1]  # which of them are taken away is not known before
    taken: dict[RulingKind, tuple[str, ...]] = dict.fromkeys(VERBS, ()) | {"reduced": any_one}
    return {
        kind: why_no_ruling(visitor.desk, found.award, kind, ruler, without)
        for kind, without in taken.items()
    }


class OfARuling(BaseModel):
    """What each form says that rules on an award."""

    model_config = ConfigDict(extra="forbid")

    because: Text
    read: Annotated[int, Field(ge=0, le=LARGEST_WHOLE)]
    """How many rulings on it there were when the page was read."""


class Ruled(OfARuling):
    """The form that stops an award, or gives back what was taken."""

    kind: Kind


class Reduced(OfARuling):
    """The form that takes skills from the scope of an award."""

    without: list[Slug] = Field(default_factory=list)


@router.post("/awards/{number}/rule")
async def rule_on(request: Request, visitor: Certifier, number: str) -> Response:
    """Suspends, reinstates, withdraws or restores the award, or says every reason why not."""
    try:
        form = await form_of(request, Ruled)
        await run_in_threadpool(_ruled, visitor, number, form.kind, form)
    except NO as error:
        return _award(request, visitor, number, await returned(request, error))
    return RedirectResponse(f"/awards/{number}", 303)


@router.post("/awards/{number}/reduce")
async def reduce_scope(request: Request, visitor: Certifier, number: str) -> Response:
    """Takes skills from the scope of the award, or says every reason why not."""
    try:
        form = await form_of(request, Reduced)
        await run_in_threadpool(_ruled, visitor, number, "reduced", form, form.without)
    except NO as error:
        return _award(request, visitor, number, await returned(request, error))
    return RedirectResponse(f"/awards/{number}", 303)


def _ruled(
    visitor: Visitor, number: str, kind: RulingKind, form: OfARuling, without: Sequence[str] = ()
) -> None:
    certifier = visitor.account.person
    if certifier is None:
        raise Refused(NOBODY)
    because = form.because.strip()
    rule(visitor.desk, number, kind, certifier, because, without, read=form.read)
