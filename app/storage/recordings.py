"""The agency's library of recorded trends; nothing in it names a patient."""

from datetime import datetime

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, UniqueConstraint, func
from sqlalchemy.orm import defer
from sqlmodel import Field, Session, Text, col, select

from app.domain.people import Person
from app.domain.recordings import NewRecording, Recording
from app.domain.trends import Trends
from app.storage.base import NumberedRow, filled, sha256_hex
from app.storage.people import PersonRow


class RecordingRow(NumberedRow, table=True):
    """`synthetic` is empty for a real one; `vital_signs` are parted by spaces."""

    __tablename__ = "recording"
    __table_args__ = (
        UniqueConstraint("agency_id", "number"),
        UniqueConstraint("agency_id", "category", "fingerprint"),
        filled("name"),
        filled("category"),
        filled("vital_signs"),
        sha256_hex("fingerprint"),
        CheckConstraint("number > 0", name="number_positive"),
        CheckConstraint("patients > 0", name="patients_positive"),
        CheckConstraint("row_count >= patients", name="rows_for_patients"),
        CheckConstraint("step_s > 0", name="step_positive"),
        CheckConstraint("length(content) > 0", name="content_filled"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    number: int
    name: str
    category: str
    origin: str
    synthetic: str = Field(sa_type=Text)
    fingerprint: str
    patients: int
    row_count: int
    step_s: int
    vital_signs: str
    content: bytes
    added_at: datetime
    added_by: int = Field(foreign_key="person.id")


def add_recording(
    tx: Session,
    new: NewRecording,
    trends: Trends,
    *,
    kept: tuple[bytes, str],
    by: Person,
    now: datetime,
) -> int:
    """`kept`: packed trends and their fingerprint. Gives the number, the next of the agency."""
    taken = select(func.max(RecordingRow.number)).where(RecordingRow.agency_id == by.agency_id)
    number = (tx.exec(taken).one() or 0) + 1
    content, fingerprint = kept
    tx.add(
        RecordingRow(
            agency_id=by.agency_id,
            number=number,
            name=new.name,
            category=new.category,
            origin=new.origin,
            synthetic=new.synthetic,
            fingerprint=fingerprint,
            patients=trends.patients,
            row_count=trends.rows,
            step_s=trends.step_s,
            vital_signs=" ".join(sorted(trends.values)),
            content=content,
            added_at=now,
            added_by=by.id,
        )
    )
    tx.flush()
    return number


def recordings_of(tx: Session, agency_id: int, *, category: str | None = None) -> list[Recording]:
    """By their number, without their trends."""
    wanted = (
        select(RecordingRow, PersonRow.name)
        .join(PersonRow, col(PersonRow.id) == col(RecordingRow.added_by))
        .where(RecordingRow.agency_id == agency_id)
        .options(defer(col(RecordingRow.content)))  # type: ignore[arg-type]
        .order_by(col(RecordingRow.number))
    )
    if category is not None:
        wanted = wanted.where(RecordingRow.category == category)
    return [_recording(row, name) for row, name in tx.exec(wanted)]


def content_of(tx: Session, recording: Recording) -> bytes:
    wanted = select(RecordingRow.content).where(RecordingRow.id == recording.id)
    return tx.exec(wanted).one()


def drop_recording(tx: Session, recording: Recording) -> None:
    tx.exec(sa.delete(RecordingRow).where(col(RecordingRow.id) == recording.id))


def _recording(row: RecordingRow, added_by: str) -> Recording:
    return Recording(
        id=row.saved_id,
        number=row.number,
        name=row.name,
        category=row.category,
        origin=row.origin,
        synthetic=row.synthetic,
        fingerprint=row.fingerprint,
        patients=row.patients,
        rows=row.row_count,
        step_s=row.step_s,
        vital_signs=tuple(row.vital_signs.split()),
        added_at=row.added_at,
        added_by=added_by,
    )
