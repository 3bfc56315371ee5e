"""Editing a draft: one cell of its grid, or one wall by a step."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.documents import setting_in, with_limit
from app.domain.errors import Conflict, Fault, NotFound, Refused
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revision_comments import Comment, comments_at, unresolved
from app.domain.settings_of_alarms import Priority, show_number, units_of
from app.domain.wall_steps import moved_limit
from app.lookups.policy import OpenRevision, open_revision
from app.web.cell_entry import CellEntry, beside_fields, entry_of, setting_of
from app.web.draft_edits import to_edit
from app.web.policy_edits import Edited, after_edit, by_htmx, change_cells
from app.web.policy_pages import WorkPage, asked_age, base_of, can_edit, work_page
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}")


class WallStep(BaseModel):
    """How many steps of the device up (or down), from the draft as it was shown."""

    steps: Annotated[int, Field(ge=-1000, le=1000)]
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
    comments: tuple[Comment, ...]  # those not resolved
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


@dataclass(frozen=True)
class CellConflict:
    """Both versions of the cell, and the revision as it stands now: more may have changed."""

    cell: CellPage
    work: WorkPage


def cell_page(found: OpenRevision, person: Person, category: str, alarm: str, age: str) -> CellPage:
    held, condition = found.profile.category(category), ALARM_CONDITIONS.get(alarm)
    if held is None or condition is None:
        raise NotFound("There is no such cell.")
    setting = setting_in(found.profile.document, category, alarm)
    entry = entry_of(setting, edit_version=found.revision.edit_version, age=age)
    number = found.revision.number
    said = unresolved(comments_at(found.comments, category, alarm))
    return CellPage(base_of(person, number), number, held, condition, entry, said)


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
    page = cell_page(found, person, category, alarm, age)
    if not can_edit(found.revision, person):
        raise NotFound("Only a draft can be edited. Start a draft from this revision.")
    return render(request, _form_template(request), page)


def _form_template(request: Request) -> str:
    return "policy/_cell_form.html" if by_htmx(request) else "policy/cell.html"


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
    found = to_edit(request, person, number, now)
    page = cell_page(found, person, category, alarm, entry.age)
    try:
        changes = {category: {alarm: setting_of(entry, page.alarm)}}
        changed = change_cells(request, person, now, found, changes, entry.edit_version)
    except Refused as refused:
        wrong = replace(page, entry=entry, faults=beside_fields(refused))
        return render(request, _form_template(request), wrong, status=422)
    except Conflict as conflict:
        return both_versions(request, person, now, replace(page, entry=entry), conflict)
    said = f"Saved: {page.category.label}, {page.alarm.label}."
    edit = Edited(found, entry.age, said, changed, form_done=True)
    return after_edit(request, person, now, edit)


def both_versions(
    request: Request, person: Person, now: datetime, mine: CellPage, conflict: Conflict
) -> Response:
    """Theirs beside what was typed, which stays in the form and can be saved over theirs."""
    with request.app.state.database.reading() as tx:
        work = work_page(
            tx, number=mine.number, person=person, now=now, asked=asked_age(mine.entry.age)
        )
        found = open_revision(tx, agency_id=person.agency_id, number=mine.number, now=now)
    keys = mine.category.key, mine.alarm.key
    theirs = cell_page(found, person, *keys, mine.entry.age).entry
    entry = mine.entry.model_copy(update={"edit_version": theirs.edit_version})
    told = replace(mine, entry=entry, conflict=mine.conflict or conflict.message, theirs=theirs)
    if not by_htmx(request):
        return render(request, "policy/cell.html", told, status=conflict.status)
    page = CellConflict(told, replace(work, whole_grid=True))
    answer = render(request, "policy/_cell_conflict.html", page, status=conflict.status)
    answer.headers["HX-Retarget"] = "#cell-place"
    answer.headers["HX-Reswap"] = "innerHTML show:top"
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
    found = to_edit(request, person, number, now)
    page = cell_page(found, person, category, alarm, step.age)
    limit = moved_limit(found.profile, category, alarm, step.steps)
    document = with_limit(found.profile.document, category, alarm, limit)
    changes = {category: {alarm: setting_in(document, category, alarm)}}
    try:
        changed = change_cells(request, person, now, found, changes, step.edit_version)
    except Conflict as conflict:
        if not by_htmx(request):
            raise
        said = f"{conflict.message} Nothing was moved; this is how it stands now."
        edit = Edited(found, step.age, said, status=conflict.status)
        return after_edit(request, person, now, edit)
    said = f"{page.category.label}, {page.alarm.label} is now {show_number(limit)}."
    return after_edit(request, person, now, Edited(found, step.age, said, changed))
