from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Select, UniqueConstraint, func
from sqlmodel import Field, Session, col, select

from app.domain.agencies import Agency
from app.domain.people import Person, Role
from app.storage.agencies import AgencyRow
from app.storage.base import NumberedRow, Row, filled, one_of

PROGRAM = "none"
"""In place of a digest: a program stands in this table as well, since rows name who wrote them,
but it is no person and can never sign in."""
INVITED = "invited"
"""In place of a digest: this person has not set a password yet."""
CLOSED = "closed"
"""In place of a digest: this person works here no longer. What they did keeps their name."""


class PersonRow(NumberedRow, table=True):
    __tablename__ = "person"
    __table_args__ = (
        UniqueConstraint("agency_id", "username"),
        filled("username"),
        filled("name"),
        filled("password_hash"),
        CheckConstraint("username = lower(username)", name="username_small"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    username: str
    name: str
    password_hash: str
    created_at: datetime


class PersonRoleRow(Row, table=True):
    __tablename__ = "person_role"
    __table_args__ = (one_of("role", Role),)

    person_id: int = Field(foreign_key="person.id", primary_key=True)
    role: str = Field(primary_key=True)


@dataclass(frozen=True)
class Credentials:
    person: Person
    password_hash: str


_ROLES = (
    select(func.aggregate_strings(col(PersonRoleRow.role), " "))
    .where(PersonRoleRow.person_id == PersonRow.id)
    .correlate(PersonRow)
    .scalar_subquery()
)


def add_person(
    tx: Session,
    *,
    agency: Agency,
    username: str,
    name: str,
    roles: Iterable[Role],
    password_hash: str,
    now: datetime,
) -> Person:
    row = PersonRow(
        agency_id=agency.id,
        username=username,
        name=name,
        password_hash=password_hash,
        created_at=now,
    )
    tx.add(row)
    tx.flush()
    held = frozenset(roles)
    tx.add_all(PersonRoleRow(person_id=row.saved_id, role=role.value) for role in held)
    tx.flush()
    return Person(row.saved_id, agency.id, agency.key, username, name, held)


def credentials(tx: Session, *, agency_key: str, username: str) -> Credentials | None:
    wanted = select_people().where(
        col(AgencyRow.key) == agency_key,
        col(PersonRow.username) == username,
        col(PersonRow.password_hash).not_in((PROGRAM, INVITED, CLOSED)),
    )
    found = tx.execute(wanted).one_or_none()
    return None if found is None else Credentials(person_from(*found), found[0].password_hash)


def change_password_hash(tx: Session, *, person_id: int, password_hash: str) -> None:
    wanted = col(PersonRow.id) == person_id
    tx.exec(sa.update(PersonRow).where(wanted).values(password_hash=password_hash))


def credentials_of(tx: Session, person: Person) -> Credentials | None:
    found = tx.execute(select_people().where(col(PersonRow.id) == person.id)).one_or_none()
    return None if found is None else Credentials(person_from(*found), found[0].password_hash)


def person_by_id(tx: Session, person_id: int) -> Person:
    return person_from(*tx.execute(select_people().where(col(PersonRow.id) == person_id)).one())


def people_of(tx: Session, agency_id: int) -> list[Person]:
    """No programs, and nobody whose account is closed."""
    return _people(tx, agency_id, col(PersonRow.password_hash).not_in((PROGRAM, CLOSED)))


def closed_people_of(tx: Session, agency_id: int) -> list[Person]:
    return _people(tx, agency_id, col(PersonRow.password_hash) == CLOSED)


def able_to_sign_in(tx: Session, agency_id: int) -> list[Person]:
    nobody = (PROGRAM, INVITED, CLOSED)
    return _people(tx, agency_id, col(PersonRow.password_hash).not_in(nobody))


def is_closed(tx: Session, person_id: int) -> bool:
    wanted = select(PersonRow.password_hash).where(PersonRow.id == person_id)
    return tx.exec(wanted).one() == CLOSED


def _people(tx: Session, agency_id: int, which: sa.ColumnElement[bool]) -> list[Person]:
    wanted = select_people().where(col(PersonRow.agency_id) == agency_id, which)
    ordered = wanted.order_by(col(PersonRow.username))
    return [person_from(*found) for found in tx.execute(ordered)]


def names_of(tx: Session, person_ids: Collection[int]) -> dict[int, str]:
    if not person_ids:
        return {}
    wanted = select(PersonRow).where(col(PersonRow.id).in_(person_ids))
    return {row.saved_id: row.name for row in tx.exec(wanted)}


def username_taken(tx: Session, *, agency_id: int, username: str) -> bool:
    wanted = select(PersonRow.id).where(
        PersonRow.agency_id == agency_id, PersonRow.username == username
    )
    return tx.exec(wanted).first() is not None


def any_administrator(tx: Session) -> bool:
    wanted = (
        select(PersonRoleRow.person_id)
        .join(PersonRow, col(PersonRow.id) == col(PersonRoleRow.person_id))
        .where(PersonRoleRow.role == Role.ADMINISTRATOR.value, PersonRow.password_hash != CLOSED)
    )
    return tx.exec(wanted.limit(1)).first() is not None


def select_people(*also: Any) -> Select[Any]:
    """Rows for `person_from`, with more columns after them where wanted."""
    joined = col(PersonRow.agency_id) == col(AgencyRow.id)
    columns: tuple[Any, ...] = (PersonRow, AgencyRow.key, _ROLES, *also)
    wanted: Select[Any] = sa.select(*columns)
    return wanted.join(AgencyRow, joined)


def person_from(row: PersonRow, agency: str, roles: str | None) -> Person:
    return Person(
        id=row.saved_id,
        agency_id=row.agency_id,
        agency=agency,
        username=row.username,
        name=row.name,
        roles=frozenset(Role(role) for role in (roles or "").split()),
    )
