"""The page on which a revision is signed: what is signed, and what stands in the way."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import Field

from app.actions.signing import sign_revision
from app.domain.errors import Fault, NotAllowed, Refused, TooMany
from app.domain.local_days import day_words, local_day, years_later
from app.domain.moves import Move, RevisionStatus, check_move, check_two_people
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import MOST_REVIEW_YEARS, REVIEW_YEARS, RevisionLine, StoredRevision
from app.domain.signing import BeforeSigning, SigningTerms
from app.domain.waivers import UnsafeFinding, Waiver
from app.lookups.policy import OpenRevision, open_revision
from app.web.notices import done
from app.web.policy_desk import Desk, desk_of
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.signing import SigningEntry, beside_fields, zone_of
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/policy/{number}/sign")


class RevisionSigningEntry(SigningEntry):
    """`review_by` is a day; `emergency` is ticked, then `emergency_reason` says why."""

    review_by: Annotated[str, Field(max_length=20)] = ""
    emergency: Annotated[str, Field(max_length=10)] = ""
    emergency_reason: Annotated[str, Field(max_length=8000)] = ""

    def terms(self, zone: str, *, emergency_only: bool) -> SigningTerms:
        """Raises Refused."""
        return SigningTerms(self.begins_at(zone), self._day(), self._reason(needed=emergency_only))

    def _day(self) -> date | None:
        if not self.review_by.strip():
            return None
        try:
            return date.fromisoformat(self.review_by.strip())
        except ValueError:
            raise Refused.because("give a day, such as 2027-03-01", column="review_by") from None

    def _reason(self, *, needed: bool) -> str:
        if not (self.emergency or needed):
            return ""
        if not self.emergency_reason.strip():
            raise Refused.because("say what the emergency is", column="emergency")
        return self.emergency_reason


@dataclass(frozen=True)
class SigningPage:
    """The password never comes back. `two_people` says why this person may not sign alone;
    `waiting` are signed already and will take over from it."""

    base: str
    revision: StoredRevision
    before: BeforeSigning
    desk: Desk
    move: Move
    two_people: str
    entry: RevisionSigningEntry
    zone: str
    waiting: tuple[RevisionLine, ...] = ()
    faults: tuple[Fault, ...] = ()

    @property
    def unwaived(self) -> tuple[UnsafeFinding, ...]:
        return self.before.unwaived(self.desk.today)

    @property
    def waived(self) -> tuple[Waiver, ...]:
        return self.before.waived(self.desk.today)

    @property
    def can_sign(self) -> bool:
        return self.before.is_clear(self.desk.today)

    @property
    def emergency_only(self) -> bool:
        """A draft nobody reviewed, or one that nobody else has looked at."""
        return self.move.emergency or bool(self.two_people)

    @property
    def last_review_day(self) -> date:
        return years_later(self.desk.today, MOST_REVIEW_YEARS)


@router.get("")
def sign_page(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    found = _to_be_signed(tx, person, now, number)
    in_a_year = years_later(found.today, REVIEW_YEARS).isoformat()
    page = _page(request, person, found, RevisionSigningEntry(review_by=in_a_year))
    return render(request, "policy/sign.html", page)


def _to_be_signed(tx: Transaction, person: Person, now: datetime, number: int) -> OpenRevision:
    check_may(person, Deed.SIGN_REVISION)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    check_move(found.revision.status, RevisionStatus.SIGNED)
    return found


def _page(
    request: Request,
    person: Person,
    found: OpenRevision,
    entry: RevisionSigningEntry,
    faults: Sequence[Fault] = (),
) -> SigningPage:
    before = found.before_signing
    return SigningPage(
        base=base_of(person, found.revision.number),
        revision=found.revision,
        before=before,
        desk=desk_of(found, (one.finding for one in before.unsafe), person),
        move=check_move(found.revision.status, RevisionStatus.SIGNED),
        two_people=_second_person_missing(person, found.revision),
        entry=entry.without_password(),
        zone=zone_of(request, person),
        waiting=found.waiting,
        faults=tuple(faults),
    )


def _second_person_missing(person: Person, revision: StoredRevision) -> str:
    reviewer = None if revision.review is None else revision.review.person_id
    try:
        check_two_people(signer=person.id, authors=revision.author_ids, reviewer=reviewer)
    except NotAllowed as refused:
        return refused.message
    return ""


@router.post("")
def sign(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    entry: Annotated[RevisionSigningEntry, Form()],
) -> Response:
    # Not through the Writing dependency: a wrong password is told on the page, and it counts.
    database = request.app.state.database
    with database.reading() as tx:
        shown = _page(request, person, _to_be_signed(tx, person, now, number), entry)
    try:
        terms = entry.terms(shown.zone, emergency_only=shown.emergency_only)
        with database.writing() as tx:
            signed = sign_revision(
                tx,
                number=number,
                fingerprint=entry.fingerprint,
                meaning=entry.meaning,
                password=entry.password,
                by=person,
                now=now,
                terms=terms,
            )
    except (Refused, TooMany) as refused:
        with database.reading() as tx:
            found = _to_be_signed(tx, person, now, number)
        page = _page(request, person, found, entry, beside_fields(refused))
        return render(request, "policy/sign.html", page, status=refused.status)
    return done(base_of(person, number), _told(signed, shown.zone))


def _told(signed: StoredRevision, zone: str) -> str:
    told = f"Revision {signed.number} is {signed.status.words}"
    if signed.until is None:
        return f"{told}."
    return f"{told}; another takes over on {day_words(local_day(signed.until, zone))}."
