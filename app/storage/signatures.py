from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, Session, col, select

from app.domain.people import Person
from app.domain.revisions import Signature
from app.storage.base import NumberedRow, filled, sha256_hex


class SignatureRow(NumberedRow, table=True):
    """Name and roles are written down as they were: later changes must not reach back."""

    __tablename__ = "signature"
    __table_args__ = (
        UniqueConstraint("revision_id", "person_id"),
        filled("username"),
        filled("name"),
        filled("roles"),
        filled("meaning"),
        sha256_hex("fingerprint"),
    )

    revision_id: int = Field(foreign_key="revision.id")
    person_id: int = Field(foreign_key="person.id")
    username: str
    name: str
    roles: str
    signed_at: datetime
    meaning: str
    fingerprint: str


def add_signature(
    tx: Session, *, revision_id: int, by: Person, meaning: str, fingerprint: str, now: datetime
) -> None:
    tx.add(
        SignatureRow(
            revision_id=revision_id,
            person_id=by.id,
            username=by.username,
            name=by.name,
            roles=" ".join(sorted(role.value for role in by.roles)),
            signed_at=now,
            meaning=meaning,
            fingerprint=fingerprint,
        )
    )
    tx.flush()


def signatures_of(tx: Session, revision_id: int) -> tuple[Signature, ...]:
    wanted = (
        select(SignatureRow)
        .where(SignatureRow.revision_id == revision_id)
        .order_by(col(SignatureRow.signed_at), col(SignatureRow.id))
    )
    return tuple(_signature(row) for row in tx.exec(wanted))


def _signature(row: SignatureRow) -> Signature:
    return Signature(
        person_id=row.person_id,
        username=row.username,
        name=row.name,
        roles=tuple(row.roles.split()),
        at=row.signed_at,
        meaning=row.meaning,
        fingerprint=row.fingerprint,
    )
