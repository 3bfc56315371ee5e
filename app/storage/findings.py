"""Deviations that somebody must act on: at most one open per device, preset and alarm."""

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import CheckConstraint, Index, text, update
from sqlmodel import Field, Session, col, select

from app.domain.comparison import Direction
from app.domain.devices import Device
from app.domain.finding_life import FindingStatus, Stamp, StoredFinding
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.domain.people import Person
from app.storage.base import NumberedRow, both_or_neither, filled, one_of
from app.storage.devices import DeviceRow
from app.storage.people import names_of

_NOT_CLOSED = text("status <> 'closed'")
_STAMPS = ("contained", "corrected", "verified", "closed")


class FindingRow(NumberedRow, table=True):
    __tablename__ = "finding"
    __table_args__ = (
        Index(
            "uq_finding_one_open",
            "device_id",
            "preset",
            "alarm",
            unique=True,
            sqlite_where=_NOT_CLOSED,
            postgresql_where=_NOT_CLOSED,
        ),
        Index(None, "agency_id", "status"),
        filled("preset"),
        filled("alarm"),
        one_of("direction", Direction),
        one_of("severity", Severity),
        one_of("status", FindingStatus),
        *(both_or_neither(f"{stamp}_by", f"{stamp}_at") for stamp in _STAMPS),
        both_or_neither("verified_by", "verified_report_id"),
        CheckConstraint("(closed_at IS NOT NULL) = (status = 'closed')", name="closed_has_time"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    device_id: int = Field(foreign_key="device.id")
    preset: str
    alarm: str
    direction: str
    severity: str
    status: str
    opened_at: datetime
    opened_report_id: int = Field(foreign_key="report.id")
    report_id: int = Field(foreign_key="report.id")
    note: str
    contained_by: int | None = Field(default=None, foreign_key="person.id")
    contained_at: datetime | None = None
    corrected_by: int | None = Field(default=None, foreign_key="person.id")
    corrected_at: datetime | None = None
    verified_by: int | None = Field(default=None, foreign_key="person.id")
    verified_at: datetime | None = None
    verified_report_id: int | None = Field(default=None, foreign_key="report.id")
    closed_by: int | None = Field(default=None, foreign_key="person.id")
    closed_at: datetime | None = None


def open_finding(
    tx: Session,
    *,
    agency_id: int,
    device: Device,
    report: StoredReport,
    alarm: str,
    now: datetime,
) -> None:
    direction, severity = report.verdicts[alarm]
    tx.add(
        FindingRow(
            agency_id=agency_id,
            device_id=device.id,
            preset=report.preset,
            alarm=alarm,
            direction=direction.value,
            severity=severity.value,
            status=FindingStatus.OPEN.value,
            opened_at=now,
            opened_report_id=report.id,
            report_id=report.id,
            note="",
        )
    )
    tx.flush()


def refresh_finding(
    tx: Session, finding: StoredFinding, *, report: StoredReport, reopen: bool
) -> None:
    """Found again: the latest report tells how. Reopening takes the later stamps off."""
    direction, severity = report.verdicts[finding.alarm]
    values: dict[str, Any] = {
        "direction": direction.value,
        "severity": severity.value,
        "report_id": report.id,
    }
    if reopen:
        taken_off = [f"{stamp}_{part}" for stamp in _STAMPS for part in ("by", "at")]
        values |= dict.fromkeys([*taken_off, "verified_report_id"])
        values["status"] = FindingStatus.OPEN.value
    tx.exec(update(FindingRow).where(col(FindingRow.id) == finding.id).values(**values))


def stamp_finding(
    tx: Session,
    finding: StoredFinding,
    *,
    status: FindingStatus,
    note: str,
    by: Person,
    now: datetime,
    report_id: int | None = None,
) -> None:
    values: dict[str, Any] = {"status": status.value, f"{status.value}_by": by.id}
    values |= {f"{status.value}_at": now, "note": note or finding.note}
    if report_id is not None:
        values["verified_report_id"] = report_id
    tx.exec(update(FindingRow).where(col(FindingRow.id) == finding.id).values(**values))


def findings_not_closed(tx: Session, device: Device) -> list[StoredFinding]:
    not_closed = FindingRow.status != FindingStatus.CLOSED.value
    return findings_where(tx, FindingRow.device_id == device.id, not_closed)


def finding_by_id(tx: Session, finding_id: int) -> StoredFinding:
    return findings_where(tx, FindingRow.id == finding_id)[0]


def find_finding(tx: Session, *, agency_id: int, finding_id: int) -> StoredFinding | None:
    found = findings_where(tx, FindingRow.agency_id == agency_id, FindingRow.id == finding_id)
    return next(iter(found), None)


def lock_finding(tx: Session, *, agency_id: int, finding_id: int) -> StoredFinding | None:
    wanted = select(FindingRow.id).where(
        FindingRow.agency_id == agency_id, FindingRow.id == finding_id
    )
    tx.exec(wanted.with_for_update()).all()
    return find_finding(tx, agency_id=agency_id, finding_id=finding_id)


def findings_of(
    tx: Session,
    agency_id: int,
    *,
    statuses: Collection[FindingStatus],
    severities: Collection[Severity],
    device: str | None,
) -> list[StoredFinding]:
    conditions: list[Any] = [
        FindingRow.agency_id == agency_id,
        col(FindingRow.status).in_([status.value for status in statuses]),
        col(FindingRow.severity).in_([severity.value for severity in severities]),
    ]
    if device is not None:
        conditions.append(DeviceRow.tag == device)
    return findings_where(tx, *conditions)


def findings_opened_since(tx: Session, agency_id: int, since: datetime) -> list[StoredFinding]:
    return findings_where(tx, FindingRow.agency_id == agency_id, FindingRow.opened_at >= since)


def findings_where(tx: Session, *conditions: Any) -> list[StoredFinding]:
    """The oldest first, in two statements."""
    wanted = (
        select(FindingRow, DeviceRow.tag, DeviceRow.station, DeviceRow.model)
        .join(DeviceRow, col(FindingRow.device_id) == col(DeviceRow.id))
        .where(*conditions)
        .order_by(col(FindingRow.opened_at), col(FindingRow.id))
        .execution_options(populate_existing=True)
    )
    found = tx.exec(wanted).all()
    names = names_of(tx, {number for row, *_ in found for number in _people_of(row)})
    return [_finding(row, *device, names=names) for row, *device in found]


def _people_of(row: FindingRow) -> list[int]:
    people = [row.contained_by, row.corrected_by, row.verified_by, row.closed_by]
    return [number for number in people if number is not None]


def _finding(
    row: FindingRow, tag: str, station: str, model: str, *, names: Mapping[int, str]
) -> StoredFinding:
    def stamp(person: int | None, at: datetime | None) -> Stamp | None:
        return None if person is None or at is None else Stamp(person, names[person], at)

    return StoredFinding(
        id=row.saved_id,
        device=tag,
        station=station,
        model=model,
        preset=row.preset,
        alarm=row.alarm,
        direction=Direction(row.direction),
        severity=Severity(row.severity),
        status=FindingStatus(row.status),
        opened_at=row.opened_at,
        opened_by=row.opened_report_id,
        report=row.report_id,
        note=row.note,
        contained=stamp(row.contained_by, row.contained_at),
        corrected=stamp(row.corrected_by, row.corrected_at),
        verified=stamp(row.verified_by, row.verified_at),
        closed=stamp(row.closed_by, row.closed_at),
        verified_by_report=row.verified_report_id,
    )
