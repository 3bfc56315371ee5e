"""What was answered to requests with an idempotency key, for whoever asks again."""

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy import UniqueConstraint
from sqlmodel import Field, Session, Text, col, select

from app.domain.people import Person
from app.storage.base import NumberedRow, filled, sha256_hex
from app.storage.people import PersonRow


class AnsweredRequestRow(NumberedRow, table=True):
    __tablename__ = "answered_request"
    __table_args__ = (
        UniqueConstraint("person_id", "key"),
        filled("key"),
        filled("answer"),
        sha256_hex("fingerprint"),
    )

    person_id: int = Field(foreign_key="person.id")
    key: str
    fingerprint: str
    answer: str = Field(sa_type=Text)
    answered_at: datetime = Field(index=True)


@dataclass(frozen=True)
class AnsweredRequest:
    """`fingerprint`: of what was asked."""

    fingerprint: str
    answer: str


def find_answer(tx: Session, *, of: Person, key: str) -> AnsweredRequest | None:
    row = AnsweredRequestRow
    wanted = select(row.fingerprint, row.answer).where(row.person_id == of.id, row.key == key)
    found = tx.exec(wanted).one_or_none()
    return None if found is None else AnsweredRequest(*found)


def keep_answer(
    tx: Session, answered: AnsweredRequest, *, of: Person, key: str, now: datetime
) -> None:
    tx.add(
        AnsweredRequestRow(
            person_id=of.id,
            key=key,
            fingerprint=answered.fingerprint,
            answer=answered.answer,
            answered_at=now,
        )
    )
    tx.flush()


def forget_answers(tx: Session, *, before: datetime) -> None:
    tx.execute(sa.delete(AnsweredRequestRow).where(col(AnsweredRequestRow.answered_at) < before))


def alone(tx: Session, of: Person) -> None:
    """Of two requests of one program the second waits for the first; SQLite writers do anyway."""
    wanted = select(PersonRow.id).where(PersonRow.id == of.id)
    tx.exec(wanted.with_for_update(key_share=True)).one()
