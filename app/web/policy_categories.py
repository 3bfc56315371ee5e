"""The patient categories of a draft, with the proof that every age reaches exactly one."""

import json
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

from app.actions.revisions import edit_draft
from app.domain.documents import Document, with_category, without_category
from app.domain.errors import Fault, NotFound, Refused
from app.domain.patient_categories import PatientCategory, SchemeFault, prove_scheme
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import StoredRevision
from app.lookups.policy import open_revision
from app.web.policy_pages import base_of, can_edit
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/policy/{number}/categories")
Word = Annotated[str, Field(max_length=120)]


class CategoryEntry(BaseModel):
    """As typed; an empty `to` is open."""

    key: Word = ""
    label: Word = ""
    start: Word = ""
    end: Word = ""
    edit_version: int = 0

    def category(self) -> dict[str, str | None]:
        """As the document holds it; the reader of documents refuses what is no category."""
        return {
            "key": self.key.strip(),
            "label": self.label.strip(),
            "from": self.start.strip(),
            "to": self.end.strip() or None,
        }


@dataclass(frozen=True)
class CategoriesPage:
    """`entry` and `faults` belong to the form that was sent: `for_key`, or the one that adds."""

    base: str
    revision: StoredRevision
    categories: tuple[PatientCategory, ...]
    scheme_faults: list[SchemeFault]
    can_edit: bool
    entry: CategoryEntry
    for_key: str = ""
    faults: tuple[Fault, ...] = ()


def _page(tx: Transaction, person: Person, number: int, now: Now) -> CategoriesPage:
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    categories = found.profile.categories
    return CategoriesPage(
        base_of(person, number),
        found.revision,
        categories,
        prove_scheme(categories),
        can_edit(found.revision, person),
        CategoryEntry(edit_version=found.revision.edit_version),
    )


@router.get("")
def categories(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    return render(request, "policy/categories.html", _page(tx, person, number, now))


@router.post("")
def add(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    entry: Annotated[CategoryEntry, Form()],
) -> Response:
    check_may(person, Deed.EDIT_DRAFT)
    page = _read(request, person, number, now)
    if any(category.key == entry.key.strip() for category in page.categories):
        return _refused(request, page, entry, Refused.because("stands already", column="key"))
    return _store(request, person, now, page, entry)


@router.post("/{category}")
def change(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    category: str,
    entry: Annotated[CategoryEntry, Form()],
) -> Response:
    check_may(person, Deed.EDIT_DRAFT)
    page = _read(request, person, number, now)
    if all(held.key != category for held in page.categories):
        raise NotFound(f"There is no category {category}.")
    entry = entry.model_copy(update={"key": category})
    return _store(request, person, now, replace(page, for_key=category), entry)


@router.post("/{category}/remove")
def remove(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    category: str,
    edit_version: Annotated[int, Form()],
) -> Response:
    check_may(person, Deed.EDIT_DRAFT)
    page = _read(request, person, number, now)
    try:
        document = without_category(json.loads(page.revision.document), category)
        return _edit(request, person, now, page, document, edit_version)
    except Refused as refused:
        return _refused(request, page, page.entry, refused)


def _read(request: Request, person: Person, number: int, now: Now) -> CategoriesPage:
    with request.app.state.database.reading() as tx:
        return _page(tx, person, number, now)


def _store(
    request: Request, person: Person, now: Now, page: CategoriesPage, entry: CategoryEntry
) -> Response:
    try:
        document = with_category(json.loads(page.revision.document), entry.category())
        return _edit(request, person, now, page, document, entry.edit_version)
    except Refused as refused:
        return _refused(request, page, entry, refused)


def _edit(
    request: Request,
    person: Person,
    now: Now,
    page: CategoriesPage,
    document: Document,
    edit_version: int,
) -> Response:
    with request.app.state.database.writing() as tx:
        edit_draft(
            tx,
            number=page.revision.number,
            document=document,
            edit_version=edit_version,
            by=person,
            now=now,
        )
    return RedirectResponse(f"{page.base}/categories", status_code=303)


def _refused(
    request: Request, page: CategoriesPage, entry: CategoryEntry, refused: Refused
) -> Response:
    """What was typed stays, with the newest version: nothing of it was stored."""
    newest = page.revision.edit_version
    faults = tuple(Fault(fault.reason, column=_field(fault)) for fault in refused.faults)
    typed = entry.model_copy(update={"edit_version": newest})
    told = replace(page, entry=typed, faults=faults)
    return render(request, "policy/categories.html", told, status=422)


def _field(fault: Fault) -> str:
    last = str(fault.column or "").split(" / ")[-1]
    return {"from": "start", "to": "end"}.get(last, last)
