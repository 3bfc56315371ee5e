"""What follows an edit of a draft on its page: only what it may have changed is shown anew."""

import json
from dataclasses import dataclass, replace
from datetime import datetime
from urllib.parse import urlencode

from fastapi import Request
from fastapi.responses import RedirectResponse, Response

from app.domain.cell_changes import CellChanges, cells_before, with_cells
from app.domain.errors import Conflict
from app.domain.people import Person
from app.lookups.policy import OpenRevision
from app.lookups.policy_judged import judged
from app.web.draft_edits import save_draft
from app.web.policy_desk import desk_of, grid_of
from app.web.policy_grid import cell_id, changed_cells
from app.web.policy_pages import (
    WorkPage,
    asked_age,
    base_of,
    can_edit,
    page_of,
    shows_sources,
    work_page,
)
from app.web.render import render


@dataclass(frozen=True)
class Changed:
    """`before`: the changes that would take it back; `after`: the draft with it."""

    before: CellChanges
    after: OpenRevision


@dataclass(frozen=True)
class Edited:
    """What to say of an edit of `found`.

    `changed` None, with `status` 409: nothing was, because somebody else had changed it.
    """

    found: OpenRevision
    age: str
    said: str
    changed: Changed | None = None
    form_done: bool = False
    status: int = 200

    @property
    def edited(self) -> tuple[str, ...]:
        return tuple(cell_id(c, alarm) for c, cells in self.before.items() for alarm in cells)

    @property
    def before(self) -> CellChanges:
        return {} if self.changed is None else self.changed.before

    @property
    def number(self) -> int:
        return self.found.revision.number


def by_htmx(request: Request) -> bool:
    return "hx-request" in request.headers


def change_cells(
    request: Request,
    person: Person,
    now: datetime,
    found: OpenRevision,
    changes: CellChanges,
    edit_version: int,
) -> Changed:
    """Raises Refused, NotFound, NotNow or Conflict."""
    document = found.profile.document
    before, changed = cells_before(document, changes), with_cells(document, changes)
    newest = found.revision.edit_version == edit_version
    if before == changes and newest and can_edit(found.revision, person):
        return Changed(before, found)  # the ledger tells of changes, not of keys pressed
    edited = save_draft(
        request,
        person,
        now,
        number=found.revision.number,
        document=changed,
        edit_version=edit_version,
    )
    return Changed(before, found.edited(edited))


def after_edit(request: Request, person: Person, now: datetime, edit: Edited) -> Response:
    """By htmx the parts that may have changed; else the page anew, at the age in hand."""
    asked = asked_age(edit.age, sources=shows_sources(request))
    if not by_htmx(request):
        query = urlencode({"age": str(asked.age)})
        return RedirectResponse(f"{base_of(person, edit.number)}?{query}", status_code=303)
    findings = judged(edit.found).findings
    was = grid_of(edit.found, findings, desk_of(edit.found, findings, person))
    if edit.changed is None:
        with request.app.state.database.reading() as tx:
            page = work_page(tx, number=edit.number, person=person, now=now, asked=asked)
    else:
        page = page_of(edit.changed.after, person, asked, before=edit.found)
    told = replace(
        page,
        said=edit.said,
        cells=changed_cells(was, page.rows, edit.edited),
        focus=next(iter(edit.edited), "") if edit.form_done else "",
        whole_grid=edit.status == Conflict.status,
        form_done=edit.form_done,
        before=_taking_back(edit, page),
    )
    return edited_parts(request, told, edit.status)


def _taking_back(edit: Edited, page: WorkPage) -> str:
    """Empty where nothing was stored."""
    stored = page.revision.edit_version != edit.found.revision.edit_version
    return json.dumps(edit.before) if edit.before and stored else ""


def edited_parts(request: Request, page: WorkPage, status: int) -> Response:
    answer = render(request, "policy/_edited.html", page, status=status)
    answer.headers["HX-Retarget"], answer.headers["HX-Reswap"] = "#said", "innerHTML"
    return answer
