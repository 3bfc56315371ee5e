"""Failed sign-ins per account and per address, as digests: what people mistype stays unread.

Finished drills are counted the same way.
"""

import hashlib
import json
from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import CheckConstraint, delete
from sqlmodel import Field, Session, col, select

from app.domain.throttling import FORGOTTEN_AFTER, Failures
from app.storage.base import Row, sha256_hex
from app.storage.engine import insert_into


class SignInFailureRow(Row, table=True):
    __tablename__ = "sign_in_failure"
    __table_args__ = (
        sha256_hex("subject"),
        CheckConstraint("failures > 0", name="failures_positive"),
    )

    subject: str = Field(primary_key=True)
    failures: int
    last_at: datetime = Field(index=True)


def account(agency: str, username: str) -> str:
    return _subject("account", agency, username)


def internet_address(address: str) -> str:
    return _subject("address", address)


def code_of(agency: str) -> str:
    return _subject("crew code", agency)


def drills_of(agency: str, username: str) -> str:
    return _subject("drills", agency, username)


def drills_from(address: str) -> str:
    return _subject("drills from", address)


def failures_of(tx: Session, subjects: Sequence[str]) -> dict[str, Failures]:
    wanted = select(SignInFailureRow).where(col(SignInFailureRow.subject).in_(subjects))
    return {row.subject: Failures(row.failures, row.last_at) for row in tx.exec(wanted)}


def count_failure(tx: Session, *, subject: str, now: datetime) -> None:
    """One statement counts, so that attempts at the same moment are all counted."""
    old = col(SignInFailureRow.last_at) <= now - FORGOTTEN_AFTER
    tx.exec(delete(SignInFailureRow).where(old))
    first = insert_into(tx, SignInFailureRow).values(subject=subject, failures=1, last_at=now)
    again = {"failures": col(SignInFailureRow.failures) + 1, "last_at": now}
    tx.exec(first.on_conflict_do_update(index_elements=["subject"], set_=again))


def forget_failures(tx: Session, subject: str) -> None:
    tx.exec(delete(SignInFailureRow).where(col(SignInFailureRow.subject) == subject))


def _subject(*parts: str) -> str:
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()
