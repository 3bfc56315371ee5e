"""A revision as a workbook to fill in, and a changed file taken back into its draft."""

import json
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import Response

from app.domain.errors import Conflict, NotNow, Refused
from app.domain.moves import RevisionStatus
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import StoredRevision
from app.exchange.profile_files import MOST_FILE_BYTES, read_profile_file
from app.exchange.profile_xlsx import MEDIA, write_workbook
from app.lookups.revisions import revision
from app.web.draft_edits import save_draft, to_edit
from app.web.notices import done
from app.web.policy_conflicts import both_versions
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}")


@dataclass(frozen=True)
class UploadPage:
    base: str
    revision: StoredRevision
    refused: Refused | None = None
    file_name: str = ""


@router.get("/profile.xlsx")
def workbook(person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = revision(tx, agency_id=person.agency_id, number=number, now=now)
    name = f"{person.agency}-revision-{number}.xlsx"
    return Response(
        workbook_of(found),
        media_type=MEDIA,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def workbook_of(found: StoredRevision) -> bytes:
    return write_workbook(json.loads(found.document), edit_version=found.edit_version)


@router.get("/upload")
def form(request: Request, person: Member, now: Now, number: int) -> Response:
    return render(request, "policy/upload.html", _page(request, person, now, number))


def _page(request: Request, person: Person, now: Now, number: int) -> UploadPage:
    found = to_edit(request, person, number, now).revision
    if found.status is not RevisionStatus.DRAFT:
        raise NotNow(f"Revision {number} is {found.status.words}; only a draft takes a file.")
    return UploadPage(base_of(person, number), found)


@router.post("/upload")
def upload(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    profile: Annotated[UploadFile | None, File()] = None,
    document: Annotated[str, Form()] = "",
    edit_version: Annotated[int, Form()] = 0,
) -> Response:
    """A workbook says itself from which edit version it comes; any other file comes from the
    page's. `document` is what a file held that was refused because somebody saved meanwhile."""
    page = _page(request, person, now, number)
    name = (profile and profile.filename) or "the file"
    try:
        raw = profile.file.read(MOST_FILE_BYTES + 1) if profile else document.encode()
        read = read_profile_file(raw)
        same = read.edit_version is not None and read.profile.revision == number
        save_draft(
            request,
            person,
            now,
            number=number,
            document=read.profile.document,
            edit_version=(read.edit_version or 0) if same else edit_version,
        )
    except Conflict as conflict:
        text = json.dumps(read.profile.document, ensure_ascii=False)
        what = f"The policy in {name}"
        fields = {"document": text}
        return both_versions(request, conflict, what=what, leave=page.base, fields=fields)
    except Refused as refused:
        told = UploadPage(page.base, page.revision, refused, name)
        return render(request, "policy/upload.html", told, status=422)
    return done(page.base, f"Taken from {name}.")
