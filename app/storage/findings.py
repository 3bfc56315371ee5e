"""Deviations that somebody must act on: at most one open per device, preset and alarm."""

from datetime import datetime
from typing import Any

from sqlalchemy import update
from sqlmodel import Session, col, select

from app.domain.comparison import Direction
from app.domain.devices import Device
from app.domain.finding_events import EventKind, FindingEvent
from app.domain.finding_life import (
    RECURS_WITHIN,
    FindingKind,
    FindingStatus,
    StoredFinding,
    due_times,
)
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.storage.agencies import agency_by_id
from app.storage.finding_events import add_event
from app.storage.finding_rows import ACCEPTANCE, STAMPS, FindingRow, findings_where


def open_finding(
    tx: Session,
    *,
    agency_id: int,
    device: Device,
    report: StoredReport,
    alarm: str,
    now: datetime,
    kind: FindingKind = FindingKind.HELD,
) -> None:
    """Due as the agency chose by now; a later choice leaves it alone."""
    direction, severity = _verdict(report, alarm, kind)
    due = _due(tx, agency_id, severity, direction, now)
    row = FindingRow(
        agency_id=agency_id,
        device_id=device.id,
        kind=kind.value,
        preset=report.preset,
        alarm=alarm,
        direction=direction.value,
        severity=severity.value,
        status=FindingStatus.OPEN.value,
        opened_at=now,
        opened_report_id=report.id,
        report_id=report.id,
        note="",
        recurrences=0,
        recurred_from_id=_closed_lately(tx, device, report.preset, alarm, kind, now),
        contain_due_at=due[0],
        verify_due_at=due[1],
    )
    tx.add(row)
    tx.flush()
    add_event(tx, row.saved_id, _found(EventKind.OPENED, report, now))


def _verdict(report: StoredReport, alarm: str, kind: FindingKind) -> tuple[Direction, Severity]:
    """How a crew used a device is no more than a note."""
    direction, severity = report.verdicts[alarm]
    return direction, Severity.NOTE if kind is FindingKind.USE else severity


def _due(
    tx: Session, agency_id: int, severity: Severity, direction: Direction, now: datetime
) -> tuple[datetime, datetime]:
    """When it must be contained, and when verified."""
    times = due_times(severity, direction, agency_by_id(tx, agency_id).choices)
    return now + times.contain, now + times.verify


def _closed_lately(
    tx: Session, device: Device, preset: str, alarm: str, kind: FindingKind, now: datetime
) -> int | None:
    row = FindingRow
    wanted = select(row.id).where(
        row.device_id == device.id,
        row.preset == preset,
        row.alarm == alarm,
        row.kind == kind.value,
        col(row.closed_at) >= now - RECURS_WITHIN,
    )
    return tx.exec(wanted.order_by(col(row.closed_at).desc(), col(row.id).desc()).limit(1)).first()


def _found(kind: EventKind, report: StoredReport, at: datetime) -> FindingEvent:
    return FindingEvent(kind, at, report.reader_id, report.reader, report=report.id)


def refresh_finding(
    tx: Session, finding: StoredFinding, *, report: StoredReport, reopen: bool
) -> None:
    """Found again: the latest report tells how. Reopening takes the later stamps off; they stay in
    its story. What is graver than before is due anew, and nobody has accepted that."""
    direction, severity = _verdict(report, finding.alarm, finding.kind)
    graver = severity.weight < finding.severity.weight
    at = report.received_at
    values: dict[str, Any] = {
        "direction": direction.value,
        "severity": severity.value,
        "report_id": report.id,
    }
    if reopen:
        taken_off = [f"{stamp}_{part}" for stamp in STAMPS for part in ("by", "at")]
        values |= dict.fromkeys([*taken_off, "verified_report_id", "cause", "heard", "seen"])
        values |= {"status": FindingStatus.OPEN.value, "recurrences": finding.recurrences + 1}
    if reopen or graver:
        agency_id = tx.exec(select(FindingRow.agency_id).where(FindingRow.id == finding.id)).one()
        contain, verify = _due(tx, agency_id, severity, direction, at)
        values |= {"contain_due_at": contain, "verify_due_at": verify}
        values |= dict.fromkeys([*ACCEPTANCE, "accepted_reason"])
    change_finding(tx, finding.id, **values)
    kind = EventKind.REOPENED if reopen else EventKind.FOUND_AGAIN
    add_event(tx, finding.id, _found(kind, report, at))
    if finding.acceptance is not None and (reopen or graver):
        add_event(tx, finding.id, _found(EventKind.ACCEPTANCE_ENDED, report, at))


def change_finding(tx: Session, finding_id: int, **values: Any) -> None:
    tx.exec(update(FindingRow).where(col(FindingRow.id) == finding_id).values(**values))


def lock_finding(tx: Session, *, agency_id: int, finding_id: int) -> StoredFinding | None:
    wanted = select(FindingRow.id).where(
        FindingRow.agency_id == agency_id, FindingRow.id == finding_id
    )
    tx.exec(wanted.with_for_update()).all()
    return find_finding(tx, agency_id=agency_id, finding_id=finding_id)


def find_finding(tx: Session, *, agency_id: int, finding_id: int) -> StoredFinding | None:
    found = findings_where(tx, FindingRow.agency_id == agency_id, FindingRow.id == finding_id)
    return next(iter(found), None)


def finding_by_id(tx: Session, finding_id: int) -> StoredFinding:
    return findings_where(tx, FindingRow.id == finding_id)[0]


def findings_not_closed(
    tx: Session, device: Device, kind: FindingKind | None = FindingKind.HELD
) -> list[StoredFinding]:
    """`kind` None: of every kind."""
    of_kind = [] if kind is None else [FindingRow.kind == kind.value]
    not_closed = FindingRow.status != FindingStatus.CLOSED.value
    return findings_where(tx, FindingRow.device_id == device.id, not_closed, *of_kind)


def findings_opened_since(tx: Session, agency_id: int, since: datetime) -> list[StoredFinding]:
    return findings_where(tx, FindingRow.agency_id == agency_id, FindingRow.opened_at >= since)


def recurrence_of(tx: Session, finding_id: int) -> int | None:
    """The finding that was opened because this one, closed before, came back."""
    wanted = select(FindingRow.id).where(FindingRow.recurred_from_id == finding_id)
    return tx.exec(wanted.order_by(col(FindingRow.id)).limit(1)).first()
