from collections.abc import Collection
from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from app.domain.devices import Device
from app.storage.base import NumberedRow, batches, filled


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


def lock_devices(tx: Session, *, agency_id: int, tags: Collection[str]) -> dict[str, Device]:
    """Always in the same order, so that two who lock several never wait for each other."""
    found: dict[str, Device] = {}
    for some in batches(sorted(tags)):
        wanted = (
            select(DeviceRow)
            .where(DeviceRow.agency_id == agency_id, col(DeviceRow.tag).in_(some))
            .order_by(col(DeviceRow.tag))
            .with_for_update(key_share=True)
        )
        found |= {row.tag: device_from(row) for row in tx.exec(wanted)}
    return found


def models_of(tx: Session, agency_id: int) -> dict[str, str]:
    wanted = select(DeviceRow.tag, DeviceRow.model).where(DeviceRow.agency_id == agency_id)
    return dict(tx.exec(wanted).all())


def device_from(row: DeviceRow) -> Device:
    return Device(id=row.saved_id, tag=row.tag, model=row.model, station=row.station)


def _tagged(agency_id: int, tag: str) -> SelectOfScalar[DeviceRow]:
    return select(DeviceRow).where(DeviceRow.agency_id == agency_id, DeviceRow.tag == tag)
