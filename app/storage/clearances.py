"""What decides on clearance: causes and proofs, findings not verified, the director's word."""

from collections import defaultdict
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Field, Session, Text, col, select

from app.domain.clearances import Cause, ClearanceState, OpenFindings, Override
from app.domain.device_changes import ChangeKind
from app.domain.finding_life import FindingStatus
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.domain.people import Person
from app.storage.base import NumberedRow, filled, one_of
from app.storage.devices import DeviceRow
from app.storage.finding_rows import FindingRow
from app.storage.reports import COUNTING, ReportRow, reports_where
from app.storage.settled_readings import tells

_TO = (ClearanceState.CLEARED, ClearanceState.BY_HAND)
_DONE = (FindingStatus.VERIFIED.value, FindingStatus.CLOSED.value)


class ClearanceOverrideRow(NumberedRow, table=True):
    """`ended_at`: taken back before its day."""

    __tablename__ = "clearance_override"
    __table_args__ = (one_of("state", _TO), filled("reason"), filled("name"))

    device_id: int = Field(foreign_key="device.id", index=True)
    state: str
    made_at: datetime
    person_id: int = Field(foreign_key="person.id")
    name: str
    reason: str = Field(sa_type=Text)
    until: date
    ended_at: datetime | None = None


def add_override(
    tx: Session,
    device_id: int,
    *,
    to: ClearanceState,
    reason: str,
    until: date,
    by: Person,
    now: datetime,
) -> None:
    """Takes the place of an earlier one."""
    end_override(tx, device_id, now=now)
    tx.add(
        ClearanceOverrideRow(
            device_id=device_id,
            state=to.value,
            made_at=now,
            person_id=by.id,
            name=by.name,
            reason=reason,
            until=until,
        )
    )
    tx.flush()


def end_override(tx: Session, device_id: int, *, now: datetime) -> bool:
    """False: there was none."""
    row = ClearanceOverrideRow
    standing = col(row.device_id) == device_id, col(row.ended_at).is_(None)
    return bool(tx.exec(sa.update(row).where(*standing).values(ended_at=now)).rowcount)


def causes_of(tx: Session, agency_id: int, *conditions: Any) -> dict[int, Cause]:
    """By device; only where there was one."""
    row = DeviceRow
    columns: tuple[Any, ...] = (row.id, row.cause, row.cause_at, row.worker_id, row.cleared_at)
    wanted = sa.select(*columns).where(
        col(row.agency_id) == agency_id, col(row.cause).is_not(None), *conditions
    )
    return {
        number: Cause(ChangeKind(kind), at, worker, cleared)
        for number, kind, at, worker, cleared in tx.execute(wanted)
    }


def cause_of(tx: Session, agency_id: int, device_id: int) -> Cause | None:
    return causes_of(tx, agency_id, DeviceRow.id == device_id).get(device_id)


def overrides_of(tx: Session, agency_id: int, *conditions: Any) -> dict[int, Override]:
    """By device; those that nobody took back."""
    row = ClearanceOverrideRow
    wanted = (
        select(row)
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .where(DeviceRow.agency_id == agency_id, col(row.ended_at).is_(None), *conditions)
    )
    return {
        one.device_id: Override(
            ClearanceState(one.state), one.made_at, one.name, one.reason, one.until
        )
        for one in tx.exec(wanted)
    }


def open_findings_of(
    tx: Session, agency_id: int, *conditions: Any, now: datetime
) -> dict[int, list[OpenFindings]]:
    """By device: what nobody has verified yet."""
    row = FindingRow
    accepted = func.sum(sa.case((col(row.acceptance_ends_at) > now, 1), else_=0))
    wanted = (
        sa.select(
            col(row.device_id),
            col(row.severity),
            func.count(),
            func.max(col(row.opened_at)),
            accepted,
        )
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .where(col(row.agency_id) == agency_id, col(row.status).not_in(_DONE), *conditions)
        .group_by(col(row.device_id), col(row.severity))
    )
    found: dict[int, list[OpenFindings]] = defaultdict(list)
    for device, severity, count, latest, taken in tx.execute(wanted):
        found[device].append(OpenFindings(Severity(severity), count, latest, taken))
    return found


def readings_after(tx: Session, device_id: int, at: datetime) -> list[StoredReport]:
    """Those that say what the device holds: of several looks only what they bear out."""
    row = ReportRow
    return reports_where(
        tx,
        row.device_id == device_id,
        row.read_at > at,
        col(row.state_read).in_(COUNTING),
        tells(),
        limit=None,
    )


def mark_cleared(tx: Session, device_id: int, *, at: datetime) -> None:
    tx.get_one(DeviceRow, device_id).cleared_at = at
    tx.flush()
