"""The categories of a draft as they are typed, and as their page shows them."""

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.domain.category_edits import in_age_order
from app.domain.documents import Document
from app.domain.errors import Conflict, Fault, NotFound, Refused
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.revisions import StoredRevision
from app.domain.scheme_proof import SchemeProof, scheme_proof
from app.lookups.policy import OpenRevision
from app.web.draft_edits import at_fields, save_draft, to_edit
from app.web.notices import done
from app.web.policy_conflicts import both_versions
from app.web.policy_pages import base_of, can_edit
from app.web.render import render
from app.web.transactions import Now

Word = Annotated[str, Field(max_length=2000)]  # how long a name may be, the policy says


class CategoryEntry(BaseModel):
    """As typed into any of the page's forms; an empty `end` is open."""

    key: Word = ""
    label: Word = ""
    start: Word = ""
    end: Word = ""
    at: Word = ""
    older: Word = ""
    begins: Word = ""
    edit_version: int = 0

    def band(self, key: str = "") -> dict[str, str | None]:
        """As the document holds it; the reader of documents refuses what is no category."""
        return {
            "key": key or self.key.strip(),
            "label": self.label.strip(),
            "from": self.start.strip(),
            "to": self.end.strip() or None,
        }


@dataclass(frozen=True)
class CategoriesPage:
    """`entry` and `faults` belong to the form that was sent: `form` of the category `of`."""

    base: str
    revision: StoredRevision
    categories: tuple[PatientCategory, ...]
    proof: SchemeProof
    can_edit: bool
    form: str = ""
    of: str = ""
    entry: CategoryEntry | None = None
    faults: tuple[Fault, ...] = ()

    def typed(self, form: str, of: str = "") -> CategoryEntry | None:
        return self.entry if (form, of) == (self.form, self.of) else None


def categories_page(found: OpenRevision, person: Person) -> CategoriesPage:
    categories = found.profile.categories
    return CategoriesPage(
        base_of(person, found.revision.number),
        found.revision,
        tuple(sorted(categories, key=lambda one: one.span.start)),
        scheme_proof(categories),
        can_edit(found.revision, person),
    )


_FIELDS = {
    "add": {"key", "label", "start", "end"},
    "change": {"label", "start", "end"},
    "split": {"at", "key", "label", "begins"},
    "key": {"key"},
    "edge": {"at"},
    "remove": set[str](),
}
"""By form, where a fault can stand; any other is told above all forms."""


@dataclass(frozen=True)
class SchemeForm:
    """One form of the page that was sent: of which kind, about which category, with what."""

    form: str
    number: int
    entry: CategoryEntry
    of: str = ""


def edit_scheme(
    request: Request,
    person: Person,
    now: Now,
    sent: SchemeForm,
    change: Callable[[Document], Document],
) -> Response:
    """Raises NotFound where the category that the form is about is not there."""
    found = to_edit(request, person, sent.number, now)
    page = categories_page(found, person)
    if sent.of and found.profile.category(sent.of) is None:
        raise NotFound(f"There is no category {sent.of}.")
    here = f"{page.base}/categories"
    try:
        document = in_age_order(change(json.loads(found.revision.document)))
        version = sent.entry.edit_version
        save_draft(
            request, person, now, number=sent.number, document=document, edit_version=version
        )
    except Refused as refused:
        return _refused(request, page, sent, refused)
    except Conflict as conflict:
        what = f"The change of {sent.of or 'the categories'}"
        return both_versions(request, conflict, what=what, leave=here)
    return done(here, "Saved, and proved anew.")


def _refused(
    request: Request, page: CategoriesPage, sent: SchemeForm, refused: Refused
) -> Response:
    """What was typed stays, on the newest version: nothing of it was stored."""
    known = _FIELDS[sent.form]
    faults = tuple(
        fault if fault.column in known else replace(fault, column=None)
        for fault in at_fields(refused, {"from": "start", "to": "end"})
    )
    told = replace(page, form=sent.form, of=sent.of, entry=sent.entry, faults=faults)
    return render(request, "policy/categories.html", told, status=422)
