"""A revision on its way: submitted, reviewed, sent back, signed, withdrawn."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

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


class SigningEntry(BaseModel):
    """`when` is now or later; `begins` a local time of the agency, such as 2026-03-01T08:00."""

    fingerprint: Annotated[str, Field(max_length=64)] = ""
    meaning: Annotated[str, Field(max_length=300)] = ""
    password: Annotated[str, Field(max_length=1000)] = ""
    when: Annotated[str, Field(max_length=10)] = "now"
    begins: Annotated[str, Field(max_length=30)] = ""


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
    findings = check(found.profile)
    unsafe = [finding for finding in findings if finding.severity is Severity.UNSAFE]
    return SigningPage(
        base_of(person, found.revision.number),
        found.revision,
        unsafe,
        len(findings) - len(unsafe),
        blanks(found.profile),
        _second_person_missing(person, found.revision),
        entry.model_copy(update={"password": ""}),
        _zone(request, person),
        faults,
    )


def _second_person_missing(person: Person, revision: StoredRevision) -> str:
    reviewer = None if revision.review is None else revision.review.person_id
    try:
        check_two_people(signer=person.id, authors=revision.author_ids, reviewer=reviewer)
    except NotAllowed as refused:
        return refused.message
    return ""


def _zone(request: Request, person: Person) -> str:
    zone: str = request.app.state.agencies.of(person.agency).time_zone
    return zone


@router.post("/sign")
def sign(
    request: Request, person: Member, now: Now, number: int, entry: Annotated[SigningEntry, Form()]
) -> Response:
    # Not through the Writing dependency: a wrong password is told on the page, and it counts.
    database = request.app.state.database
    try:
        begins = _begins(entry, _zone(request, person))
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
        told = refused.faults if isinstance(refused, Refused) else (Fault(refused.message),)
        with database.reading() as tx:
            found = _to_be_signed(tx, person, now, number)
        page = _signing(request, person, found, entry, _beside_fields(told))
        return render(request, "policy/sign.html", page, status=refused.status)
    return RedirectResponse(base_of(person, number), status_code=303)


def _begins(entry: SigningEntry, zone: str) -> datetime | None:
    """None: at once."""
    if entry.when != "later":
        return None
    try:
        local = datetime.fromisoformat(entry.begins)
    except ValueError:
        raise Refused.because("give a day and a time", column="begins") from None
    return local.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def _beside_fields(faults: tuple[Fault, ...]) -> tuple[Fault, ...]:
    return tuple(
        Fault(fault.reason, column="begins") if fault.column == "in_force_at" else fault
        for fault in faults
    )
