"""An agency's own outer bounds: drafted by one person, adopted by a medical director."""

from datetime import datetime
from hashlib import sha256

from sqlmodel import Session

from app.actions.sign_ins import check_password
from app.domain import plain_text
from app.domain.bounds_versions import (
    BoundsVersion,
    check_begins,
    check_can_edit,
    check_can_sign,
)
from app.domain.errors import Conflict, NotFound
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.bounds_csv import text_of, write_bounds
from app.exchange.stored_bounds import bounds_of
from app.storage import ledger, outer_bounds
from app.storage.agencies import lock_policy


def draft_bounds(tx: Session, *, text: str, by: Person, now: datetime) -> BoundsVersion:
    """A new version with the next number.

    Raises Refused with every row that is wrong.
    """
    check_may(by, Deed.EDIT_DRAFT)
    canonical, fingerprint = _written(text)
    lock_policy(tx, by.agency_id)
    number = outer_bounds.add_bounds(tx, text=canonical, fingerprint=fingerprint, by=by, now=now)
    drafted = _version(tx, number, by)
    _tell(tx, "draft outer bounds", drafted, by=by, now=now)
    return drafted


def edit_bounds(
    tx: Session, *, number: int, text: str, edit_version: int, by: Person, now: datetime
) -> BoundsVersion:
    """`Conflict` with both texts if it was saved since `edit_version` was read."""
    check_may(by, Deed.EDIT_DRAFT)
    canonical, fingerprint = _written(text)
    lock_policy(tx, by.agency_id)
    found = _version(tx, number, by)
    check_can_edit(found, by=by.id)
    if found.edit_version != edit_version:
        raise Conflict(
            f"Version {number} was changed while you were editing it.",
            theirs=found.text,
            yours=canonical,
            version=found.edit_version,
        )
    outer_bounds.change_bounds(
        tx, found, text=canonical, fingerprint=fingerprint, edit_version=edit_version + 1
    )
    edited = _version(tx, number, by)
    _tell(tx, "edit outer bounds", edited, by=by, now=now)
    return edited


def _written(text: str) -> tuple[str, str]:
    """The canonical text and its fingerprint. Raises Refused."""
    canonical = write_bounds(bounds_of(text_of(text.encode()), "draft"))
    return canonical, sha256(canonical.encode()).hexdigest()


def sign_bounds(
    tx: Session,
    *,
    number: int,
    fingerprint: str,
    meaning: str,
    password: str,
    by: Person,
    now: datetime,
    in_force_at: datetime | None = None,
) -> BoundsVersion:
    """A director adopts what somebody else drafted; in force at once unless a time is given.

    `fingerprint` is of what the signer saw.
    """
    check_may(by, Deed.SIGN_REVISION)
    check_password(tx, by=by, password=password, now=now)
    lock_policy(tx, by.agency_id)
    found = _version(tx, number, by)
    check_can_sign(outer_bounds.bounds_versions(tx, by.agency_id), found, signer=by.id)
    if found.fingerprint != fingerprint:
        raise Conflict(
            f"Version {number} is not what you were shown.",
            theirs=found.fingerprint,
            yours=fingerprint,
        )
    begins = in_force_at or now
    check_begins(begins, now=now)
    _sign(tx, found, meaning=meaning, in_force_at=begins, by=by, now=now)
    return _version(tx, number, by)


def _sign(
    tx: Session,
    found: BoundsVersion,
    *,
    meaning: str,
    in_force_at: datetime,
    by: Person,
    now: datetime,
) -> None:
    meaning = plain_text.line(meaning, column="meaning")
    outer_bounds.mark_bounds_signed(
        tx, found, meaning=meaning, in_force_at=in_force_at, by=by, now=now
    )
    begins = in_force_at.isoformat()
    _tell(tx, "sign outer bounds", found, by=by, now=now, meaning=meaning, in_force_at=begins)


def _version(tx: Session, number: int, by: Person) -> BoundsVersion:
    found = outer_bounds.find_bounds(tx, agency_id=by.agency_id, number=number)
    if found is None:
        raise NotFound(f"There is no version {number} of the outer bounds.")
    return found


def _tell(
    tx: Session, did: str, found: BoundsVersion, *, by: Person, now: datetime, **more: str
) -> None:
    about = {"version": found.number, "fingerprint": found.fingerprint, **more}
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)
