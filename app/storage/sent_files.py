"""Files of readings of which something was taken in; the ledger has their fingerprints as well."""

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, Session, select

from app.domain.people import Person
from app.storage.base import NumberedRow, sha256_hex


class SentFileRow(NumberedRow, table=True):
    """`sent_by`: who sent it first; once more changes nothing, or brings the rest of its rows."""

    __tablename__ = "sent_file"
    __table_args__ = (UniqueConstraint("agency_id", "fingerprint"), sha256_hex("fingerprint"))

    agency_id: int = Field(foreign_key="agency.id")
    fingerprint: str
    received_at: datetime
    sent_by: int = Field(foreign_key="person.id")


def sent_file(tx: Session, *, fingerprint: str, by: Person, now: datetime) -> int:
    """Its number, also where something of it was taken in before."""
    row = SentFileRow
    wanted = select(row.id).where(row.agency_id == by.agency_id, row.fingerprint == fingerprint)
    known = tx.exec(wanted).one_or_none()
    if known is not None:
        return known
    new = row(agency_id=by.agency_id, fingerprint=fingerprint, received_at=now, sent_by=by.id)
    tx.add(new)
    tx.flush()
    return new.saved_id
