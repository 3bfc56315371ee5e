"""How files of other systems are read: one map a source, found again by the file's header."""

import json
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy import UniqueConstraint
from sqlmodel import Field, Session, Text, col, select

from app.domain.column_maps import ColumnMap
from app.domain.people import Person
from app.storage.base import NumberedRow, filled, sha256_hex


class ColumnMapRow(NumberedRow, table=True):
    __tablename__ = "column_map"
    __table_args__ = (
        UniqueConstraint("agency_id", "source"),
        UniqueConstraint("agency_id", "signature"),
        filled("source"),
        filled("document"),
        sha256_hex("signature"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    source: str
    signature: str
    document: str = Field(sa_type=Text)
    changed_by: int = Field(foreign_key="person.id")
    changed_at: datetime


def save_map(tx: Session, found: ColumnMap, *, by: Person, now: datetime) -> None:
    """In the place of an earlier one of this source or of this header."""
    row = ColumnMapRow
    same = sa.or_(col(row.source) == found.source, col(row.signature) == found.signature)
    tx.execute(sa.delete(row).where(col(row.agency_id) == by.agency_id, same))
    tx.add(
        ColumnMapRow(
            agency_id=by.agency_id,
            source=found.source,
            signature=found.signature,
            document=json.dumps(found.kept(), sort_keys=True, ensure_ascii=False),
            changed_by=by.id,
            changed_at=now,
        )
    )
    tx.flush()


def maps_of(tx: Session, agency_id: int) -> list[ColumnMap]:
    """By the name of their source."""
    wanted = select(ColumnMapRow.document).where(ColumnMapRow.agency_id == agency_id)
    found = tx.exec(wanted.order_by(col(ColumnMapRow.source)))
    return [ColumnMap.from_kept(json.loads(document)) for document in found]


def drop_map(tx: Session, *, agency_id: int, source: str) -> bool:
    """False: there was none."""
    row = ColumnMapRow
    gone = sa.delete(row).where(col(row.agency_id) == agency_id, col(row.source) == source)
    return bool(tx.exec(gone).rowcount)
