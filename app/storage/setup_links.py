"""One-time links with which the first administrator of an installation begins."""

from datetime import datetime

from sqlalchemy import CheckConstraint, delete, update
from sqlmodel import Field, Session, col, select

from app.storage.base import NumberedRow, sha256_hex
from app.storage.tokens import token_digest


class SetupLinkRow(NumberedRow, table=True):
    __tablename__ = "setup_link"
    __table_args__ = (
        sha256_hex("token_hash"),
        CheckConstraint("expires_at > created_at", name="expires_later"),
    )

    token_hash: str = Field(unique=True)
    created_at: datetime
    expires_at: datetime
    used_at: datetime | None = None


def replace_setup_link(tx: Session, *, token: str, now: datetime, expires_at: datetime) -> None:
    """Only the newest link works: an earlier one may lie in somebody's terminal."""
    tx.exec(delete(SetupLinkRow).where(col(SetupLinkRow.used_at).is_(None)))
    tx.add(SetupLinkRow(token_hash=token_digest(token), created_at=now, expires_at=expires_at))
    tx.flush()


def setup_link_works(tx: Session, *, token: str, now: datetime) -> bool:
    wanted = select(SetupLinkRow.id).where(
        SetupLinkRow.token_hash == token_digest(token),
        col(SetupLinkRow.used_at).is_(None),
        SetupLinkRow.expires_at > now,
    )
    return tx.exec(wanted).first() is not None


def use_setup_link(tx: Session, *, token: str, now: datetime) -> bool:
    """False if it is unknown, used or too old; two users at once cannot both get True."""
    used = (
        update(SetupLinkRow)
        .where(
            col(SetupLinkRow.token_hash) == token_digest(token),
            col(SetupLinkRow.used_at).is_(None),
            col(SetupLinkRow.expires_at) > now,
        )
        .values(used_at=now)
        .returning(col(SetupLinkRow.id))
    )
    return tx.exec(used).first() is not None
