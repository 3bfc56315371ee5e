"""Who has said to have seen which revision, from which station; said once, never taken back."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, Session, col, select

from app.domain.people import Person
from app.domain.seen_revisions import Seen
from app.storage.base import NumberedRow, filled
from app.storage.revisions import RevisionRow


class AcknowledgementRow(NumberedRow, table=True):
    __tablename__ = "acknowledgement"
    __table_args__ = (
        UniqueConstraint("revision_id", "person_id"),
        filled("station"),
    )

    revision_id: int = Field(foreign_key="revision.id")
    person_id: int = Field(foreign_key="person.id", index=True)
    station: str
    seen_at: datetime


def add_acknowledgement(
    tx: Session, *, revision_id: int, station: str, by: Person, now: datetime
) -> None:
    row = AcknowledgementRow(revision_id=revision_id, person_id=by.id, station=station, seen_at=now)
    tx.add(row)
    tx.flush()


def acknowledged(tx: Session, *, revision_id: int, person_id: int) -> Seen | None:
    wanted = select(AcknowledgementRow).where(
        AcknowledgementRow.revision_id == revision_id, AcknowledgementRow.person_id == person_id
    )
    row = tx.exec(wanted).one_or_none()
    return None if row is None else _seen(row)


def acknowledgements_of(tx: Session, revision_id: int) -> list[Seen]:
    wanted = (
        select(AcknowledgementRow)
        .where(AcknowledgementRow.revision_id == revision_id)
        .order_by(col(AcknowledgementRow.id))
    )
    return [_seen(row) for row in tx.exec(wanted)]


def last_stations(tx: Session, agency_id: int) -> dict[int, str]:
    """By person: the station named the last time, whatever the revision."""
    wanted = (
        select(AcknowledgementRow.person_id, AcknowledgementRow.station)
        .join(RevisionRow, col(RevisionRow.id) == col(AcknowledgementRow.revision_id))
        .where(RevisionRow.agency_id == agency_id)
        .order_by(col(AcknowledgementRow.seen_at), col(AcknowledgementRow.id))
    )
    return dict(tx.exec(wanted).all())


def seen_by(tx: Session, *, person_id: int, revision_ids: Collection[int]) -> set[int]:
    wanted = select(AcknowledgementRow.revision_id).where(
        AcknowledgementRow.person_id == person_id,
        col(AcknowledgementRow.revision_id).in_(revision_ids),
    )
    return set(tx.exec(wanted))


def _seen(row: AcknowledgementRow) -> Seen:
    return Seen(person_id=row.person_id, station=row.station, at=row.seen_at)
