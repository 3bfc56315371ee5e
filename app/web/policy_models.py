"""The device models of a draft: presets and the categories they serve, and what can be set."""

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.domain import model_edits
from app.domain.documents import Document
from app.domain.errors import Conflict, Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.lookups.model_records import latest_record
from app.lookups.policy import OpenRevision, open_revision
from app.web.draft_edits import at_fields, save_draft, to_edit
from app.web.grid_entry import typed_grid
from app.web.model_pages import (
    ModelEntry,
    model_of,
    model_page,
    models_page,
    with_typed,
    with_typed_grid,
)
from app.web.notices import done
from app.web.policy_conflicts import both_versions
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading
from app.web.typed import typed_in

router = APIRouter(prefix="/{agency}/policy/{number}/models")
Entry = Annotated[ModelEntry, Form()]
Change = Callable[[Document], Document]
_FIELDS = {"key", "etco2_unit", "retention_min", "name", "carries", "serves"}


@router.get("")
def models(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    return render(request, "policy/models.html", models_page(found, person))


@router.post("")
def add(request: Request, person: Member, now: Now, number: int, entry: Entry) -> Response:
    found, key = to_edit(request, person, number, now), entry.key.strip()
    here = f"{base_of(person, number)}/models"
    try:
        if not key:
            raise Refused.because("write the name of the model", column="key")
        document = model_edits.with_model(_document(found), key)
        version = entry.edit_version
        save_draft(request, person, now, number=number, document=document, edit_version=version)
    except Refused as refused:
        page = models_page(found, person, typed=entry.key, faults=_at_key(refused))
        return render(request, "policy/models.html", page, status=422)
    except Conflict as conflict:
        return both_versions(request, conflict, what=f"The model {key}", leave=here)
    return done(f"{here}/{key}", f"Added {key}. It has no preset yet.")


def _at_key(refused: Refused) -> tuple[Fault, ...]:
    """The only field is the key: whatever the reader of documents says is said of it."""
    return tuple(Fault(fault.reason, column="key") for fault in refused.faults)


@router.get("/{model}")
def model(
    request: Request, person: Member, tx: Reading, now: Now, number: int, model: str
) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    record = latest_record(tx, agency_id=person.agency_id, key=model)
    page = replace(model_page(found, person, model), record=record)
    return render(request, "policy/model.html", page)


@router.post("/{model}/facts")
def save_facts(
    request: Request, person: Member, now: Now, number: int, model: str, entry: Entry
) -> Response:
    def change(document: Document) -> Document:
        unit, minutes = entry.unit(), entry.retention()
        return model_edits.with_facts(document, model, etco2_unit=unit, retention_min=minutes)

    return _edit(request, person, now, ModelForm("facts", number, model, entry), change)


@router.post("/{model}/preset")
def save_preset(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    model: str,
    entry: Entry,
    of: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """`of` names the one that is changed; empty: a new one."""

    def change(document: Document) -> Document:
        name, preset = entry.preset()
        return model_edits.with_preset(document, model, name, preset, was=of or None)

    form = "preset" if of else "new"
    return _edit(request, person, now, ModelForm(form, number, model, entry, of), change)


@router.post("/{model}/preset/remove")
def remove_preset(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    model: str,
    entry: Entry,
    of: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    def change(document: Document) -> Document:
        return model_edits.without_preset(document, model, of)

    return _edit(request, person, now, ModelForm("preset", number, model, entry, of), change)


@dataclass(frozen=True)
class ModelForm:
    """One form of the page that was sent: `facts`, `preset` (of which), or `new`."""

    form: str
    number: int
    model: str
    entry: ModelEntry
    of: str = ""


def _edit(request: Request, person: Person, now: Now, sent: ModelForm, change: Change) -> Response:
    found = to_edit(request, person, sent.number, now)
    page = model_page(found, person, sent.model)
    try:
        document, version = change(_document(found)), sent.entry.edit_version
        save_draft(
            request, person, now, number=sent.number, document=document, edit_version=version
        )
    except Refused as refused:
        faults = tuple(
            Fault(one.reason, column=one.column if one.column in _FIELDS else None)
            for one in at_fields(refused)
        )
        told = with_typed(page, sent.form, sent.entry, faults, sent.of)
        return render(request, "policy/model.html", told, status=422)
    except Conflict as conflict:
        return both_versions(request, conflict, what=f"The model {sent.model}", leave=page.here)
    return done(page.here, "Saved. The proof and the rendered presets are of what is saved.")


@router.post("/{model}/grid")
def save_grid(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    model: str,
    edit_version: Annotated[int, Form()] = 0,
) -> Response:
    found = to_edit(request, person, number, now)
    page = model_page(found, person, model)
    typed = dict(typed_in(request))
    try:
        document = model_edits.with_grid(_document(found), model, typed_grid(typed))
        save_draft(
            request, person, now, number=number, document=document, edit_version=edit_version
        )
    except Refused as refused:
        told = with_typed_grid(page, typed, refused.faults)
        return render(request, "policy/model.html", told, status=422)
    except Conflict as conflict:
        return both_versions(request, conflict, what=f"The grid of {model}", leave=page.here)
    return done(f"{page.here}#grid", f"Saved what {model} can be set to.")


@router.post("/{model}/remove")
def remove(
    request: Request, person: Member, now: Now, number: int, model: str, entry: Entry
) -> Response:
    found = to_edit(request, person, number, now)
    model_of(found, model)
    here = f"{base_of(person, number)}/models"
    document = model_edits.without_model(_document(found), model)
    try:
        version = entry.edit_version
        save_draft(request, person, now, number=number, document=document, edit_version=version)
    except Conflict as conflict:
        return both_versions(request, conflict, what=f"Removing {model}", leave=here)
    return done(here, f"Removed {model}. Its devices have no rendered presets in this draft.")


def _document(found: OpenRevision) -> Document:
    document: Document = json.loads(found.revision.document)
    return document
