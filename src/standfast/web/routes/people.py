"""People: the list, one person's record, documents, and entering many from a file."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from standfast.desk.appeals import appeals
from standfast.desk.approvals import approvals
from standfast.desk.certificates import print_certificate
from standfast.desk.history import history_of
from standfast.desk.people import Entered, add_document, correct_document, enter_files, person
from standfast.desk.records import print_record, record_of
from standfast.desk.standings import standings
from standfast.model.base import LARGEST_WHOLE, Day, Hash, Line, Slug, Text
from standfast.model.canonical import content_hash
from standfast.model.people import Document, Person
from standfast.problems import BadInput, Place, Problem, Refused
from standfast.web.downloads import sent
from standfast.web.forms import NO, Returned, form_of, returned, typed_before
from standfast.web.pages import RECORDS, page
from standfast.web.visitor import Visitor, allowed

router = APIRouter(include_in_schema=False)

Reads = Annotated[Visitor, Depends(allowed(*RECORDS))]
Office = Annotated[Visitor, Depends(allowed("office"))]

TABLES = {".csv", ".xlsx", ".yaml", ".yml"}


@router.get("/people")
async def people(request: Request, visitor: Reads, q: str = "", site: str = "") -> Response:
    """Everybody with a name, or those whose name has the words; and how their awards stand."""
    desk = visitor.desk
    known = desk.book.people()
    words = q.casefold().split()
    found = [
        one
        for one in known
        if site in {"", one.site}
        and all(word in f"{one.name} {one.id}".casefold() for word in words)
    ]
    stands: dict[str, list[tuple[str, str]]] = {}
    for held in standings(desk) if found else ():
        stands.setdefault(held.holder.id, []).append((held.award.rubric.id, held.standing.state))
    return page(
        request,
        "people",
        visitor,
        found=sorted(found, key=lambda one: one.name.casefold()),
        all=len(known),
        stands=stands,
        does=_does,
        q=q,
        site=site,
        sites=desk.book.sites(),
    )


def _does(who: Person) -> str:
    """What somebody is approved for, or was."""
    parts = (("assessor", who.scores), ("certifier", who.certifies))
    return ", ".join(role for role, given in parts if given)


@router.get("/people/import")
async def import_page(request: Request, visitor: Office) -> Response:
    """Where a file with people is handed in."""
    return _import(request, visitor)


def _import(
    request: Request,
    visitor: Visitor,
    entered: Entered | None = None,
    back: Returned | None = None,
) -> Response:
    told = {"entered": entered, "back": back, "read": visitor.desk.book.size()}
    return page(request, "import", visitor, status=back.status if back else 200, **told)


@router.post("/people/import")
async def import_people(request: Request, visitor: Office) -> Response:
    """Enters everybody of a file who is new or changed, or nobody."""
    try:
        entered = await _imported(request, visitor)
    except NO as error:
        return _import(request, visitor, back=await returned(request, error))
    return _import(request, visitor, entered)


async def _imported(request: Request, visitor: Visitor) -> Entered:
    async with request.form(max_files=1, max_fields=4) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile) or not file.filename:
            raise Refused("nothing was entered", ["no file was chosen; choose one and send it"])
        name, content = Path(file.filename).name, await file.read()
        read = str(form.get("read", ""))
    if not re.fullmatch(r"\d{1,15}", read, re.ASCII):
        raise Refused("nothing was entered", ["open the page anew, and send the file from it"])
    if Path(name).suffix.lower() not in TABLES:
        endings = ", ".join(sorted(TABLES))
        raise Refused("nothing was entered", [f"'{name}' ends in none of {endings}"])
    return await run_in_threadpool(_entered, visitor, name, content, int(read))


def _entered(visitor: Visitor, name: str, content: bytes, read: int) -> Entered:
    with tempfile.TemporaryDirectory(prefix="standfast-") as folder:
        file = Path(folder) / f"sent{Path(name).suffix.lower()}"
        file.write_bytes(content)
        try:
            return enter_files(visitor.desk, [file], read)
        except BadInput as error:
            raise BadInput(_under(one, name) for one in error.problems) from None


def _under(problem: Problem, name: str) -> Problem:
    """The problem with the name that the file had where it came from."""
    place = Place(name, problem.place.line, problem.place.column)
    return Problem(place, problem.what, problem.cure)


@router.get("/people/{slug}")
async def record(request: Request, visitor: Reads, slug: str) -> Response:
    """One person: next steps, findings with their evidence, documents, and the story."""
    return await _record(request, visitor, slug, typed_before(request, visitor))


async def _record(
    request: Request, visitor: Visitor, slug: str, back: Returned | None = None
) -> Response:
    desk = visitor.desk
    read = desk.book.size()
    who = person(desk, slug)
    view = await run_in_threadpool(record_of, desk, slug)
    story = history_of(desk, slug)
    status = back.status if back else 200
    told = {
        "who": who,
        "view": view,
        "story": story.events,
        "back": back,
        "read": read,
        "documents": [(content_hash(one), one) for one in who.documents],
        "appeals": appeals(desk, who.id),
        "approvals": [one.standing for one in approvals(desk, slug)],
    }
    return page(request, "person", visitor, status=status, **told)


@router.get("/people/{slug}/record.pdf")
async def record_on_paper(visitor: Reads, slug: str) -> Response:
    """The competency record on paper."""
    return await sent(lambda out: print_record(visitor.desk, slug, out))


@router.get("/certificates/{number}.pdf")
async def certificate_on_paper(visitor: Reads, number: str) -> Response:
    """The certificate of that number on paper, unless it has lapsed or was taken away."""
    return await sent(lambda out: print_certificate(visitor.desk, number, out))


class OfADocument(BaseModel):
    """What a form says of a document."""

    model_config = ConfigDict(extra="forbid")

    read: Annotated[int, Field(ge=0, le=LARGEST_WHOLE)]
    """How many entries the book had when the page was read."""
    document: Slug
    issued: Day
    last_day: Day
    reference: Line | None = None

    def told(self) -> Document:
        """The document.

        Raises:
            ValidationError: it cannot be one.
        """
        return Document.model_validate(self.model_dump(include=set(Document.model_fields)))


class Corrected(OfADocument):
    """The form for a document that was entered wrongly."""

    was: Hash
    because: Text


@router.post("/people/{slug}/documents")
async def new_document(request: Request, visitor: Office, slug: str) -> Response:
    """Enters a document that somebody showed."""
    person(visitor.desk, slug)  # somebody who is not there has no form to come back to
    try:
        form = await form_of(request, OfADocument)
        add_document(visitor.desk, slug, form.told(), form.read)
    except NO as error:
        return await _record(request, visitor, slug, await returned(request, error))
    return RedirectResponse(f"/people/{person(visitor.desk, slug).id}#documents", 303)


@router.post("/people/{slug}/documents/correct")
async def corrected_document(request: Request, visitor: Office, slug: str) -> Response:
    """Enters a document anew, in place of what was entered wrongly, with why."""
    person(visitor.desk, slug)
    try:
        form = await form_of(request, Corrected)
        corrected = (form.was, form.told(), form.because, form.read)
        correct_document(visitor.desk, slug, *corrected)
    except NO as error:
        return await _record(request, visitor, slug, await returned(request, error))
    return RedirectResponse(f"/people/{person(visitor.desk, slug).id}#documents", 303)
