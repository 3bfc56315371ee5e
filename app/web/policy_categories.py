"""The patient categories of a draft, with the proof that every age reaches exactly one."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.domain.category_edits import Split, removed, with_edge, with_new_key, with_split
from app.domain.documents import Document, with_category
from app.domain.errors import Refused
from app.domain.permissions import Deed, check_may
from app.lookups.policy import open_revision
from app.web.category_pages import CategoryEntry, SchemeForm, categories_page, edit_scheme
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}/categories")
Entry = Annotated[CategoryEntry, Form()]
COPY, BLANK = "copy", "blank"


@router.get("")
def categories(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    return render(request, "policy/categories.html", categories_page(found, person))


@router.post("")
def add(request: Request, person: Member, now: Now, number: int, entry: Entry) -> Response:
    def change(document: Document) -> Document:
        if any(held["key"] == entry.key.strip() for held in document["categories"]):
            raise Refused.because("stands already", column="key")
        return with_category(document, entry.band())

    return edit_scheme(request, person, now, SchemeForm("add", number, entry), change)


@router.post("/{category}")
def change(
    request: Request, person: Member, now: Now, number: int, category: str, entry: Entry
) -> Response:
    sent = SchemeForm("change", number, entry, category)
    return edit_scheme(
        request, person, now, sent, lambda document: with_category(document, entry.band(category))
    )


@router.post("/{category}/remove")
def remove(
    request: Request, person: Member, now: Now, number: int, category: str, entry: Entry
) -> Response:
    sent = SchemeForm("remove", number, entry, category)
    return edit_scheme(request, person, now, sent, lambda document: removed(document, category))


@router.post("/{category}/key")
def change_key(
    request: Request, person: Member, now: Now, number: int, category: str, entry: Entry
) -> Response:
    sent = SchemeForm("key", number, entry, category)
    new = entry.key.strip()
    return edit_scheme(
        request, person, now, sent, lambda document: with_new_key(document, category, new)
    )


@router.post("/{category}/split")
def split(
    request: Request, person: Member, now: Now, number: int, category: str, entry: Entry
) -> Response:
    def change(document: Document) -> Document:
        if entry.begins not in (COPY, BLANK):
            raise Refused.because("choose one", column="begins")
        copied = entry.begins == COPY
        part = Split(entry.at.strip(), entry.key.strip(), entry.label.strip(), copied)
        return with_split(document, category, part)

    sent = SchemeForm("split", number, entry, category)
    return edit_scheme(request, person, now, sent, change)


@router.post("/{category}/edge")
def move_edge(
    request: Request, person: Member, now: Now, number: int, category: str, entry: Entry
) -> Response:
    """The end of this category and the start of the next older one, in one step."""
    sent = SchemeForm("edge", number, entry, category)
    older, at = entry.older, entry.at.strip()
    return edit_scheme(
        request, person, now, sent, lambda document: with_edge(document, category, older, at)
    )
