"""Copying what a model can be set to from another model or revision: shown first, then done."""

import json
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.domain.errors import Conflict, NotFound, Refused
from app.domain.model_edits import MMHG, GridChange, grid_changes, with_copied_grid
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import RevisionLine, StoredRevision
from app.lookups.policy import open_revision
from app.lookups.revisions import all_revisions, revision
from app.web.draft_edits import save_draft
from app.web.model_pages import UNITS, model_of
from app.web.notices import done
from app.web.policy_conflicts import both_versions
from app.web.policy_pages import base_of, can_edit
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/policy/{number}/models/{model}/copy")


class GridSource(BaseModel):
    """`fingerprint` is of the revision that was shown as the source."""

    revision: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    source: Annotated[str, Field(max_length=60)] = ""
    fingerprint: Annotated[str, Field(max_length=64)] = ""
    edit_version: int = 0


@dataclass(frozen=True)
class GridCopyingPage:
    """`wrong` says why nothing was copied."""

    base: str
    key: str
    draft: StoredRevision
    source: StoredRevision
    lines: list[RevisionLine]
    entry: GridSource
    wrong: str = ""

    @cached_property
    def models(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.source.document).get("models", {})
        if self.source.id == self.draft.id:
            found.pop(self.key, None)
        return found

    @property
    def chosen(self) -> dict[str, Any] | None:
        return self.models.get(self.entry.source)

    @cached_property
    def held(self) -> dict[str, Any]:
        model: dict[str, Any] = json.loads(self.draft.document)["models"][self.key]
        return model

    @cached_property
    def changes(self) -> tuple[GridChange, ...]:
        chosen = self.chosen
        return () if chosen is None else grid_changes(self.held.get("grid", {}), chosen["grid"])

    @property
    def unit(self) -> str:
        """The unit of EtCO₂ that comes along; empty where it is the same."""
        old, new = (one.get("etco2_unit", MMHG) for one in (self.held, self.chosen or self.held))
        return "" if old == new else dict(UNITS)[new]

    @property
    def source_words(self) -> str:
        here = self.source.id == self.draft.id
        return (
            f"{self.entry.source} of {'this draft' if here else f'revision {self.source.number}'}"
        )


def _page(
    tx: Transaction, person: Person, now: Now, number: int, model: str, entry: GridSource
) -> GridCopyingPage:
    check_may(person, Deed.EDIT_DRAFT)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    if not can_edit(found.revision, person):
        raise NotFound("Only a draft can be edited. Start a draft from this revision.")
    model_of(found, model)
    source = revision(tx, agency_id=person.agency_id, number=entry.revision or number, now=now)
    lines = all_revisions(tx, agency_id=person.agency_id, now=now)[::-1]
    return GridCopyingPage(base_of(person, number), model, found.revision, source, lines, entry)


@router.get("")
def copying(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    model: str,
    entry: Annotated[GridSource, Query()],
) -> Response:
    page = _page(tx, person, now, number, model, entry)
    return render(request, "policy/grid_copy.html", page)


@router.post("")
def copy(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    model: str,
    entry: Annotated[GridSource, Form()],
) -> Response:
    with request.app.state.database.reading() as tx:
        page = _page(tx, person, now, number, model, entry)
    here = f"{page.base}/models/{model}"
    if page.chosen is None:
        raise NotFound("There is no such model to copy from.")
    if page.source.id != page.draft.id and page.source.fingerprint != entry.fingerprint:
        told = "The source was changed since it was shown. Nothing was copied."
        return render(request, "policy/grid_copy.html", replace(page, wrong=told), status=409)
    document = with_copied_grid(json.loads(page.draft.document), model, page.chosen)
    try:
        version = entry.edit_version
        save_draft(request, person, now, number=number, document=document, edit_version=version)
    except Refused as refused:
        again = replace(page, wrong=refused.message)
        return render(request, "policy/grid_copy.html", again, status=422)
    except Conflict as conflict:
        return both_versions(request, conflict, what=f"The grid of {model}", leave=here)
    return done(f"{here}#grid", f"Copied what {page.source_words} can be set to.")
