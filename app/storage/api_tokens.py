"""Tokens of programs. The token itself is never stored, only its SHA-256."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, Session, col, select

from app.domain.agencies import Agency
from app.domain.api_tokens import ApiToken
from app.domain.people import Person, Program, Scope
from app.storage.base import NumberedRow, filled, sha256_hex
from app.storage.people import PROGRAM, PersonRow, add_person, person_from, select_people
from app.storage.tokens import token_digest


class ApiTokenRow(NumberedRow, table=True):
    """`person_id`: as whom the program stands in what it writes."""

    __tablename__ = "api_token"
    __table_args__ = (
        UniqueConstraint("agency_id", "name"),
        sha256_hex("token_hash"),
        filled("name"),
        filled("scopes"),
        CheckConstraint("expires_at > created_at", name="expires_later"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    person_id: int = Field(foreign_key="person.id", unique=True)
    name: str
    token_hash: str = Field(unique=True)
    scopes: str
    created_by: int = Field(foreign_key="person.id")
    created_at: datetime
    expires_at: datetime
    last_used_at: datetime | None = None
    revoked_at: datetime | None = None


def username_of(name: str) -> str:
    """As the ledger names the program; no person can be named so."""
    return f"token {name.lower()}"


def add_token(
    tx: Session,
    *,
    agency: Agency,
    name: str,
    token: str,
    scopes: Iterable[Scope],
    by: Person,
    now: datetime,
    expires_at: datetime,
) -> None:
    program = add_person(
        tx,
        agency=agency,
        username=username_of(name),
        name=f"{name} (program)",
        roles=(),
        password_hash=PROGRAM,
        now=now,
    )
    tx.add(
        ApiTokenRow(
            agency_id=agency.id,
            person_id=program.id,
            name=name,
            token_hash=token_digest(token),
            scopes=" ".join(sorted(scopes)),
            created_by=by.id,
            created_at=now,
            expires_at=expires_at,
        )
    )
    tx.flush()


def live_program(tx: Session, *, token: str, now: datetime) -> tuple[Program, ApiToken] | None:
    row = ApiTokenRow
    wanted = (
        select_people(row)
        .join(row, col(row.person_id) == col(PersonRow.id))
        .where(
            col(row.token_hash) == token_digest(token),
            col(row.revoked_at).is_(None),
            col(row.expires_at) > now,
        )
    )
    found = tx.execute(wanted).one_or_none()
    if found is None:
        return None
    *person, given = found
    token_given = _token(given, "")
    return Program(**vars(person_from(*person)), scopes=token_given.scopes), token_given


def tokens_of(tx: Session, agency_id: int, *conditions: Any) -> list[ApiToken]:
    """By name."""
    row = ApiTokenRow
    wanted = (
        select(row, PersonRow.name)
        .join(PersonRow, col(row.created_by) == col(PersonRow.id))
        .where(row.agency_id == agency_id, *conditions)
        .order_by(col(row.name))
    )
    return [_token(found, by) for found, by in tx.exec(wanted)]


def find_token(tx: Session, *, agency_id: int, token_id: int) -> ApiToken | None:
    return next(iter(tokens_of(tx, agency_id, ApiTokenRow.id == token_id)), None)


def revoke_token(tx: Session, token_id: int, *, now: datetime) -> None:
    _change(tx, token_id, revoked_at=now)


def mark_used(tx: Session, token_id: int, *, now: datetime) -> None:
    _change(tx, token_id, last_used_at=now)


def _change(tx: Session, token_id: int, **values: Any) -> None:
    tx.execute(sa.update(ApiTokenRow).where(col(ApiTokenRow.id) == token_id).values(**values))


def _token(row: ApiTokenRow, by: str) -> ApiToken:
    return ApiToken(
        id=row.saved_id,
        name=row.name,
        scopes=frozenset(Scope(scope) for scope in row.scopes.split()),
        by=by,
        created_at=row.created_at,
        expires_at=row.expires_at,
        last_used_at=row.last_used_at,
        revoked_at=row.revoked_at,
    )
