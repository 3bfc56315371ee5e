"""What was found astray and a later report of the same preset and state did not look at."""

from collections.abc import Callable, Collection, Mapping
from datetime import datetime

from sqlmodel import Session, col

from app.domain.comparison import Direction
from app.domain.device_reports import NotRead, Reading, StateRead
from app.domain.findings import Severity
from app.domain.fleet import Verdicts, was_read
from app.domain.known_devices import DeviceNow, Reported, known_anew
from app.storage.reports import ReportRow, report_by_id, reports_where
from app.storage.settled_readings import tells


def standing_verdicts(
    tx: Session,
    device_id: int,
    *,
    preset: str,
    state_read: StateRead,
    before: datetime,
    alarms: Collection[str],
) -> list[tuple[Direction, Severity]]:
    """Of each of these alarms what the last report that read it says, where that deviates."""
    if not alarms:
        return []
    found = reports_where(
        tx,
        ReportRow.device_id == device_id,
        ReportRow.preset == preset,
        ReportRow.state_read == state_read.value,
        ReportRow.read_at < before,
        tells(),
        limit=None,
    )
    last = {
        alarm: next((one for one in found if was_read(one.readings.get(alarm, NotRead()))), None)
        for alarm in alarms
    }
    return [
        one.verdicts[alarm]
        for alarm, one in sorted(last.items())
        if one is not None and alarm in one.verdicts
    ]


def not_looked_at_since(
    tx: Session, device_id: int, report: Reported, verdicts: Verdicts
) -> list[str]:
    """Of what a report found astray that arrives late: what none of that preset and state has read
    that was read later and is here already."""
    alarms = [alarm for alarm, (_, how) in verdicts.items() if how is not Severity.NOTE]
    if not alarms:
        return []
    later = reports_where(
        tx,
        ReportRow.device_id == device_id,
        ReportRow.preset == report.preset,
        ReportRow.state_read == report.state_read.value,
        ReportRow.read_at > report.read_at,
        col(ReportRow.id) < report.id,
        tells(),
        limit=None,
    )
    read = {alarm for one in later for alarm, found in one.readings.items() if was_read(found)}
    return [alarm for alarm in alarms if alarm not in read]


def known_after_late(
    tx: Session,
    device_id: int,
    known: DeviceNow,
    report: Reported,
    *,
    alarms: Collection[str],
    readings_of: Callable[[int], Mapping[str, Reading]],
) -> DeviceNow:
    """`alarms`: of that preset, with findings that nobody has verified."""
    same = known.presets[report.preset].states[report.state_read]
    latest = report_by_id(tx, same.report)
    standing = standing_verdicts(
        tx,
        device_id,
        preset=report.preset,
        state_read=report.state_read,
        before=same.read_at,
        alarms=[one for one in alarms if not was_read(latest.readings.get(one, NotRead()))],
    )
    return known_anew(
        known,
        report.preset,
        report.state_read,
        verdicts=latest.verdicts,
        standing=standing,
        readings_of=readings_of,
    )
