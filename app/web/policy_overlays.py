"""One alarm under one circumstance, edited with the form of the grid's cells."""

import json
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.domain.ages import BIRTH, AgeSpan, hull
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.circumstance_edits import overlaid_setting_in, with_overlaid_setting
from app.domain.errors import Conflict, NotFound, Refused
from app.domain.overlays import OverlaidAlarm
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.profiles import Circumstance
from app.lookups.policy import OpenRevision, open_revision
from app.web.cell_entry import CellEntry, beside_fields, entry_of, setting_of
from app.web.circumstance_pages import Overlay, held_circumstance, overlay_of
from app.web.draft_edits import save_draft, to_edit
from app.web.notices import done
from app.web.policy_cells import CellPage
from app.web.policy_conflicts import both_versions
from app.web.policy_pages import base_of, can_edit
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}/circumstances")


@dataclass(frozen=True, kw_only=True)
class OverlayPage(CellPage):
    """A cell of the circumstance; `category` bears its label and the ages it may be chosen for."""

    overlay: Overlay
    overlaid: OverlaidAlarm

    @property
    def leave(self) -> str:
        return f"{self.base}/circumstances/{self.category.key}"

    @property
    def action(self) -> str:
        return f"{self.leave}/{self.alarm.key}"


def _page(found: OpenRevision, person: Person, key: str, alarm: str) -> OverlayPage:
    held, condition = held_circumstance(found, key), ALARM_CONDITIONS.get(alarm)
    if condition is None:
        raise NotFound("There is no such alarm.")
    setting = overlaid_setting_in(json.loads(found.revision.document), key, alarm)
    overlay = overlay_of(found, held)
    return OverlayPage(
        base=base_of(person, found.revision.number),
        number=found.revision.number,
        category=_as_category(held, overlay),
        alarm=condition,
        entry=entry_of(setting, edit_version=found.revision.edit_version, age=""),
        comments=(),
        overlay=overlay,
        overlaid=next(one for one in overlay.alarms if one.alarm == condition),
    )


def _as_category(held: Circumstance, overlay: Overlay) -> PatientCategory:
    spans = [one.span for one in overlay.reached]
    return PatientCategory(held.key, held.label, hull(spans) if spans else AgeSpan(BIRTH, None))


@router.get("/{key}/{alarm}")
def overlaid(
    request: Request, person: Member, tx: Reading, now: Now, number: int, key: str, alarm: str
) -> Response:
    check_may(person, Deed.EDIT_DRAFT)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    page = _page(found, person, key, alarm)
    if not can_edit(found.revision, person):
        raise NotFound("Only a draft can be edited. Start a draft from this revision.")
    return render(request, "policy/overlay.html", page)


@router.post("/{key}/{alarm}")
def save_overlaid(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    key: str,
    alarm: str,
    entry: Annotated[CellEntry, Form()],
) -> Response:
    found = to_edit(request, person, number, now)
    page = _page(found, person, key, alarm)
    try:
        setting = setting_of(entry, page.alarm)
        document = with_overlaid_setting(json.loads(found.revision.document), key, alarm, setting)
        version = entry.edit_version
        save_draft(request, person, now, number=number, document=document, edit_version=version)
    except Refused as refused:
        wrong = replace(page, entry=entry, faults=beside_fields(refused))
        return render(request, "policy/overlay.html", wrong, status=422)
    except Conflict as conflict:
        what = f"{page.category.label}, {page.alarm.label}"
        return both_versions(request, conflict, what=what, leave=page.leave)
    return done(page.leave, f"Saved: {page.category.label}, {page.alarm.label}.")
