"""A revision on its way: submitted, reviewed, sent back, withdrawn; signing has its own page."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from app.actions import revisions
from app.domain.moves import RevisionStatus
from app.domain.people import Person
from app.web.policy_pages import base_of
from app.web.sessions import Member
from app.web.transactions import Now, Transaction, Writing

router = APIRouter(prefix="/{agency}/policy/{number}")
Note = Annotated[str, Form(max_length=4000)]


def _move(
    tx: Transaction, person: Person, now: Now, number: int, to: RevisionStatus, note: str
) -> Response:
    revisions.move_revision(tx, number=number, to=to, by=person, now=now, note=note)
    return RedirectResponse(base_of(person, number), status_code=303)


@router.post("/submit")
def submit(person: Member, tx: Writing, now: Now, number: int, note: Note = "") -> Response:
    return _move(tx, person, now, number, RevisionStatus.IN_REVIEW, note)


@router.post("/send-back")
def send_back(person: Member, tx: Writing, now: Now, number: int, note: Note = "") -> Response:
    return _move(tx, person, now, number, RevisionStatus.DRAFT, note)


@router.post("/withdraw")
def withdraw(person: Member, tx: Writing, now: Now, number: int, note: Note = "") -> Response:
    return _move(tx, person, now, number, RevisionStatus.WITHDRAWN, note)


@router.post("/review")
def review(person: Member, tx: Writing, now: Now, number: int, note: Note = "") -> Response:
    revisions.record_review(tx, number=number, by=person, now=now, note=note)
    return RedirectResponse(base_of(person, number), status_code=303)
