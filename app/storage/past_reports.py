"""Reports by the time they were read: since a draw, before a date, in a month."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Session, col, select

from app.domain.device_reports import StateRead
from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.fleet import StoredReport
from app.storage.among import among
from app.storage.base import batches
from app.storage.deviations import DeviationRow
from app.storage.devices import DeviceRow
from app.storage.reports import COUNTING, ReportRow, first_report, reports_where
from app.storage.revisions import RevisionRow
from app.storage.settled_readings import tells


def reports_since(
    tx: Session, *, agency_id: int, devices: Sequence[str], since: datetime
) -> list[StoredReport]:
    """Of these devices, read after that time; the oldest first. Of several looks of one reading
    only what they bear out."""
    found = [
        report
        for some in batches(devices)
        for report in reports_where(
            tx,
            ReportRow.agency_id == agency_id,
            ReportRow.read_at > since,
            col(DeviceRow.tag).in_(some),
            tells(),
            limit=None,
        )
    ]
    return sorted(found, key=lambda report: (report.read_at, report.id))


def latest_before(tx: Session, device: Device, at: datetime) -> dict[str, StoredReport]:
    """By preset, the last that was read up to that time, in whichever state."""
    presets = select(ReportRow.preset).where(ReportRow.device_id == device.id).distinct()
    found = {}
    for preset in tx.exec(presets).all():
        last = first_report(
            tx,
            ReportRow.device_id == device.id,
            ReportRow.preset == preset,
            ReportRow.read_at <= at,
            tells(),
        )
        if last is not None:
            found[preset] = last
    return found


def devices_read(
    tx: Session, *, agency_id: int, borders: Sequence[datetime]
) -> list[tuple[int, int, int]]:
    """From each border to the next one: how many devices were read in a state that counts, how
    many were off, how many unsafe. In one walk through the reports."""
    row, device = ReportRow, col(ReportRow.device_id)
    off = _deviates(DeviationRow.severity != Severity.NOTE.value)
    unsafe = _deviates(DeviationRow.severity == Severity.UNSAFE.value)
    ends = enumerate(borders[1:])
    span = sa.case(*((col(row.read_at) < end, place) for place, end in ends)).label("span")
    wanted = (
        sa.select(
            span,
            func.count(device.distinct()),
            func.count(sa.distinct(sa.case((off, device)))),
            func.count(sa.distinct(sa.case((unsafe, device)))),
        )
        .where(
            col(row.agency_id) == agency_id,
            col(row.read_at) >= borders[0],
            col(row.read_at) < borders[-1],
            col(row.state_read).in_(COUNTING),
            tells(),
        )
        .group_by(sa.literal_column(span.name))
    )
    counted = {place: (read, off, grave) for place, read, off, grave in tx.execute(wanted)}
    return [counted.get(place, (0, 0, 0)) for place in range(len(borders) - 1)]


@dataclass(frozen=True)
class PastReport:
    """`worst` None: nothing but notes deviated."""

    id: int
    device: str
    preset: str
    state_read: StateRead
    read_at: datetime
    revision: int | None
    worst: Severity | None


def counted_in(
    tx: Session, *, agency_id: int, since: datetime, until: datetime, most: int
) -> list[PastReport]:
    """What `devices_read` counts, report by report: the gravest first, then by device and time."""
    row = ReportRow
    off = _deviates(DeviationRow.severity == Severity.OFF_PROTOCOL.value)
    unsafe = _deviates(DeviationRow.severity == Severity.UNSAFE.value)
    grave = sa.case((unsafe, 0), (off, 1), else_=2)
    columns: tuple[Any, ...] = (
        *(row.id, DeviceRow.tag, row.preset, row.state_read, row.read_at, RevisionRow.number),
        grave,
    )
    wanted = (
        sa.select(*columns)
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .outerjoin(RevisionRow, col(row.revision_id) == col(RevisionRow.id))
        .where(
            col(row.agency_id) == agency_id,
            col(row.read_at) >= since,
            col(row.read_at) < until,
            col(row.state_read).in_(COUNTING),
            tells(),
        )
        .order_by(grave, col(DeviceRow.tag), col(row.read_at), col(row.id))
        .limit(most)
    )
    worst = (Severity.UNSAFE, Severity.OFF_PROTOCOL, None)
    return [
        PastReport(number, device, preset, StateRead(state), at, revision, worst[grave])
        for number, device, preset, state, at, revision, grave in tx.execute(wanted)
    ]


def _deviates(condition: Any) -> Any:
    return (
        sa.select(sa.literal(1))
        .select_from(DeviationRow)
        .where(col(DeviationRow.report_id) == col(ReportRow.id), condition)
        .exists()
    )


def places_of_reports(tx: Session, report_ids: Collection[int]) -> dict[int, tuple[str, str]]:
    """Device and preset."""
    wanted = (
        select(ReportRow.id, DeviceRow.tag, ReportRow.preset)
        .join(DeviceRow, col(ReportRow.device_id) == col(DeviceRow.id))
        .where(among(tx, col(ReportRow.id), report_ids))
    )
    return {number: (tag, preset) for number, tag, preset in tx.exec(wanted) if number is not None}
