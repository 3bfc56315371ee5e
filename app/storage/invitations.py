"""Links by which somebody sets their own password; of each, only a digest is kept."""

from datetime import datetime

from sqlalchemy import CheckConstraint, delete, update
from sqlmodel import Field, Session, col, select

from app.domain.invitations import Invitation
from app.domain.people import Person
from app.storage.base import NumberedRow, sha256_hex
from app.storage.people import PersonRow, person_from, select_people
from app.storage.tokens import token_digest


class InvitationRow(NumberedRow, table=True):
    __tablename__ = "invitation"
    __table_args__ = (
        sha256_hex("token_hash"),
        CheckConstraint("expires_at > created_at", name="expires_later"),
    )

    person_id: int = Field(foreign_key="person.id", unique=True)
    token_hash: str = Field(unique=True)
    created_at: datetime
    expires_at: datetime
    used_at: datetime | None = None


def replace_invitation(
    tx: Session, *, person_id: int, token: str, now: datetime, expires_at: datetime
) -> None:
    """Only the newest link works: an earlier one may lie in somebody's mail."""
    tx.exec(delete(InvitationRow).where(col(InvitationRow.person_id) == person_id))
    tx.add(
        InvitationRow(
            person_id=person_id,
            token_hash=token_digest(token),
            created_at=now,
            expires_at=expires_at,
        )
    )
    tx.flush()


def invited(tx: Session, *, token: str, now: datetime) -> Person | None:
    wanted = (
        select_people()
        .join(InvitationRow, col(InvitationRow.person_id) == col(PersonRow.id))
        .where(
            col(InvitationRow.token_hash) == token_digest(token),
            col(InvitationRow.used_at).is_(None),
            col(InvitationRow.expires_at) > now,
        )
    )
    found = tx.execute(wanted).one_or_none()
    return None if found is None else person_from(*found)


def forget_invitation(tx: Session, person_id: int) -> None:
    tx.exec(delete(InvitationRow).where(col(InvitationRow.person_id) == person_id))


def use_invitation(tx: Session, *, token: str, now: datetime) -> bool:
    """False if it is unknown, used or too old; two users at once cannot both get True."""
    used = (
        update(InvitationRow)
        .where(
            col(InvitationRow.token_hash) == token_digest(token),
            col(InvitationRow.used_at).is_(None),
            col(InvitationRow.expires_at) > now,
        )
        .values(used_at=now)
        .returning(col(InvitationRow.id))
    )
    return tx.exec(used).first() is not None


def unused_invitations(tx: Session, agency_id: int) -> dict[str, Invitation]:
    """By username; also those that ran out."""
    wanted = (
        select(PersonRow.username, InvitationRow.expires_at)
        .join(InvitationRow, col(InvitationRow.person_id) == col(PersonRow.id))
        .where(PersonRow.agency_id == agency_id, col(InvitationRow.used_at).is_(None))
    )
    return {username: Invitation(username, until) for username, until in tx.exec(wanted)}
