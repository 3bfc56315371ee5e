from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, Session, select
from sqlmodel.sql.expression import SelectOfScalar

from app.domain.devices import Device
from app.storage.base import NumberedRow, filled


class DeviceRow(NumberedRow, table=True):
    __tablename__ = "device"
    __table_args__ = (
        UniqueConstraint("agency_id", "tag"),
        filled("tag"),
        filled("model"),
        filled("station"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    tag: str
    model: str
    station: str
    created_at: datetime


def add_device(
    tx: Session, *, agency_id: int, tag: str, model: str, station: str, now: datetime
) -> Device:
    row = DeviceRow(agency_id=agency_id, tag=tag, model=model, station=station, created_at=now)
    tx.add(row)
    tx.flush()
    return device_from(row)


def find_device(tx: Session, *, agency_id: int, tag: str) -> Device | None:
    row = tx.exec(_tagged(agency_id, tag)).one_or_none()
    return None if row is None else device_from(row)


def lock_device(tx: Session, *, agency_id: int, tag: str) -> Device | None:
    """One report at a time changes what is known of a device; SQLite writers are alone anyway."""
    row = tx.exec(_tagged(agency_id, tag).with_for_update(key_share=True)).one_or_none()
    return None if row is None else device_from(row)


def device_from(row: DeviceRow) -> Device:
    return Device(id=row.saved_id, tag=row.tag, model=row.model, station=row.station)


def _tagged(agency_id: int, tag: str) -> SelectOfScalar[DeviceRow]:
    return select(DeviceRow).where(DeviceRow.agency_id == agency_id, DeviceRow.tag == tag)
