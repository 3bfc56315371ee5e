"""When a fleet was last held against what, by whom; the ledger has it too, and is not searched."""

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy import CheckConstraint
from sqlmodel import Field, Session, col, select

from app.storage.base import NumberedRow, filled
from app.storage.devices import USED, DeviceRow
from app.storage.devices_now import DeviceNowRow
from app.storage.revisions import RevisionRow, revision_id_of


class ReauditRow(NumberedRow, table=True):
    __tablename__ = "reaudit"
    __table_args__ = (filled("bounds"), CheckConstraint("devices >= 0", name="devices_counted"))

    agency_id: int = Field(foreign_key="agency.id", index=True)
    revision_id: int = Field(foreign_key="revision.id")
    bounds: str
    devices: int
    run_at: datetime
    run_by: int = Field(foreign_key="person.id")


@dataclass(frozen=True)
class ReauditRun:
    revision: int
    bounds: str
    run_at: datetime


def add_run(
    tx: Session,
    *,
    agency_id: int,
    revision: int,
    bounds: str,
    devices: int,
    by: int,
    now: datetime,
) -> None:
    revision_id = revision_id_of(tx, agency_id, revision)
    if revision_id is None:
        raise RuntimeError("a fleet is held against a revision that there is")
    tx.add(
        ReauditRow(
            agency_id=agency_id,
            revision_id=revision_id,
            bounds=bounds,
            devices=devices,
            run_at=now,
            run_by=by,
        )
    )
    tx.flush()


def last_run(tx: Session, agency_id: int) -> ReauditRun | None:
    row = ReauditRow
    wanted = (
        select(RevisionRow.number, row.bounds, row.run_at)
        .join(RevisionRow, col(row.revision_id) == col(RevisionRow.id))
        .where(row.agency_id == agency_id)
        .order_by(col(row.id).desc())
        .limit(1)
    )
    found = tx.exec(wanted).first()
    return None if found is None else ReauditRun(*found)


def is_read_before(tx: Session, agency_id: int, at: datetime) -> bool:
    """Whether something that a device is known to hold was read before that."""
    now = DeviceNowRow
    wanted = (
        sa.select(sa.literal(1))
        .select_from(now)
        .join(DeviceRow, col(now.device_id) == col(DeviceRow.id))
        .where(col(DeviceRow.agency_id) == agency_id, USED, col(now.oldest_read_at) < at)
        .limit(1)
    )
    return tx.execute(wanted).first() is not None
