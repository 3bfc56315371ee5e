"""Editing the grid in place: a cell by what is typed into it, and the last change taken back."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field, TypeAdapter, ValidationError

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.cell_changes import CellChanges
from app.domain.documents import setting_in
from app.domain.errors import Conflict, Refused
from app.domain.profiles import Profile
from app.lookups.policy import OpenRevision
from app.web.cell_entry import entry_of
from app.web.draft_edits import to_edit
from app.web.policy_cells import CellPage, both_versions, cell_page
from app.web.policy_edits import Edited, after_edit, by_htmx, change_cells
from app.web.quick_entry import quick_setting
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now

router = APIRouter(prefix="/{agency}/policy/{number}")
MOST_BEFORE = 400_000
"""Characters; every cell of a wide policy with long reasons is less."""


class QuickEntry(BaseModel):
    typed: Annotated[str, Field(max_length=60)] = ""
    edit_version: int = 0
    age: Annotated[str, Field(max_length=60)] = ""


class UndoEntry(BaseModel):
    """`before` is what the last change told of the cells as they had been."""

    before: Annotated[str, Field(max_length=MOST_BEFORE)] = ""
    edit_version: int = 0
    age: Annotated[str, Field(max_length=60)] = ""


@router.post("/cell/{category}/{alarm}/typed")
def save_typed(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    category: str,
    alarm: str,
    entry: Annotated[QuickEntry, Form()],
) -> Response:
    found = to_edit(request, person, number, now)
    page = cell_page(found, person, category, alarm, entry.age)
    held = setting_in(found.profile.document, category, alarm)
    try:
        _check_newest(found, entry.edit_version)
        changes = {category: {alarm: quick_setting(entry.typed, page.alarm, held)}}
        changed = change_cells(request, person, now, found, changes, entry.edit_version)
    except Refused as refused:
        if not by_htmx(request):
            raise
        return render(request, "policy/_typed_wrong.html", refused, status=refused.status)
    except Conflict as conflict:
        mine = _as_typed(entry, page, held, conflict)
        return both_versions(request, person, now, mine, conflict)
    said = f"Saved: {page.category.label}, {page.alarm.label}."
    return after_edit(request, person, now, Edited(found, entry.age, said, changed))


def _check_newest(found: OpenRevision, edit_version: int) -> None:
    """Before what was typed is judged: it was meant for the cell as it was shown."""
    if found.revision.edit_version != edit_version:
        raise Conflict(f"Revision {found.revision.number} was changed while you were typing.")


def _as_typed(
    entry: QuickEntry, page: CellPage, held: Mapping[str, Any] | None, conflict: Conflict
) -> CellPage:
    """What was typed, put on top of the cell as somebody else saved it, where that is possible."""
    told = f"{conflict.message} You typed “{entry.typed}”."
    try:
        setting = quick_setting(entry.typed, page.alarm, held)
    except Refused:
        return replace(page, conflict=told)
    mine = entry_of(setting, edit_version=page.entry.edit_version, age=entry.age)
    if setting is None:
        mine = mine.model_copy(update={"state": "blank"})
    return replace(page, entry=mine, conflict=told)


@router.post("/undo")
def undo(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    entry: Annotated[UndoEntry, Form()],
) -> Response:
    """Puts cells back as they were, as one more edit; what it tells takes that back in turn."""
    found = to_edit(request, person, number, now)
    changes = _changes(entry.before)
    try:
        changed = change_cells(request, person, now, found, changes, entry.edit_version)
    except Conflict as conflict:
        if not by_htmx(request):
            raise
        said = f"{conflict.message} Nothing was put back; this is how it stands now."
        edit = Edited(found, entry.age, said, status=conflict.status)
        return after_edit(request, person, now, edit)
    edit = Edited(found, entry.age, _put_back(found.profile, changes), changed)
    return after_edit(request, person, now, edit)


_CHANGES: TypeAdapter[dict[str, dict[str, dict[str, Any] | None]]] = TypeAdapter(
    dict[str, dict[str, dict[str, Any] | None]]
)


def _changes(before: str) -> CellChanges:
    try:
        found = _CHANGES.validate_json(before)
    except ValidationError:
        found = {}
    if not any(found.values()):
        raise Refused.because("there is no change to take back", column="before")
    return found


def _put_back(profile: Profile, changes: CellChanges) -> str:
    cells = [
        f"{category.label}, {ALARM_CONDITIONS[alarm].label}"
        for category in profile.categories
        for alarm in changes.get(category.key, ())
    ]
    return f"Put back: {cells[0] if len(cells) == 1 else f'{len(cells)} cells'}."
