"""An agency's own outer bounds; what is in force is reckoned, never stored."""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint, func, update
from sqlmodel import Field, Session, Text, col, select

from app.domain.bounds_versions import BoundsStatus, BoundsVersion, in_force_among
from app.domain.people import Person
from app.domain.revisions import Author, Signature
from app.storage.base import NumberedRow, both_or_neither, filled, one_of, sha256_hex
from app.storage.people import PersonRow

_OF_A_SIGNATURE = ("signed_by", "signer_username", "signer_name", "signer_roles", "meaning")


class OuterBoundsRow(NumberedRow, table=True):
    """The signer's name and roles are written down as they were."""

    __tablename__ = "outer_bounds"
    __table_args__ = (
        UniqueConstraint("agency_id", "number"),
        one_of("status", (BoundsStatus.DRAFT, BoundsStatus.SIGNED)),
        filled("text"),
        sha256_hex("fingerprint"),
        CheckConstraint("number > 0", name="number_positive"),
        *(both_or_neither(column, "signed_at") for column in _OF_A_SIGNATURE),
        both_or_neither("signed_at", "in_force_at"),
        *(filled(column) for column in _OF_A_SIGNATURE[1:]),
        CheckConstraint("(signed_at IS NOT NULL) = (status = 'signed')", name="signed_has_time"),
        CheckConstraint("in_force_at >= signed_at", name="never_before_signing"),
        CheckConstraint("signed_by <> author_id", name="two_people"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    number: int
    status: str
    edit_version: int = 1
    text: str = Field(sa_type=Text)
    fingerprint: str
    author_id: int = Field(foreign_key="person.id")
    created_at: datetime
    signed_by: int | None = Field(default=None, foreign_key="person.id")
    signer_username: str | None = None
    signer_name: str | None = None
    signer_roles: str | None = None
    meaning: str | None = None
    signed_at: datetime | None = None
    in_force_at: datetime | None = None


def add_bounds(tx: Session, *, text: str, fingerprint: str, by: Person, now: datetime) -> int:
    """The number it got, the next of the agency."""
    taken = select(func.max(OuterBoundsRow.number)).where(OuterBoundsRow.agency_id == by.agency_id)
    number = (tx.exec(taken).one() or 0) + 1
    row = OuterBoundsRow(
        agency_id=by.agency_id,
        number=number,
        status=BoundsStatus.DRAFT.value,
        text=text,
        fingerprint=fingerprint,
        author_id=by.id,
        created_at=now,
    )
    tx.add(row)
    tx.flush()
    return number


def change_bounds(
    tx: Session, version: BoundsVersion, *, text: str, fingerprint: str, edit_version: int
) -> None:
    tx.exec(
        update(OuterBoundsRow)
        .where(col(OuterBoundsRow.id) == version.id)
        .values(text=text, fingerprint=fingerprint, edit_version=edit_version)
    )


def mark_bounds_signed(
    tx: Session,
    version: BoundsVersion,
    *,
    meaning: str,
    in_force_at: datetime,
    by: Person,
    now: datetime,
) -> None:
    # One statement: the constraints want all of a signature or nothing of it.
    tx.exec(
        update(OuterBoundsRow)
        .where(col(OuterBoundsRow.id) == version.id)
        .values(
            status=BoundsStatus.SIGNED.value,
            signed_by=by.id,
            signer_username=by.username,
            signer_name=by.name,
            signer_roles=" ".join(sorted(role.value for role in by.roles)),
            meaning=meaning,
            signed_at=now,
            in_force_at=in_force_at,
        )
    )


def bounds_versions(tx: Session, agency_id: int) -> list[BoundsVersion]:
    """Oldest number first."""
    wanted = (
        select(OuterBoundsRow, PersonRow.name)
        .join(PersonRow, col(PersonRow.id) == col(OuterBoundsRow.author_id))
        .where(OuterBoundsRow.agency_id == agency_id)
        .order_by(col(OuterBoundsRow.number))
    )
    return [_version(row, author) for row, author in tx.exec(wanted)]


def find_bounds(tx: Session, *, agency_id: int, number: int) -> BoundsVersion | None:
    versions = bounds_versions(tx, agency_id)
    return next((version for version in versions if version.number == number), None)


def bounds_version_in_force(tx: Session, *, agency_id: int, at: datetime) -> BoundsVersion | None:
    return in_force_among(bounds_versions(tx, agency_id), at)


def _version(row: OuterBoundsRow, author: str) -> BoundsVersion:
    return BoundsVersion(
        id=row.saved_id,
        number=row.number,
        text=row.text,
        fingerprint=row.fingerprint,
        edit_version=row.edit_version,
        author=Author(row.author_id, author),
        created_at=row.created_at,
        signature=_signature(row),
        in_force_at=row.in_force_at,
    )


def _signature(row: OuterBoundsRow) -> Signature | None:
    if row.signed_by is None or row.signed_at is None:
        return None
    return Signature(
        person_id=row.signed_by,
        username=row.signer_username or "",
        name=row.signer_name or "",
        roles=tuple((row.signer_roles or "").split()),
        at=row.signed_at,
        meaning=row.meaning or "",
        fingerprint=row.fingerprint,
    )
