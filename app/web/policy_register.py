"""A draft's device model, taken from what the register holds of it."""

import json
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.domain import model_edits
from app.domain.documents import Document
from app.domain.errors import Conflict, NotFound
from app.domain.model_records import ModelFacts, grid_document
from app.domain.settings_of_alarms import as_number
from app.lookups.model_records import latest_record
from app.web.draft_edits import save_draft, to_edit
from app.web.model_pages import model_of
from app.web.notices import done
from app.web.policy_conflicts import both_versions
from app.web.policy_pages import base_of
from app.web.sessions import Member
from app.web.transactions import Now

router = APIRouter(prefix="/{agency}/policy/{number}/models/{model}/from-register")


@router.post("")
def copy(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    model: str,
    edit_version: Annotated[int, Form()] = 0,
) -> Response:
    """Grid, unit and retention time; which category a preset carries is for the policy to say."""
    found = to_edit(request, person, number, now)
    model_of(found, model)
    with request.app.state.database.reading() as tx:
        record = latest_record(tx, agency_id=person.agency_id, key=model)
    if record is None:
        raise NotFound(f"The register holds nothing of {model}.")
    here = f"{base_of(person, number)}/models/{model}"
    document = _copied(json.loads(found.revision.document), model, record.facts)
    try:
        save_draft(
            request, person, now, number=number, document=document, edit_version=edit_version
        )
    except Conflict as conflict:
        return both_versions(request, conflict, what=f"The model {model}", leave=here)
    return done(here, "Copied from the register. Presets stay as they are mapped here.")


def _copied(document: Document, model: str, facts: ModelFacts) -> Document:
    held = facts.retention_min
    told = model_edits.with_facts(
        document,
        model,
        etco2_unit=facts.etco2_unit,
        retention_min=None if held is None else as_number(held),
    )
    return model_edits.with_grid(told, model, grid_document(facts.grid)) if facts.grid else told
