"""Appeals and complaints: which are open, one with its story, entering and answering them."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from standfast.desk.appeals import answer, appeal, appeals, complain
from standfast.desk.hearing import choices, hearing, why_no_answer
from standfast.desk.people import name_of, person
from standfast.model.appeal import AppealKind, AppealOutcome
from standfast.model.base import LARGEST_WHOLE, Key, Line, Slug, Text
from standfast.problems import Refused
from standfast.web.forms import NO, Returned, form_of, returned, typed_before
from standfast.web.pages import RECORDS, page
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)

Reads = Annotated[Visitor, Depends(allowed(*RECORDS))]
Enters = Annotated[Visitor, Depends(allowed("office", "certifier"))]
Certifier = Annotated[Visitor, Depends(allowed("certifier"))]

NOBODY = "this account is nobody in the record book, so it answers nothing"


@router.get("/appeals")
async def appeals_page(request: Request, visitor: Reads) -> Response:
    """All of them, those without an answer first."""
    return page(request, "appeals", visitor, found=appeals(visitor.desk))


@router.get("/appeals/{number}")
async def appeal_page(request: Request, visitor: Reads, number: str) -> Response:
    """One with its story, and the form that answers it."""
    return _appeal(request, visitor, number, typed_before(request, visitor))


def _appeal(
    request: Request, visitor: Visitor, number: str, back: Returned | None = None
) -> Response:
    desk, decider = visitor.desk, visitor.account.person
    answers = visitor.may("certifier") and decider is not None
    told = {
        "told": hearing(desk, number),
        "back": back,
        "answers": decider and answers and name_of(desk, decider),
        "why_not": why_no_answer(desk, number, decider) if decider and answers else (),
    }
    return page(request, "appeal", visitor, status=back.status if back else 200, **told)


class Answering(BaseModel):
    """The form that answers one."""

    model_config = ConfigDict(extra="forbid")

    outcome: AppealOutcome
    because: Text
    read: Annotated[int, Field(ge=0, le=LARGEST_WHOLE)]
    """How many entries of it there were when the page was read."""


@router.post("/appeals/{number}/answer")
async def answer_it(request: Request, visitor: Certifier, number: str) -> Response:
    """Enters the visitor's answer, or says every reason why not."""
    decider = visitor.account.person
    try:
        if decider is None:
            raise Refused(NOBODY)
        form = await form_of(request, Answering)
        told = (number, decider, form.outcome, form.because.strip())
        await run_in_threadpool(answer, visitor.desk, *told, read=form.read)
    except NO as error:
        return _appeal(request, visitor, number, await returned(request, error))
    return RedirectResponse(f"/appeals/{number}", 303)


@router.get("/appeals/new/{kind}/{slug}")
async def new_page(
    request: Request, visitor: Enters, kind: AppealKind, slug: str, against: str = ""
) -> Response:
    """The form for an appeal of that person, or a complaint about them or what is theirs."""
    return _new(request, visitor, kind, slug, against, typed_before(request, visitor))


def _new(
    request: Request,
    visitor: Visitor,
    kind: AppealKind,
    slug: str,
    against: str,
    back: Returned | None = None,
) -> Response:
    desk = visitor.desk
    told = {
        "kind": kind,
        "who": person(desk, slug),
        "choices": choices(desk, kind, slug),
        "chosen": back.typed.get("against", "") if back else against,
        "about": appeals(desk, slug),
        "people": sorted(desk.book.people(), key=lambda one: one.name.casefold()),
        "days": desk.school.appeal_days,
        "new": desk.new_key(),
        "back": back,
    }
    return page(request, "appeal-new", visitor, status=back.status if back else 200, **told)


class Filing(BaseModel):
    """The form for an appeal or a complaint."""

    model_config = ConfigDict(extra="forbid")

    id: Key
    """Made with the form, so that the form enters one, however often it comes."""
    against: Line
    by: Slug | None = None
    """Who complains; nobody where it came from outside."""
    because: Text


@router.post("/appeals/new/{kind}/{slug}")
async def enter(request: Request, visitor: Enters, kind: AppealKind, slug: str) -> Response:
    """Enters it as received today, or says every reason why not."""
    try:
        form = await form_of(request, Filing)
        number = await run_in_threadpool(_entered, visitor, kind, slug, form)
    except NO as error:
        return _new(request, visitor, kind, slug, "", await returned(request, error))
    return RedirectResponse(f"/appeals/{number}", 303)


def _entered(visitor: Visitor, kind: AppealKind, slug: str, form: Filing) -> str:
    because = form.because.strip()
    if kind == "appeal":
        filed = appeal(visitor.desk, slug, form.against, because, form.id)
    else:
        filed = complain(visitor.desk, form.against, form.by, because, form.id)
    return filed.listed.appeal.number
