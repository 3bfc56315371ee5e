"""Copying settings into a category of a draft: what it would do is shown first, then confirmed."""

import json
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.copied_settings import CopiedCell, Extent, Fate, copied_cells
from app.domain.errors import Conflict, NotFound, Refused
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import RevisionLine, StoredRevision
from app.exchange.stored_profiles import stored_profile
from app.lookups.policy import OpenRevision, open_revision
from app.lookups.revisions import all_revisions, revision
from app.web.notices import done
from app.web.policy_edits import change_cells
from app.web.policy_pages import base_of, can_edit
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/policy/{number}/copy")
Key = Annotated[str, Field(max_length=120)]


class CopyEntry(BaseModel):
    """`revision` and `category` say where from, `into` where to; `alarm` empty copies all.

    `source` is the fingerprint of the revision that was shown as the source.
    """

    into: Key = ""
    alarm: Key = ""
    revision: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    category: Key = ""
    extent: Extent = Extent.BLANKS
    edit_version: int = 0
    source: Key = ""


@dataclass(frozen=True)
class CopyingPage:
    """`wrong` says why nothing is shown, or was copied."""

    base: str
    draft: StoredRevision
    source: StoredRevision
    lines: list[RevisionLine]
    entry: CopyEntry
    wrong: str = ""

    @cached_property
    def categories(self) -> tuple[PatientCategory, ...]:
        return stored_profile(self.draft.document).categories

    @cached_property
    def source_categories(self) -> tuple[PatientCategory, ...]:
        return stored_profile(self.source.document).categories

    @property
    def alarms(self) -> list[AlarmCondition]:
        return list(ALARM_CONDITIONS.values())

    @property
    def into(self) -> PatientCategory:
        return next(one for one in self.categories if one.key == self.entry.into)

    @property
    def from_category(self) -> PatientCategory | None:
        """None: still to be chosen."""
        known = (one for one in self.source_categories if one.key == self.entry.category)
        return next(known, None)

    @property
    def onto_itself(self) -> bool:
        return self.source.id == self.draft.id and self.entry.category == self.entry.into

    @cached_property
    def cells(self) -> tuple[CopiedCell, ...]:
        if self.from_category is None or self.onto_itself:
            return ()
        source = json.loads(self.source.document)["settings"].get(self.entry.category, {})
        target = json.loads(self.draft.document)["settings"].get(self.entry.into, {})
        alarm = self.entry.alarm or None
        return copied_cells(source, target, self.entry.extent, alarm=alarm)

    @property
    def words(self) -> str:
        """Such as: 12 cells: 10 filled, 2 overwritten."""
        counts = [
            f"{count} {fate.value}"
            for fate in Fate
            if (count := sum(cell.fate is fate for cell in self.cells))
        ]
        return f"{len(self.cells)} cell{'' if len(self.cells) == 1 else 's'}: {', '.join(counts)}."

    @property
    def source_words(self) -> str:
        name = self.from_category.label if self.from_category else ""
        here = self.source.id == self.draft.id
        return f"{name} of {'this draft' if here else f'revision {self.source.number}'}"


def _page(
    tx: Transaction, person: Person, now: Now, number: int, entry: CopyEntry
) -> tuple[CopyingPage, OpenRevision]:
    check_may(person, Deed.EDIT_DRAFT)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    if not can_edit(found.revision, person):
        raise NotFound("Only a draft can be edited. Start a draft from this revision.")
    source_number = entry.revision or number
    source = revision(tx, agency_id=person.agency_id, number=source_number, now=now)
    lines = all_revisions(tx, agency_id=person.agency_id, now=now)[::-1]
    entry = entry.model_copy(update={"into": entry.into or found.profile.categories[0].key})
    if found.profile.category(entry.into) is None or not _is_alarm(entry.alarm):
        raise NotFound("There is no such cell.")
    return CopyingPage(base_of(person, number), found.revision, source, lines, entry), found


def _is_alarm(key: str) -> bool:
    return not key or key in ALARM_CONDITIONS


@router.get("")
def copying(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    entry: Annotated[CopyEntry, Query()],
) -> Response:
    page, _ = _page(tx, person, now, number, entry)
    return render(request, "policy/copy.html", page)


@router.post("")
def copy(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    entry: Annotated[CopyEntry, Form()],
) -> Response:
    with request.app.state.database.reading() as tx:
        page, found = _page(tx, person, now, number, entry)
    try:
        _check_as_shown(page)
        changes = {page.entry.into: {cell.alarm.key: cell.after for cell in page.cells}}
        change_cells(request, person, now, found, changes, entry.edit_version)
    except (Conflict, Refused) as refused:
        return _shown_again(request, person, now, page, refused)
    return done(f"{page.base}#grid", f"Copied into {page.into.label}. {page.words}")


def _check_as_shown(page: CopyingPage) -> None:
    if not page.cells:
        raise Refused.because("there is nothing to copy")
    same_draft = page.source.id == page.draft.id  # its edit version is checked when it is saved
    if not same_draft and page.source.fingerprint != page.entry.source:
        raise Conflict(f"Revision {page.source.number} was changed since it was shown.")


def _shown_again(
    request: Request, person: Person, now: Now, page: CopyingPage, refused: Conflict | Refused
) -> Response:
    """What was chosen stays; what it would do is told of the newest versions."""
    with request.app.state.database.reading() as tx:
        fresh, _ = _page(tx, person, now, page.draft.number, page.entry)
    told = f"{refused.message} Nothing was copied; this is what it would do now."
    return render(request, "policy/copy.html", replace(fresh, wrong=told), status=refused.status)
