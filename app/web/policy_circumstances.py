"""The circumstances of a draft: added, renamed, given to categories, removed."""

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.domain.circumstance_edits import with_circumstance, with_reach, without_circumstance
from app.domain.documents import Document
from app.domain.errors import Conflict, Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.lookups.policy import OpenRevision, open_revision
from app.web.circumstance_pages import (
    CircumstanceEntry,
    circumstance_page,
    circumstances_page,
    held_circumstance,
)
from app.web.draft_edits import at_fields, save_draft, to_edit
from app.web.notices import done
from app.web.policy_conflicts import both_versions
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}/circumstances")
Entry = Annotated[CircumstanceEntry, Form()]
Change = Callable[[Document], Document]


@router.get("")
def circumstances(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    return render(request, "policy/circumstances.html", circumstances_page(found, person))


@router.get("/{key}")
def one(request: Request, person: Member, tx: Reading, now: Now, number: int, key: str) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    return render(request, "policy/circumstance.html", circumstance_page(found, person, key))


@router.post("")
def add(request: Request, person: Member, now: Now, number: int, entry: Entry) -> Response:
    found = to_edit(request, person, number, now)

    def change(document: Document) -> Document:
        key, reach = entry.new_key(), entry.checked_reach()
        return with_circumstance(document, key, label=entry.new_label(), applies_to=reach)

    try:
        _save(request, person, now, found, entry, change)
    except Refused as refused:
        faults = _at_fields(refused, "key" if entry.key.strip() else "known")
        told = replace(circumstances_page(found, person), entry=entry, faults=faults)
        return render(request, "policy/circumstances.html", told, status=422)
    except Conflict as conflict:
        return _both_versions(request, person, found, entry, conflict)
    here = f"{base_of(person, number)}/circumstances/{entry.new_key()}"
    return done(here, "Added. It changes no alarm yet: choose which below.")


@router.post("/{key}")
def change_reach(
    request: Request, person: Member, now: Now, number: int, key: str, entry: Entry
) -> Response:
    """Its label, and the categories for which it may be chosen."""
    found = to_edit(request, person, number, now)
    page = circumstance_page(found, person, key)

    def change(document: Document) -> Document:
        label, reach = entry.label.strip(), entry.checked_reach()
        return with_reach(document, key, label=label, applies_to=reach)

    try:
        _save(request, person, now, found, entry, change)
    except Refused as refused:
        told = replace(page, entry=entry, faults=_at_fields(refused, None))
        return render(request, "policy/circumstance.html", told, status=422)
    except Conflict as conflict:
        return _both_versions(request, person, found, entry, conflict)
    return done(f"{page.base}/circumstances/{key}", "Saved.")


@router.post("/{key}/remove")
def remove(
    request: Request, person: Member, now: Now, number: int, key: str, entry: Entry
) -> Response:
    found = to_edit(request, person, number, now)
    label = held_circumstance(found, key).label
    try:
        _save(
            request, person, now, found, entry, lambda document: without_circumstance(document, key)
        )
    except Conflict as conflict:
        return _both_versions(request, person, found, entry, conflict)
    return done(f"{base_of(person, number)}/circumstances", f"Removed: {label}.")


def _save(
    request: Request,
    person: Person,
    now: Now,
    found: OpenRevision,
    entry: CircumstanceEntry,
    change: Change,
) -> None:
    document = change(json.loads(found.revision.document))
    number, version = found.revision.number, entry.edit_version
    save_draft(request, person, now, number=number, document=document, edit_version=version)


def _both_versions(
    request: Request,
    person: Person,
    found: OpenRevision,
    entry: CircumstanceEntry,
    conflict: Conflict,
) -> Response:
    fields = {name: getattr(entry, name) for name in ("known", "key", "label")}
    # One hidden field holds all of them: several of one name would not come back.
    fields["applies_to"] = ",".join(entry.reached)
    return both_versions(
        request,
        conflict,
        what="What you sent about circumstances",
        leave=f"{base_of(person, found.revision.number)}/circumstances",
        fields=fields,
    )


def _at_fields(refused: Refused, key: str | None) -> tuple[Fault, ...]:
    """`key` is the field that wrote the key; None where the form has none."""
    known = {"label", "applies_to", key}
    told = at_fields(refused, {"key": key or "", "known": key or ""})
    return tuple(one if one.column in known else replace(one, column=None) for one in told)
