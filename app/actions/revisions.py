"""A policy from draft to signed: who may do what is in `app.domain.moves`."""

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

import rfc8785
from sqlmodel import Session

from app.actions.sign_ins import check_password
from app.domain import plain_text
from app.domain.errors import Conflict, Fault, NotFound, NotNow, Refused
from app.domain.findings import Severity
from app.domain.moves import (
    RevisionStatus,
    check_may_move,
    check_move,
    check_reviewer,
    check_two_people,
)
from app.domain.outer_bounds import OuterBounds
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.profiles import Profile
from app.domain.revisions import StoredRevision, check_beginning
from app.domain.rules import blanks, check
from app.exchange.profile_json import profile_from_document
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.storage import ledger, revisions
from app.storage.agencies import agency_by_id, lock_policy
from app.storage.outer_bounds import bounds_version_in_force
from app.storage.signatures import add_signature


def start_draft(
    tx: Session, *, document: Mapping[str, Any], by: Person, now: datetime
) -> StoredRevision:
    """Gets the next number of the agency; the document's own number and agency are overwritten."""
    check_may(by, Deed.EDIT_DRAFT)
    lock_policy(tx, by.agency_id)
    number = revisions.next_number(tx, by.agency_id)
    agency = agency_by_id(tx, by.agency_id)
    text, fingerprint = _written(document, number=number, agency=agency.name)
    revision = revisions.add_draft(
        tx, agency_id=by.agency_id, number=number, document=text, fingerprint=fingerprint, now=now
    )
    revisions.add_author(tx, revision_id=revision, person_id=by.id)
    started = _revision(tx, number, by)
    _tell(tx, "start a draft", started, by=by, now=now)
    return started


def edit_draft(
    tx: Session,
    *,
    number: int,
    document: Mapping[str, Any],
    edit_version: int,
    by: Person,
    now: datetime,
) -> StoredRevision:
    """`Conflict` with both documents if somebody saved since `edit_version` was read."""
    check_may(by, Deed.EDIT_DRAFT)
    lock_policy(tx, by.agency_id)
    found = _revision(tx, number, by)
    _check_is(found, RevisionStatus.DRAFT, "edited")
    if found.edit_version != edit_version:
        raise Conflict(
            f"Revision {number} was changed while you were editing it.",
            theirs=json.loads(found.document),
            yours=dict(document),
        )
    agency = agency_by_id(tx, by.agency_id)
    text, fingerprint = _written(document, number=number, agency=agency.name)
    revisions.change_draft(
        tx,
        revision_id=found.id,
        edit_version=edit_version + 1,
        document=text,
        fingerprint=fingerprint,
        now=now,
    )
    revisions.add_author(tx, revision_id=found.id, person_id=by.id)
    edited = _revision(tx, number, by)
    _tell(tx, "edit the draft", edited, by=by, now=now)
    return edited


def move_revision(
    tx: Session, *, number: int, to: RevisionStatus, by: Person, now: datetime, note: str = ""
) -> StoredRevision:
    """Every move but signing; sending back and withdrawing take a note."""
    lock_policy(tx, by.agency_id)
    found = _revision(tx, number, by).as_of(now)
    move = check_move(found.status, to)
    check_may_move(by, move)
    if to not in _MOVERS:
        raise NotNow("To sign, give your password and the meaning of your signature.")
    note = plain_text.note(note, needed=move.note_needed)
    _MOVERS[to](tx, revision_id=found.id, note=note, now=now)
    _tell(tx, move.words, found, by=by, now=now, note=note)
    return _revision(tx, number, by).as_of(now)


def send_back(
    tx: Session, *, number: int, reason: str, by: Person, now: datetime
) -> StoredRevision:
    return move_revision(tx, number=number, to=RevisionStatus.DRAFT, by=by, now=now, note=reason)


def record_review(
    tx: Session, *, number: int, by: Person, now: datetime, note: str = ""
) -> StoredRevision:
    """Somebody who wrote none of it has looked at it; needed where its author is to sign."""
    check_may(by, Deed.REVIEW_DRAFT)
    lock_policy(tx, by.agency_id)
    found = _revision(tx, number, by)
    _check_is(found, RevisionStatus.IN_REVIEW, "reviewed")
    check_reviewer(reviewer=by.id, authors=found.author_ids)
    note = plain_text.note(note)
    revisions.record_review(tx, revision_id=found.id, by=by, note=note, now=now)
    _tell(tx, "review", found, by=by, now=now, note=note)
    return _revision(tx, number, by)


def sign_revision(
    tx: Session,
    *,
    number: int,
    fingerprint: str,
    meaning: str,
    password: str,
    by: Person,
    now: datetime,
    in_force_at: datetime | None = None,
) -> StoredRevision:
    """`fingerprint` is of what the signer saw; in force at once unless a later time is given."""
    check_may(by, Deed.SIGN_REVISION)
    check_password(tx, by=by, password=password, now=now)
    lock_policy(tx, by.agency_id)
    found = _revision(tx, number, by)
    begins = in_force_at or now
    _check_can_be_signed(tx, found, fingerprint=fingerprint, by=by, begins=begins)
    lines = revisions.lines_of(tx, by.agency_id)
    check_beginning(lines, number=number, in_force_at=begins, now=now)
    _sign(tx, found, meaning=meaning, in_force_at=begins, by=by, now=now)
    return _revision(tx, number, by).as_of(now)


def _check_can_be_signed(
    tx: Session, found: StoredRevision, *, fingerprint: str, by: Person, begins: datetime
) -> None:
    """Nothing unsafe by the outer bounds that hold when it comes into force."""
    check_move(found.status, RevisionStatus.SIGNED)
    if found.fingerprint != fingerprint:
        raise Conflict(
            f"Revision {found.number} is no longer what you were shown.",
            theirs=found.fingerprint,
            yours=fingerprint,
        )
    reviewer = None if found.review is None else found.review.person_id
    check_two_people(signer=by.id, authors=found.author_ids, reviewer=reviewer)
    version = bounds_version_in_force(tx, agency_id=by.agency_id, at=begins)
    faults = _unsignable(stored_profile(found.document), stored_bounds(version))
    if faults:
        raise Refused(faults)


def _unsignable(profile: Profile, bounds: OuterBounds) -> list[Fault]:
    empty = [
        Fault(f"{', '.join(parts)} left blank", column=f"{category} {alarm}")
        for category, alarm, parts in blanks(profile)
    ]
    unsafe = [
        Fault(finding.message, column=finding.rule)
        for finding in check(profile, bounds=bounds)
        if finding.severity is Severity.UNSAFE
    ]
    return empty + unsafe


def _sign(
    tx: Session,
    found: StoredRevision,
    *,
    meaning: str,
    in_force_at: datetime,
    by: Person,
    now: datetime,
) -> None:
    meaning = plain_text.line(meaning, column="meaning")
    add_signature(
        tx,
        revision_id=found.id,
        by=by,
        meaning=meaning,
        fingerprint=found.fingerprint,
        now=now,
    )
    revisions.mark_signed(tx, revision_id=found.id, in_force_at=in_force_at, now=now)
    begins = in_force_at.isoformat()
    _tell(tx, "sign", found, by=by, now=now, meaning=meaning, in_force_at=begins)


_MOVERS = {
    RevisionStatus.IN_REVIEW: revisions.put_in_review,
    RevisionStatus.DRAFT: revisions.send_back,
    RevisionStatus.WITHDRAWN: revisions.withdraw,
}


def _written(document: Mapping[str, Any], *, number: int, agency: str) -> tuple[str, str]:
    """The text to keep and its fingerprint; whatever is no profile is refused here."""
    full = {**document, "revision": number, "agency": agency}
    profile = profile_from_document(full)
    return rfc8785.dumps(full).decode(), profile.fingerprint


def _revision(tx: Session, number: int, by: Person) -> StoredRevision:
    found = revisions.find_revision(tx, agency_id=by.agency_id, number=number)
    if found is None:
        raise NotFound(f"There is no revision {number}.")
    return found


def _check_is(found: StoredRevision, status: RevisionStatus, done: str) -> None:
    if found.status is not status:
        raise NotNow(
            f"Revision {found.number} is {found.status.words}; "
            f"it can be {done} only while it is {status.words}."
        )


def _tell(
    tx: Session, did: str, found: StoredRevision, *, by: Person, now: datetime, **more: str
) -> None:
    about = {"revision": found.number, "fingerprint": found.fingerprint, **more}
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)
