"""What replays found, kept with the fingerprints of all that they were told from."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, Session, col, select

from app.domain.people import Person
from app.storage.base import NumberedRow, filled, sha256_hex
from app.storage.people import PersonRow


class EvidenceRow(NumberedRow, table=True):
    """`question` is the fingerprint of all the others and of the category; `circumstance` is
    empty for its plain limits."""

    __tablename__ = "evidence"
    __table_args__ = (
        UniqueConstraint("agency_id", "question"),
        filled("category"),
        *(sha256_hex(name) for name in ("question", "policy", "bounds", "recordings")),
        CheckConstraint("length(document) > 0", name="document_filled"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    revision_id: int = Field(foreign_key="revision.id")
    category: str
    circumstance: str
    question: str
    policy: str
    bounds: str
    recordings: str
    document: bytes
    made_at: datetime
    made_by: int = Field(foreign_key="person.id")


@dataclass(frozen=True)
class Fingerprints:
    question: str
    policy: str
    bounds: str
    recordings: str


@dataclass(frozen=True)
class KeptEvidence:
    document: bytes
    made_at: datetime
    made_by: str


def keep_evidence(
    tx: Session,
    document: bytes,
    *,
    revision_id: int,
    category: str,
    circumstance: str,
    told_from: Fingerprints,
    by: Person,
    now: datetime,
) -> None:
    """In the place of an earlier answer to the same question."""
    same = (col(EvidenceRow.agency_id) == by.agency_id) & (
        col(EvidenceRow.question) == told_from.question
    )
    tx.exec(sa.delete(EvidenceRow).where(same))
    tx.add(
        EvidenceRow(
            agency_id=by.agency_id,
            revision_id=revision_id,
            category=category,
            circumstance=circumstance,
            document=document,
            made_at=now,
            made_by=by.id,
            **vars(told_from),
        )
    )
    tx.flush()


def find_evidence(tx: Session, *, agency_id: int, question: str) -> KeptEvidence | None:
    return _kept(tx, EvidenceRow.agency_id == agency_id, EvidenceRow.question == question)


def latest_evidence(
    tx: Session, *, revision_id: int, policy: str, category: str, circumstance: str
) -> KeptEvidence | None:
    """Of exactly this policy, whatever it was told from."""
    return _kept(
        tx,
        EvidenceRow.revision_id == revision_id,
        EvidenceRow.policy == policy,
        EvidenceRow.category == category,
        EvidenceRow.circumstance == circumstance,
    )


def replayed_categories(tx: Session, *, revision_id: int, policy: str) -> frozenset[str]:
    places = replayed_places(tx, revision_id=revision_id, policy=policy)
    return frozenset(category for category, _ in places)


def replayed_places(tx: Session, *, revision_id: int, policy: str) -> frozenset[tuple[str, str]]:
    """Category, and circumstance or nothing."""
    wanted = select(EvidenceRow.category, EvidenceRow.circumstance).where(
        EvidenceRow.revision_id == revision_id, EvidenceRow.policy == policy
    )
    return frozenset((category, circumstance) for category, circumstance in tx.exec(wanted))


def _kept(tx: Session, *wanted: Any) -> KeptEvidence | None:
    rows = (
        select(EvidenceRow, PersonRow.name)
        .join(PersonRow, col(PersonRow.id) == col(EvidenceRow.made_by))
        .where(*wanted)
        .order_by(col(EvidenceRow.made_at).desc(), col(EvidenceRow.id).desc())
        .limit(1)
    )
    found = tx.exec(rows).one_or_none()
    if found is None:
        return None
    row, name = found
    return KeptEvidence(row.document, row.made_at, name)
