from datetime import datetime

from sqlalchemy import CheckConstraint
from sqlmodel import Field, Session, col, select

from app.domain.agencies import Agency
from app.storage.base import NumberedRow, filled

CHECK_INTERVAL_DAYS = 90


class AgencyRow(NumberedRow, table=True):
    __tablename__ = "agency"
    __table_args__ = (
        filled("key"),
        filled("name"),
        filled("time_zone"),
        CheckConstraint("check_interval_days > 0", name="check_interval_positive"),
    )

    key: str = Field(unique=True)
    name: str
    time_zone: str
    check_interval_days: int
    created_at: datetime


def add_agency(tx: Session, *, key: str, name: str, time_zone: str, now: datetime) -> Agency:
    row = AgencyRow(
        key=key,
        name=name,
        time_zone=time_zone,
        check_interval_days=CHECK_INTERVAL_DAYS,
        created_at=now,
    )
    tx.add(row)
    tx.flush()
    return _agency(row)


def agency_by_key(tx: Session, key: str) -> Agency | None:
    row = tx.exec(select(AgencyRow).where(AgencyRow.key == key)).one_or_none()
    return None if row is None else _agency(row)


def agency_by_id(tx: Session, agency_id: int) -> Agency:
    return _agency(tx.get_one(AgencyRow, agency_id))


def lock_policy(tx: Session, agency_id: int) -> None:
    """One change of policy at a time in an agency; SQLite writers are alone anyway."""
    wanted = select(AgencyRow.id).where(col(AgencyRow.id) == agency_id)
    tx.exec(wanted.with_for_update(key_share=True)).one()


def _agency(row: AgencyRow) -> Agency:
    return Agency(
        id=row.saved_id,
        key=row.key,
        name=row.name,
        time_zone=row.time_zone,
        check_interval_days=row.check_interval_days,
    )
