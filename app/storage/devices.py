"""The register of devices. Retired ones are kept, and left out wherever work is looked for."""

from collections.abc import Collection, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Index, UniqueConstraint, func
from sqlmodel import Field, Session, Text, col, select
from sqlmodel.sql.expression import SelectOfScalar

from app.domain.device_changes import CAUSES
from app.domain.device_tags import not_found_words
from app.domain.devices import Device, Loan, RegisterStatus
from app.domain.errors import NotFound
from app.storage.base import NumberedRow, batches, both_or_neither, filled, one_of

_RETIRED = sa.text("status = 'retired'")


class DeviceRow(NumberedRow, table=True):
    """`cause…`: the last change after which a blind reading is needed, and when one was given."""

    __tablename__ = "device"
    __table_args__ = (
        UniqueConstraint("agency_id", "tag"),
        filled("tag"),
        filled("model"),
        filled("station"),
        filled("owner"),
        one_of("status", RegisterStatus),
        one_of("cause", sorted(CAUSES)),
        both_or_neither("owner", "loan_from"),
        CheckConstraint("loan_until >= loan_from", name="loan_ends_later"),
        both_or_neither("cause", "cause_at"),
        CheckConstraint("cleared_at >= cause_at", name="cleared_after_cause"),
        Index("ix_device_retired", "id", sqlite_where=_RETIRED, postgresql_where=_RETIRED),
    )

    agency_id: int = Field(foreign_key="agency.id")
    tag: str
    model: str
    station: str
    created_at: datetime
    vehicle: str = ""
    serial: str = ""
    software: str = ""
    status: str = RegisterStatus.IN_SERVICE.value
    owner: str | None = None
    loan_from: date | None = None
    loan_until: date | None = None
    note: str = Field(default="", sa_type=Text)
    cause: str | None = None
    cause_at: datetime | None = None
    worker_id: int | None = Field(default=None, foreign_key="person.id")
    cleared_at: datetime | None = None


USED: Any = col(DeviceRow.status) != RegisterStatus.RETIRED.value
RETIRED: Any = sa.text("device.status = 'retired'")
"""Written out, so that the index of those that are is used."""


def add_device(tx: Session, device: Device, *, agency_id: int, now: datetime) -> Device:
    """The given device has no number yet."""
    row = DeviceRow(agency_id=agency_id, created_at=now, **_columns(device))
    tx.add(row)
    tx.flush()
    return device_from(row)


def change_device(tx: Session, device: Device) -> None:
    row = tx.get_one(DeviceRow, device.id)
    for name, value in _columns(device).items():
        setattr(row, name, value)
    tx.flush()


def _columns(device: Device) -> dict[str, Any]:
    loan = device.loan
    return {
        "tag": device.tag,
        "model": device.model,
        "station": device.station,
        "vehicle": device.vehicle,
        "serial": device.serial,
        "software": device.software,
        "status": device.status.value,
        "owner": None if loan is None else loan.owner,
        "loan_from": None if loan is None else loan.since,
        "loan_until": None if loan is None else loan.until,
        "note": device.note,
    }


def find_device(tx: Session, *, agency_id: int, tag: str) -> Device | None:
    row = tx.exec(_tagged(agency_id, tag)).one_or_none()
    return None if row is None else device_from(row)


def device_tagged(tx: Session, *, agency_id: int, tag: str, lock: bool = False) -> Device:
    """Raises NotFound, with what its check character tells."""
    find = lock_device if lock else find_device
    found = find(tx, agency_id=agency_id, tag=tag)
    if found is None:
        raise NotFound(not_found_words(tag, models_of(tx, agency_id)))
    return found


def lock_device(tx: Session, *, agency_id: int, tag: str) -> Device | None:
    """One report at a time changes what is known of a device; SQLite writers are alone anyway."""
    row = tx.exec(_tagged(agency_id, tag).with_for_update(key_share=True)).one_or_none()
    return None if row is None else device_from(row)


def lock_devices(tx: Session, *, agency_id: int, tags: Collection[str]) -> dict[str, Device]:
    """Always in the same order, so that two who lock several never wait for each other."""
    found: dict[str, Device] = {}
    for some in batches(sorted(tags)):
        wanted = (
            sa.select(*OF_A_DEVICE)
            .where(col(DeviceRow.agency_id) == agency_id, col(DeviceRow.tag).in_(some))
            .order_by(col(DeviceRow.tag))
            .with_for_update(key_share=True)
        )
        found |= {row.tag: device_of(row) for row in tx.execute(wanted)}
    return found


class LockedDevice(NamedTuple):
    """As much of it as reports of thousands of them need."""

    id: int
    model: str


def lock_many(tx: Session, *, agency_id: int, tags: Sequence[str]) -> dict[str, LockedDevice]:
    """As `lock_devices` does it; `tags` in order."""
    found, models = dict[str, LockedDevice](), dict[str, str]()
    wanted = col(DeviceRow.tag), col(DeviceRow.id), col(DeviceRow.model)
    for some in batches(tags):
        locking = (
            sa.select(*wanted)
            .where(col(DeviceRow.agency_id) == agency_id, col(DeviceRow.tag).in_(some))
            .order_by(col(DeviceRow.tag))
            .with_for_update(key_share=True)
        )
        for tag, number, model in tx.execute(locking):
            found[tag] = LockedDevice(number, models.setdefault(model, model))
    return found


def devices_of(tx: Session, agency_id: int, *, retired: bool = False) -> list[Device]:
    """In the order of their tags; with those that are retired only if asked."""
    wanted = select(DeviceRow).where(DeviceRow.agency_id == agency_id)
    wanted = wanted if retired else wanted.where(USED)
    return [device_from(row) for row in tx.exec(wanted.order_by(col(DeviceRow.tag)))]


def models_of(tx: Session, agency_id: int) -> dict[str, str]:
    """The model by tag, of retired devices as well: what was read before still comes in."""
    wanted = select(DeviceRow.tag, DeviceRow.model).where(DeviceRow.agency_id == agency_id)
    found, models = {}, dict[str, str]()
    for tag, model in tx.exec(wanted):
        found[tag] = models.setdefault(model, model)  # there are few
    return found


def places_of(tx: Session, agency_id: int) -> list[tuple[str, str, str]]:
    """(tag, station, model) of every device, retired or not, in the order of tags."""
    place = DeviceRow.tag, DeviceRow.station, DeviceRow.model
    wanted = select(*place).where(DeviceRow.agency_id == agency_id)
    return list(tx.exec(wanted.order_by(col(DeviceRow.tag))).all())


def count_by_place(tx: Session, agency_id: int) -> dict[tuple[str, str], int]:
    """(model, station) → how many devices."""
    place = col(DeviceRow.model), col(DeviceRow.station)
    wanted = (
        select(*place, func.count()).where(DeviceRow.agency_id == agency_id, USED).group_by(*place)
    ).order_by(*place)
    return {(model, station): count for model, station, count in tx.exec(wanted)}


def devices_of_models(tx: Session, agency_id: int, models: Collection[str]) -> list[Device]:
    """In the order of their tags."""
    wanted = select(DeviceRow).where(
        DeviceRow.agency_id == agency_id, col(DeviceRow.model).in_(models), USED
    )
    return [device_from(row) for row in tx.exec(wanted.order_by(col(DeviceRow.tag)))]


def device_from(row: DeviceRow) -> Device:
    return _device(row.saved_id, row)


OF_A_DEVICE: tuple[Any, ...] = tuple(DeviceRow.__table__.c)  # type: ignore[attr-defined]


def device_of(columns: Any) -> Device:
    """Of a row of `OF_A_DEVICE`: where there are many, an object for each takes a while."""
    return _device(columns.id, columns)


def _device(number: int, row: Any) -> Device:
    since, loan = row.loan_from, None
    if row.owner is not None and since is not None:
        loan = Loan(row.owner, since, row.loan_until)
    return Device(
        id=number,
        tag=row.tag,
        model=row.model,
        station=row.station,
        vehicle=row.vehicle,
        serial=row.serial,
        software=row.software,
        status=RegisterStatus(row.status),
        loan=loan,
        note=row.note,
    )


def _tagged(agency_id: int, tag: str) -> SelectOfScalar[DeviceRow]:
    return select(DeviceRow).where(DeviceRow.agency_id == agency_id, DeviceRow.tag == tag)
