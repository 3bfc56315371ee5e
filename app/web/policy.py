"""The policy: its revisions, and one of them with its corridor, findings and grid."""

import json
from typing import Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import RedirectResponse, Response

from app.actions.revisions import start_draft
from app.domain.documents import empty_document
from app.domain.errors import Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.exchange.profile_files import MOST_FILE_BYTES, read_profile_file
from app.lookups.policy import listed_revisions, open_revision
from app.lookups.revisions import revision
from app.web.policy_pages import Looking, PolicyPage, base_of, strip_view, work_page
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction, Writing

router = APIRouter(prefix="/{agency}/policy")
EMPTY = "empty"


@router.get("")
def policy(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_POLICY)
    return render(request, "policy/list.html", _policy_page(tx, person, now))


def _policy_page(
    tx: Transaction, person: Person, now: Now, refused: Refused | None = None, file_name: str = ""
) -> PolicyPage:
    found = listed_revisions(tx, agency_id=person.agency_id, now=now)
    return PolicyPage(found, may(person, Deed.EDIT_DRAFT), refused, file_name)


@router.post("")
def start(
    person: Member, tx: Writing, now: Now, copy_of: Annotated[str, Form(max_length=20)] = EMPTY
) -> Response:
    if copy_of == EMPTY:
        document = empty_document(person.agency)
    else:
        number = int(copy_of) if copy_of.isdecimal() else 0
        copied = revision(tx, agency_id=person.agency_id, number=number, now=now)
        document = json.loads(copied.document)
    started = start_draft(tx, document=document, by=person, now=now)
    return RedirectResponse(base_of(person, started.number), status_code=303)


@router.post("/upload")
def upload(
    request: Request, person: Member, now: Now, profile: Annotated[UploadFile, File()]
) -> Response:
    check_may(person, Deed.EDIT_DRAFT)
    database = request.app.state.database
    try:
        read = read_profile_file(profile.file.read(MOST_FILE_BYTES + 1)).profile
        with database.writing() as tx:
            started = start_draft(tx, document=read.document, by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            page = _policy_page(tx, person, now, refused, profile.filename or "the file")
        return render(request, "policy/list.html", page, status=422)
    return RedirectResponse(base_of(person, started.number), status_code=303)


@router.get("/{number}")
def one_revision(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    looking: Looking,
) -> Response:
    check_may(person, Deed.SEE_POLICY)
    page = work_page(tx, number=number, person=person, now=now, asked=looking.asked)
    return render(request, "policy/revision.html", page)


@router.get("/{number}/strip")
def strip_at(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    looking: Looking,
) -> Response:
    """The strip and the age line alone, for whoever walks along the axis."""
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    view = strip_view(base_of(person, number), found, looking.asked, person, looking.lanes)
    return render(request, "policy/_strip_swap.html", view)


@router.get("/{number}/profile.json")
def download(person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = revision(tx, agency_id=person.agency_id, number=number, now=now)
    text = json.dumps(json.loads(found.document), indent=1, ensure_ascii=False)
    name = f"{person.agency}-revision-{number}.json"
    return Response(
        text + "\n",
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
