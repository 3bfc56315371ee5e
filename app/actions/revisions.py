"""A policy from draft to signed: who may do what is in `app.domain.moves`."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

import rfc8785
from sqlmodel import Session

from app.actions.revision_entries import revision_of, tell
from app.domain import plain_text
from app.domain.canonical import canonical
from app.domain.errors import Conflict, NotNow
from app.domain.moves import (
    RevisionStatus,
    check_after_reviewer,
    check_may_ever_move,
    check_may_move,
    check_move,
    check_reviewer,
)
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import Author, StoredRevision
from app.exchange.json_text import PlacedDocument
from app.exchange.profile_json import profile_from_document, refuse_unreadable
from app.exchange.profile_texts import is_plainly_readable
from app.exchange.stored_profiles import stored_profile
from app.storage import revisions
from app.storage.agencies import agency_by_id, lock_policy


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
    started = revision_of(tx, number, by)
    tell(tx, "start a draft", started, by=by, now=now)
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
    found = revision_of(tx, number, by)
    _check_is(found, RevisionStatus.DRAFT, "edited")
    if found.edit_version != edit_version:
        raise Conflict(
            f"Revision {number} was changed while you were editing it.",
            theirs=json.loads(found.document),
            yours=dict(document),
            version=found.edit_version,
        )
    agency = agency_by_id(tx, by.agency_id)
    text, fingerprint = _written(document, number=number, agency=agency.name)
    edited = replace(
        _written_by(tx, found, by),
        edit_version=edit_version + 1,
        document=text,
        fingerprint=fingerprint,
        changed_at=now,
    )
    revisions.change_draft(tx, edited)
    tell(tx, "edit the draft", edited, by=by, now=now)
    return edited


def move_revision(
    tx: Session, *, number: int, to: RevisionStatus, by: Person, now: datetime, note: str = ""
) -> StoredRevision:
    """Every move but signing; sending back and withdrawing take a note."""
    lock_policy(tx, by.agency_id)
    found = revision_of(tx, number, by).as_of(now)
    check_may_ever_move(by, to)
    move = check_move(found.status, to)
    check_may_move(by, move)
    if to not in _MOVERS:
        raise NotNow("To sign, give your password and the meaning of your signature.")
    note = plain_text.note(note, needed=move.note_needed)
    _MOVERS[to](tx, revision_id=found.id, note=note, now=now)
    tell(tx, move.words, found, by=by, now=now, note=note)
    return revision_of(tx, number, by).as_of(now)


def send_back(
    tx: Session, *, number: int, reason: str, by: Person, now: datetime
) -> StoredRevision:
    return move_revision(tx, number=number, to=RevisionStatus.DRAFT, by=by, now=now, note=reason)


def record_review(
    tx: Session, *, number: int, by: Person, now: datetime, note: str = ""
) -> StoredRevision:
    """Somebody who wrote none of it has looked at it; needed where its author is to sign, and
    after an emergency, in which one person signed alone."""
    check_may(by, Deed.REVIEW_DRAFT)
    lock_policy(tx, by.agency_id)
    found = revision_of(tx, number, by)
    after = found.after_review_due is not None
    if after:
        signers = {one.person_id for one in found.signatures}
        check_after_reviewer(reviewer=by.id, authors=found.author_ids, signers=signers)
    else:
        _check_is(found, RevisionStatus.IN_REVIEW, "reviewed")
        check_reviewer(reviewer=by.id, authors=found.author_ids)
    note = plain_text.note(note)
    revisions.record_review(tx, revision_id=found.id, by=by, note=note, now=now)
    did = "review after an emergency" if after else "review"
    tell(tx, did, found, by=by, now=now, note=note)
    return revision_of(tx, number, by).as_of(now)


def _written_by(tx: Session, found: StoredRevision, by: Person) -> StoredRevision:
    """With this person among its authors, who are told by name."""
    if by.id in found.author_ids:
        return found
    revisions.add_author(tx, revision_id=found.id, person_id=by.id)
    authors = sorted([*found.authors, Author(by.id, by.name)], key=lambda one: one.name)
    return replace(found, authors=tuple(authors))


_MOVERS = {
    RevisionStatus.IN_REVIEW: revisions.put_in_review,
    RevisionStatus.DRAFT: revisions.send_back,
    RevisionStatus.WITHDRAWN: revisions.withdraw,
}


def _written(document: Mapping[str, Any], *, number: int, agency: str) -> tuple[str, str]:
    """The text to keep and its fingerprint; whatever is no profile is refused here."""
    full = {**document, "revision": number, "agency": agency}
    try:
        text = canonical(full)
    except rfc8785.CanonicalizationError:
        profile_from_document(full)  # says what is wrong, and where
        raise
    written = text.decode()
    stored_profile(written)  # kept, so the next reader does not parse it again
    if not is_plainly_readable(written):
        refuse_unreadable(PlacedDocument(full, ""))
    return written, hashlib.sha256(text).hexdigest()


def _check_is(found: StoredRevision, status: RevisionStatus, done: str) -> None:
    if found.status is not status:
        raise NotNow(
            f"Revision {found.number} is {found.status.words}; "
            f"it can be {done} only while it is {status.words}."
        )
