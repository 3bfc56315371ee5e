"""Editing a draft: one cell of its grid, or one wall by a step."""

import json
from dataclasses import dataclass, replace
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

from app.actions.revisions import edit_draft
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.documents import moved_limit, setting_in, with_limit, with_setting
from app.domain.errors import Conflict, Fault, NotFound, Refused
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.settings_of_alarms import Priority, show_number, units_of
from app.lookups.policy import OpenRevision, open_revision
from app.web.cell_entry import CellEntry, beside_fields, entry_of, setting_of
from app.web.policy_pages import asked_age, base_of, can_edit, work_page
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}")


class WallStep(BaseModel):
    """How many steps of the device up (or down), from the draft as it was shown."""

    steps: Annotated[int, Field(ge=-100, le=100)]
    edit_version: int
    age: Annotated[str, Field(max_length=60)] = ""


@dataclass(frozen=True)
class CellPage:
    """`theirs` is the cell as somebody else saved it meanwhile; None without a conflict."""

    base: str
    number: int
    category: PatientCategory
    alarm: AlarmCondition
    entry: CellEntry
    faults: tuple[Fault, ...] = ()
    conflict: str = ""
    theirs: CellEntry | None = None

    @property
    def action(self) -> str:
        return f"{self.base}/cell/{self.category.key}/{self.alarm.key}"

    @property
    def units(self) -> tuple[str, ...]:
        return units_of(self.alarm)

    @property
    def priorities(self) -> list[str]:
        return [priority.value for priority in Priority]


def _cell_page(
    found: OpenRevision, person: Person, category: str, alarm: str, age: str
) -> CellPage:
    held, condition = found.profile.category(category), ALARM_CONDITIONS.get(alarm)
    if held is None or condition is None:
        raise NotFound("There is no such cell.")
    document = json.loads(found.revision.document)
    setting = setting_in(document, category, alarm)
    entry = entry_of(setting, edit_version=found.revision.edit_version, age=age)
    number = found.revision.number
    return CellPage(base_of(person, number), number, held, condition, entry)


@router.get("/cell/{category}/{alarm}")
def cell(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    category: str,
    alarm: str,
    age: Annotated[str, Query(max_length=60)] = "",
) -> Response:
    check_may(person, Deed.EDIT_DRAFT)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    page = _cell_page(found, person, category, alarm, age)
    if not can_edit(found.revision, person):
        raise NotFound("Only a draft can be edited. Start a draft from this revision.")
    return render(request, _form_template(request), page)


def _form_template(request: Request) -> str:
    return "policy/_cell_form.html" if _by_htmx(request) else "policy/cell.html"


def _by_htmx(request: Request) -> bool:
    return "hx-request" in request.headers


@router.post("/cell/{category}/{alarm}")
def save_cell(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    category: str,
    alarm: str,
    entry: Annotated[CellEntry, Form()],
) -> Response:
    check_may(person, Deed.EDIT_DRAFT)
    database = request.app.state.database
    with database.reading() as tx:
        found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    page = _cell_page(found, person, category, alarm, entry.age)
    try:
        setting = setting_of(entry, page.alarm)
        document = with_setting(json.loads(found.revision.document), category, alarm, setting)
        _save(request, person, now, number, document, entry.edit_version)
    except Refused as refused:
        wrong = replace(page, entry=entry, faults=beside_fields(refused))
        return render(request, _form_template(request), wrong, status=422)
    except Conflict as conflict:
        return _both_versions(request, page, entry, conflict)
    said = f"Saved: {page.category.label}, {page.alarm.label}."
    edit = Edited(number, entry.age, said, (category, alarm), form_done=True)
    return _after_edit(request, person, now, edit)


def _both_versions(
    request: Request, page: CellPage, entry: CellEntry, conflict: Conflict
) -> Response:
    """Theirs beside what was typed, which stays in the form and can be saved over theirs."""
    newest = page.entry.edit_version
    mine = entry.model_copy(update={"edit_version": newest})
    told = replace(page, entry=mine, conflict=conflict.message, theirs=page.entry)
    return render(request, _form_template(request), told, status=409)


def _save(
    request: Request,
    person: Person,
    now: Now,
    number: int,
    document: dict[str, Any],
    edit_version: int,
) -> None:
    with request.app.state.database.writing() as tx:
        edit_draft(
            tx, number=number, document=document, edit_version=edit_version, by=person, now=now
        )


@dataclass(frozen=True)
class Edited:
    """What was changed, or was not because of a conflict, and what to say of it."""

    number: int
    age: str
    said: str
    cell: tuple[str, str]
    form_done: bool = False
    status: int = 200


def _after_edit(request: Request, person: Person, now: Now, edit: Edited) -> Response:
    """By htmx the parts that may have changed; else the page anew, at the age in hand."""
    asked = asked_age(edit.age)
    if not _by_htmx(request):
        query = urlencode({"age": str(asked.age)})
        return RedirectResponse(f"{base_of(person, edit.number)}?{query}", status_code=303)
    with request.app.state.database.reading() as tx:
        page = work_page(tx, number=edit.number, person=person, now=now, asked=asked)
    row = next(row for row in page.rows if row.alarm.key == edit.cell[1])
    cells = tuple(cell for cell in row.cells if cell.category.key == edit.cell[0])
    told = replace(page, said=edit.said, cells=cells, form_done=edit.form_done)
    answer = render(request, "policy/_edited.html", told, status=edit.status)
    answer.headers["HX-Retarget"], answer.headers["HX-Reswap"] = "#said", "innerHTML"
    return answer


@router.post("/wall/{category}/{alarm}")
def move_wall(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    category: str,
    alarm: str,
    step: Annotated[WallStep, Form()],
) -> Response:
    """One wall by so many steps of the device; everything else about the alarm stays."""
    check_may(person, Deed.EDIT_DRAFT)
    with request.app.state.database.reading() as tx:
        found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    page = _cell_page(found, person, category, alarm, step.age)
    limit = moved_limit(found.profile, category, alarm, step.steps)
    document = with_limit(json.loads(found.revision.document), category, alarm, limit)
    cell = (category, alarm)
    try:
        _save(request, person, now, number, document, step.edit_version)
    except Conflict as conflict:
        if not _by_htmx(request):
            raise
        said = f"{conflict.message} Nothing was moved; this is how it stands now."
        edit = Edited(number, step.age, said, cell, status=conflict.status)
        return _after_edit(request, person, now, edit)
    said = f"{page.category.label}, {page.alarm.label} is now {show_number(limit)}."
    return _after_edit(request, person, now, Edited(number, step.age, said, cell))
