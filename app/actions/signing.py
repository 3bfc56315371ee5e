"""The medical director signs a revision: who may, and what must be done before, is the domain's."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlmodel import Session

from app.actions.revision_entries import revision_of, tell
from app.actions.sign_ins import check_password
from app.domain import plain_text
from app.domain.errors import Conflict, Refused
from app.domain.local_days import local_day, years_later
from app.domain.moves import RevisionStatus, check_emergency, check_move, check_two_people
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import (
    REVIEW_YEARS,
    RevisionLine,
    StoredRevision,
    check_beginning,
    check_review_by,
    waiting_lines,
)
from app.domain.signing import BeforeSigning, SigningTerms, before_signing
from app.domain.waivers import Waiver
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.storage import revisions
from app.storage.agencies import agency_by_id, lock_policy
from app.storage.outer_bounds import bounds_version_in_force
from app.storage.revision_comments import comments_of
from app.storage.signatures import add_signature
from app.storage.waivers import remove_waivers, waivers_of

_AT_ONCE = SigningTerms()


@dataclass(frozen=True)
class _Signing:
    """What is signed beside the document. `void` waivers, without their finding, stay behind."""

    meaning: str
    in_force_at: datetime
    review_by: date
    emergency: str
    waivers: tuple[Waiver, ...]
    void: tuple[Waiver, ...]
    until: RevisionLine | None  # signed already, and takes over from it

    def told(self) -> dict[str, Any]:
        told: dict[str, Any] = {
            "meaning": self.meaning,
            "in_force_at": self.in_force_at.isoformat(),
            "review_by": self.review_by.isoformat(),
        }
        if self.waivers:
            told["waivers"] = [
                {"finding": one.finding, "message": one.message, "until": one.until.isoformat()}
                for one in self.waivers
            ]
        if self.emergency:
            told["emergency"] = self.emergency
        if self.until is not None:
            told["until_revision"] = self.until.number
        return told


def sign_revision(
    tx: Session,
    *,
    number: int,
    fingerprint: str,
    meaning: str,
    password: str,
    by: Person,
    now: datetime,
    terms: SigningTerms = _AT_ONCE,
) -> StoredRevision:
    """`fingerprint` is of what the signer saw."""
    check_may(by, Deed.SIGN_REVISION)
    check_password(tx, by=by, password=password, now=now)
    lock_policy(tx, by.agency_id)
    found = revision_of(tx, number, by)
    terms = replace(terms, emergency=plain_text.note(terms.emergency, column="emergency"))
    _check_may_be_signed(found, fingerprint=fingerprint, emergency=terms.emergency, by=by)
    signing = _signing(tx, found, meaning=meaning, terms=terms, by=by, now=now)
    _sign(tx, found, signing, by=by, now=now)
    return revision_of(tx, number, by).as_of(now)


def _check_may_be_signed(
    found: StoredRevision, *, fingerprint: str, emergency: str, by: Person
) -> None:
    check_emergency(check_move(found.status, RevisionStatus.SIGNED), emergency)
    if found.fingerprint != fingerprint:
        raise Conflict(
            f"Revision {found.number} is no longer what you were shown.",
            theirs=found.fingerprint,
            yours=fingerprint,
        )
    if not emergency:
        reviewer = None if found.review is None else found.review.person_id
        check_two_people(signer=by.id, authors=found.author_ids, reviewer=reviewer)


def _signing(
    tx: Session,
    found: StoredRevision,
    *,
    meaning: str,
    terms: SigningTerms,
    by: Person,
    now: datetime,
) -> _Signing:
    """Refused with everything that is still in the way."""
    begins = terms.in_force_at or now
    day = local_day(begins, agency_by_id(tx, by.agency_id).time_zone)
    before = _before_signing(tx, found, agency_id=by.agency_id, begins=begins)
    if faults := list(before.faults(day)):
        raise Refused(faults)
    lines = revisions.lines_of(tx, by.agency_id)
    check_beginning(lines, number=found.number, in_force_at=begins, now=now)
    review_by = terms.review_by or years_later(day, REVIEW_YEARS)
    check_review_by(review_by, begins=day)
    return _Signing(
        meaning=plain_text.line(meaning, column="meaning"),
        in_force_at=begins,
        review_by=review_by,
        emergency=terms.emergency,
        waivers=before.waived(day),
        void=before.void,
        until=next(iter(waiting_lines(lines, after=begins, but=found.number)), None),
    )


def _before_signing(
    tx: Session, found: StoredRevision, *, agency_id: int, begins: datetime
) -> BeforeSigning:
    """By the outer bounds that hold when it comes into force."""
    version = bounds_version_in_force(tx, agency_id=agency_id, at=begins)
    return before_signing(
        stored_profile(found.document),
        bounds=stored_bounds(version),
        waivers=waivers_of(tx, found.id),
        comments=comments_of(tx, found.id),
    )


def _sign(
    tx: Session, found: StoredRevision, signing: _Signing, *, by: Person, now: datetime
) -> None:
    add_signature(
        tx,
        revision_id=found.id,
        by=by,
        meaning=signing.meaning,
        fingerprint=found.fingerprint,
        now=now,
    )
    void = [waiver.finding for waiver in signing.void]
    remove_waivers(tx, revision_id=found.id, findings=void)
    if signing.emergency and found.review is not None and found.review.person_id == by.id:
        # Somebody else must still look: what the signer read alone is no second pair of eyes.
        revisions.forget_review(tx, revision_id=found.id, now=now)
    revisions.mark_signed(
        tx,
        revision_id=found.id,
        in_force_at=signing.in_force_at,
        review_by=signing.review_by,
        emergency=signing.emergency,
        now=now,
    )
    tell(tx, "sign", found, by=by, now=now, **signing.told())
