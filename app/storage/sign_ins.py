"""Who is signed in. The token itself is never stored, only its SHA-256."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import CheckConstraint, delete, update
from sqlmodel import Field, Session, col, select

from app.domain.open_sessions import OpenSession
from app.domain.people import Person
from app.storage.base import NumberedRow, sha256_hex
from app.storage.people import PersonRow, person_from, select_people
from app.storage.tokens import token_digest


class SignInRow(NumberedRow, table=True):
    __tablename__ = "sign_in"
    __table_args__ = (
        sha256_hex("token_hash"),
        CheckConstraint("expires_at > created_at", name="expires_later"),
    )

    person_id: int = Field(foreign_key="person.id", index=True)
    token_hash: str = Field(unique=True)
    created_at: datetime
    last_seen_at: datetime
    expires_at: datetime = Field(index=True)
    revoked_at: datetime | None = None


@dataclass(frozen=True)
class SignIn:
    person: Person
    last_seen_at: datetime


def add_sign_in(
    tx: Session, *, person_id: int, token: str, now: datetime, expires_at: datetime
) -> None:
    tx.add(
        SignInRow(
            person_id=person_id,
            token_hash=token_digest(token),
            created_at=now,
            last_seen_at=now,
            expires_at=expires_at,
        )
    )
    tx.flush()


def live_sign_in(tx: Session, *, token: str, now: datetime, idle: timedelta) -> SignIn | None:
    wanted = (
        select_people(SignInRow.last_seen_at)
        .join(SignInRow, col(SignInRow.person_id) == col(PersonRow.id))
        .where(
            col(SignInRow.token_hash) == token_digest(token),
            col(SignInRow.revoked_at).is_(None),
            col(SignInRow.expires_at) > now,
            col(SignInRow.last_seen_at) > now - idle,
        )
    )
    found = tx.execute(wanted).one_or_none()
    if found is None:
        return None
    *person, last_seen_at = found
    return SignIn(person_from(*person), last_seen_at)


def open_sessions(
    tx: Session, *, person_id: int, token: str, now: datetime, idle: timedelta
) -> list[OpenSession]:
    """The newest first."""
    wanted = (
        select(SignInRow)
        .where(
            SignInRow.person_id == person_id,
            col(SignInRow.revoked_at).is_(None),
            col(SignInRow.expires_at) > now,
            col(SignInRow.last_seen_at) > now - idle,
        )
        .order_by(col(SignInRow.created_at).desc(), col(SignInRow.id).desc())
    )
    here = token_digest(token)
    return [
        OpenSession(
            row.saved_id, row.created_at, row.last_seen_at, row.expires_at, row.token_hash == here
        )
        for row in tx.exec(wanted)
    ]


def end_sessions(
    tx: Session,
    *,
    person_id: int,
    now: datetime,
    only: int | None = None,
    but_token: str | None = None,
) -> int:
    """How many ended: all of a person's, `only` one of them, or all but the one of a token."""
    change = update(SignInRow).where(
        col(SignInRow.person_id) == person_id,
        col(SignInRow.revoked_at).is_(None),
        col(SignInRow.expires_at) > now,
    )
    if only is not None:
        change = change.where(col(SignInRow.id) == only)
    if but_token is not None:
        change = change.where(col(SignInRow.token_hash) != token_digest(but_token))
    return tx.exec(change.values(revoked_at=now)).rowcount


def revoke(tx: Session, *, token: str, now: datetime) -> int | None:
    """The person whose sign-in ended, or None where there was none to end."""
    change = (
        update(SignInRow)
        .where(
            col(SignInRow.token_hash) == token_digest(token), col(SignInRow.revoked_at).is_(None)
        )
        .values(revoked_at=now)
        .returning(col(SignInRow.person_id))
    )
    return tx.exec(change).scalar_one_or_none()


def mark_seen(tx: Session, *, token: str, now: datetime) -> None:
    tx.exec(
        update(SignInRow)
        .where(col(SignInRow.token_hash) == token_digest(token))
        .values(last_seen_at=now)
    )


def forget_expired(tx: Session, *, before: datetime) -> None:
    tx.exec(delete(SignInRow).where(col(SignInRow.expires_at) < before))
