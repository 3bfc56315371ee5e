"""A revision on its way: submitted, reviewed, sent back, signed, withdrawn."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from app.actions import revisions
from app.domain.errors import Fault, NotAllowed, Refused, TooMany
from app.domain.findings import Finding, Severity
from app.domain.moves import RevisionStatus, check_move, check_two_people
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import StoredRevision
from app.domain.rules import blanks, check
from app.lookups.policy import OpenRevision, open_revision
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.signing import SigningEntry, beside_fields, zone_of
from app.web.transactions import Now, Reading, Transaction, Writing

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


@dataclass(frozen=True)
class SigningPage:
    """What is signed, and what stands in the way; the password never comes back."""

    base: str
    revision: StoredRevision
    unsafe: list[Finding]
    notes: int
    blank: list[tuple[str, str, tuple[str, ...]]]
    two_people: str
    entry: SigningEntry
    zone: str
    faults: tuple[Fault, ...] = ()

    @property
    def can_sign(self) -> bool:
        return not (self.unsafe or self.blank or self.two_people)


@router.get("/sign")
def sign_page(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    found = _to_be_signed(tx, person, now, number)
    return render(request, "policy/sign.html", _signing(request, person, found, SigningEntry()))


def _to_be_signed(tx: Transaction, person: Person, now: datetime, number: int) -> OpenRevision:
    check_may(person, Deed.SIGN_REVISION)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    check_move(found.revision.status, RevisionStatus.SIGNED)
    return found


def _signing(
    request: Request,
    person: Person,
    found: OpenRevision,
    entry: SigningEntry,
    faults: tuple[Fault, ...] = (),
) -> SigningPage:
    findings = check(found.profile, bounds=found.bounds)
    unsafe = [finding for finding in findings if finding.severity is Severity.UNSAFE]
    return SigningPage(
        base_of(person, found.revision.number),
        found.revision,
        unsafe,
        len(findings) - len(unsafe),
        blanks(found.profile),
        _second_person_missing(person, found.revision),
        entry.without_password(),
        zone_of(request, person),
        faults,
    )


def _second_person_missing(person: Person, revision: StoredRevision) -> str:
    reviewer = None if revision.review is None else revision.review.person_id
    try:
        check_two_people(signer=person.id, authors=revision.author_ids, reviewer=reviewer)
    except NotAllowed as refused:
        return refused.message
    return ""


@router.post("/sign")
def sign(
    request: Request, person: Member, now: Now, number: int, entry: Annotated[SigningEntry, Form()]
) -> Response:
    # Not through the Writing dependency: a wrong password is told on the page, and it counts.
    database = request.app.state.database
    try:
        begins = entry.begins_at(zone_of(request, person))
        with database.writing() as tx:
            revisions.sign_revision(
                tx,
                number=number,
                fingerprint=entry.fingerprint,
                meaning=entry.meaning,
                password=entry.password,
                by=person,
                now=now,
                in_force_at=begins,
            )
    except (Refused, TooMany) as refused:
        with database.reading() as tx:
            found = _to_be_signed(tx, person, now, number)
        page = _signing(request, person, found, entry, beside_fields(refused))
        return render(request, "policy/sign.html", page, status=refused.status)
    return RedirectResponse(base_of(person, number), status_code=303)
