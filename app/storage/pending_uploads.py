"""A file that somebody looked at and has not decided on: one a person, for a short time.

It stays here so that what is taken is what was shown, whatever the browser sends back.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import BinaryIO

from sqlalchemy import CheckConstraint, Text, delete, or_, update
from sqlmodel import Field, Session, col, select

from app.domain.people import Person
from app.storage.base import NumberedRow, sha256_hex
from app.storage.packed_files import unpacked


class PendingUploadRow(NumberedRow, table=True):
    """`preview`: what a long file would change, once it was found out beside the pages."""

    __tablename__ = "pending_upload"
    __table_args__ = (
        sha256_hex("fingerprint"),
        CheckConstraint("length(content) > 0", name="content_filled"),
        CheckConstraint("preview <> ''", name="preview_filled"),
    )

    person_id: int = Field(foreign_key="person.id", unique=True)
    name: str
    fingerprint: str
    content: bytes
    expires_at: datetime
    preview: str | None = Field(default=None, sa_type=Text)


@dataclass(frozen=True)
class PendingUpload:
    name: str
    fingerprint: str
    content: BinaryIO


def hold_upload(
    tx: Session,
    *,
    name: str,
    fingerprint: str,
    content: bytes,
    of: Person,
    now: datetime,
    expires_at: datetime,
) -> None:
    """In the place of an earlier one of this person; whatever is too old goes with it.

    `content` is packed.
    """
    outdated = or_(
        col(PendingUploadRow.person_id) == of.id, col(PendingUploadRow.expires_at) <= now
    )
    tx.exec(delete(PendingUploadRow).where(outdated))
    tx.add(
        PendingUploadRow(
            person_id=of.id,
            name=name,
            fingerprint=fingerprint,
            content=content,
            expires_at=expires_at,
        )
    )
    tx.flush()


def find_upload(tx: Session, *, of: Person, now: datetime) -> PendingUpload | None:
    wanted = select(PendingUploadRow).where(
        PendingUploadRow.person_id == of.id, PendingUploadRow.expires_at > now
    )
    row = tx.exec(wanted).one_or_none()
    if row is None:
        return None
    return PendingUpload(row.name, row.fingerprint, unpacked(row.content))


def stored_upload(tx: Session, *, of: Person, now: datetime) -> bytes | None:
    """As it is stored, for whoever stores it elsewhere (`app.storage.packed_files`)."""
    wanted = select(PendingUploadRow.content).where(
        PendingUploadRow.person_id == of.id, PendingUploadRow.expires_at > now
    )
    return tx.exec(wanted).one_or_none()


def find_preview(tx: Session, *, of: Person, now: datetime) -> str | None:
    wanted = select(PendingUploadRow.preview).where(
        PendingUploadRow.person_id == of.id, PendingUploadRow.expires_at > now
    )
    return tx.exec(wanted).one_or_none()


def set_preview(
    tx: Session, preview: str | None, *, fingerprint: str, of: Person, expires_at: datetime
) -> bool:
    """False where this person holds that file no longer."""
    changed = (
        update(PendingUploadRow)
        .where(
            col(PendingUploadRow.person_id) == of.id,
            col(PendingUploadRow.fingerprint) == fingerprint,
        )
        .values(preview=preview, expires_at=expires_at)
        .returning(col(PendingUploadRow.id))
    )
    return tx.execute(changed).scalar_one_or_none() is not None


def drop_upload(tx: Session, *, of: Person, only: str | None = None) -> None:
    """`only`: the fingerprint of the file that is meant."""
    held = delete(PendingUploadRow).where(col(PendingUploadRow.person_id) == of.id)
    if only is not None:
        held = held.where(col(PendingUploadRow.fingerprint) == only)
    tx.exec(held)
