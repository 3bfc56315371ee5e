"""What a report found astray becomes: a finding, and what is known of its device."""

from collections.abc import Collection, Mapping
from datetime import datetime

from sqlmodel import Session

from app.domain.comparison import Direction
from app.domain.device_reports import NotRead, Reading
from app.domain.devices import Device
from app.domain.finding_life import FindingKind, FindingStatus, is_recurrence
from app.domain.findings import Severity
from app.domain.fleet import StoredReport, was_read
from app.domain.known_devices import DeviceNow
from app.domain.people import Person
from app.storage import devices_now, findings
from app.storage.settled_readings import firm_readings
from app.storage.standing_verdicts import (
    known_after_late,
    not_looked_at_since,
    standing_verdicts,
)


def open_findings(
    tx: Session,
    device: Device,
    report: StoredReport,
    alarms: Collection[str],
    *,
    by: Person,
    now: datetime,
    kind: FindingKind = FindingKind.HELD,
) -> None:
    """Of those of its deviations; what has a finding already is found again. Notes open none."""
    known = {
        found.alarm: found
        for found in findings.findings_not_closed(tx, device, kind)
        if found.preset == report.preset
    }
    for alarm in sorted(alarms):
        if report.verdicts[alarm][1] is Severity.NOTE:
            continue
        if alarm in known:
            again = is_recurrence(known[alarm], report.read_at)
            findings.refresh_finding(tx, known[alarm], report=report, reopen=again)
        else:
            findings.open_finding(
                tx,
                agency_id=by.agency_id,
                device=device,
                report=report,
                alarm=alarm,
                now=now,
                kind=kind,
            )


def standing_beside(
    tx: Session, device: Device, report: StoredReport
) -> list[tuple[Direction, Severity]]:
    """What somebody must still act on, and this report did not look at."""
    alarms = [
        alarm
        for alarm in _not_verified(tx, device, report.preset)
        if not was_read(report.readings.get(alarm, NotRead()))
    ]
    return standing_verdicts(
        tx,
        device.id,
        preset=report.preset,
        state_read=report.state_read,
        before=report.read_at,
        alarms=alarms,
    )


def _not_verified(tx: Session, device: Device, preset: str) -> list[str]:
    """Alarms of findings that somebody must still act on."""
    return [
        found.alarm
        for found in findings.findings_not_closed(tx, device)
        if found.preset == preset and found.status is not FindingStatus.VERIFIED
    ]


def take_late(
    tx: Session,
    device: Device,
    known: DeviceNow,
    report: StoredReport,
    *,
    by: Person,
    now: datetime,
    doubted: Collection[str],
) -> None:
    """A later report of that preset and state is known. What that one did not look at, and none
    in between, is as this one found it."""
    astray = not_looked_at_since(tx, device.id, report, report.verdicts)
    firm = [alarm for alarm in astray if alarm not in doubted]
    open_findings(tx, device, report, firm, by=by, now=now)
    standing = _not_verified(tx, device, report.preset)
    if not standing:
        return

    def readings_of(number: int) -> Mapping[str, Reading]:
        return firm_readings(tx, number)

    after = known_after_late(
        tx,
        device.id,
        known,
        report,
        alarms=standing,
        readings_of=readings_of,
    )
    devices_now.save_device_now(tx, device, after, agency_id=by.agency_id)
