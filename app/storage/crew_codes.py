"""The code that an agency may ask for before the open look-up; only its digest is kept."""

from datetime import datetime

from sqlmodel import Field, Session

from app.domain.people import Person
from app.storage.base import Row, filled


class CrewCodeRow(Row, table=True):
    __tablename__ = "crew_code"
    __table_args__ = (filled("code_hash"),)

    agency_id: int = Field(foreign_key="agency.id", primary_key=True)
    code_hash: str
    set_at: datetime
    set_by: int = Field(foreign_key="person.id")


def crew_code_hash(tx: Session, agency_id: int) -> str | None:
    """None: the look-up is open to everybody who knows its address."""
    row = tx.get(CrewCodeRow, agency_id)
    return None if row is None else row.code_hash


def keep_crew_code(tx: Session, *, code_hash: str, by: Person, now: datetime) -> None:
    forget_crew_code(tx, by.agency_id)
    tx.add(CrewCodeRow(agency_id=by.agency_id, code_hash=code_hash, set_at=now, set_by=by.id))
    tx.flush()


def forget_crew_code(tx: Session, agency_id: int) -> None:
    row = tx.get(CrewCodeRow, agency_id)
    if row is not None:
        tx.delete(row)
        tx.flush()
