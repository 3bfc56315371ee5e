"""What else was read and set around a finding: before it, after it, and on other devices."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Session, col, select

from app.domain.devices import RegisterStatus
from app.domain.finding_events import EventKind
from app.domain.fleet import StoredReport
from app.domain.siblings import Sibling, Tie
from app.storage.devices import DeviceRow
from app.storage.finding_events import FindingEventRow
from app.storage.finding_rows import FindingRow
from app.storage.natural_columns import natural_columns
from app.storage.reports import COUNTING, ReportRow, reports_where

LOOKED_BACK = 200
"""Readings of one preset: years of them."""
MOST_SIBLINGS = 500
_FACTS: tuple[Any, ...] = (DeviceRow.tag, DeviceRow.station, DeviceRow.model)


def readings_before(tx: Session, agency_id: int, report: StoredReport) -> list[StoredReport]:
    """Of the same device and preset in the same state; the latest first."""
    row = ReportRow
    return reports_where(
        tx,
        DeviceRow.tag == report.device,
        row.agency_id == agency_id,
        row.preset == report.preset,
        row.state_read == report.state_read.value,
        row.read_at < report.read_at,
        limit=LOOKED_BACK,
    )


def readings_by(
    tx: Session,
    agency_id: int,
    as_found: StoredReport,
    *,
    person_id: int,
    until: datetime | None,
) -> list[StoredReport]:
    """What one person read of that device and preset after it was found; the latest first."""
    row = ReportRow
    up_to = [] if until is None else [row.read_at <= until]
    return reports_where(
        tx,
        DeviceRow.tag == as_found.device,
        row.agency_id == agency_id,
        row.preset == as_found.preset,
        row.reader_id == person_id,
        row.read_at > as_found.read_at,
        *up_to,
        limit=LOOKED_BACK,
    )


def last_corrector(tx: Session, *, device: str, agency_id: int, before: datetime) -> int | None:
    """Who last set something right on this device, up to that time."""
    event = FindingEventRow
    wanted = (
        select(event.person_id)
        .join(FindingRow, col(event.finding_id) == col(FindingRow.id))
        .join(DeviceRow, col(FindingRow.device_id) == col(DeviceRow.id))
        .where(
            DeviceRow.tag == device,
            DeviceRow.agency_id == agency_id,
            event.kind == EventKind.CORRECTED.value,
            event.at <= before,
        )
        .order_by(col(event.at).desc(), col(event.id).desc())
    )
    return tx.exec(wanted.limit(1)).first()


def siblings_of(
    tx: Session,
    *,
    agency_id: int,
    as_found: StoredReport,
    station: str,
    corrector: int | None,
    reader: tuple[int, datetime, datetime] | None,
) -> list[Sibling]:
    """Those that nobody has read since. `reader`: who, from when, until when."""
    ties = {
        Tie.SOFTWARE: _same_software(as_found),
        Tie.STATION: col(DeviceRow.station) == station,
        Tie.CORRECTOR: _corrected_by(corrector),
        Tie.READER: _read_by(reader),
    }
    last = _last_read()
    wanted = (
        sa.select(
            *_FACTS,
            last,
            *(sa.case((tie, 1), else_=0) for tie in ties.values()),
        )
        .where(
            col(DeviceRow.agency_id) == agency_id,
            col(DeviceRow.tag) != as_found.device,
            col(DeviceRow.status) != RegisterStatus.RETIRED.value,
            sa.or_(last.is_(None), last <= as_found.read_at),
            sa.or_(*ties.values()),
        )
        .order_by(*natural_columns(col(DeviceRow.station)), *natural_columns(col(DeviceRow.tag)))
        .limit(MOST_SIBLINGS)
    )
    return [*_siblings(tx.execute(wanted).all(), tuple(ties))]


def _last_read() -> Any:
    return (
        sa.select(func.max(col(ReportRow.read_at)))
        .where(
            col(ReportRow.device_id) == col(DeviceRow.id), col(ReportRow.state_read).in_(COUNTING)
        )
        .correlate(DeviceRow)
        .scalar_subquery()
    )


def _siblings(rows: Any, ties: tuple[Tie, ...]) -> Iterator[Sibling]:
    for tag, station, model, last, *held in rows:
        tied = tuple(tie for tie, holds in zip(ties, held, strict=True) if holds)
        yield Sibling(tag, station, model, last, tied)


def _same_software(as_found: StoredReport) -> Any:
    """By the last reading that told a version."""
    if not as_found.software:
        return sa.false()
    software = (
        sa.select(col(ReportRow.software))
        .where(col(ReportRow.device_id) == col(DeviceRow.id), col(ReportRow.software) != "")
        .order_by(col(ReportRow.read_at).desc(), col(ReportRow.id).desc())
        .limit(1)
        .correlate(DeviceRow)
        .scalar_subquery()
    )
    return sa.and_(col(DeviceRow.model) == as_found.model, software == as_found.software)


def _corrected_by(person_id: int | None) -> Any:
    if person_id is None:
        return sa.false()
    return (
        sa.select(sa.literal(1))
        .select_from(FindingEventRow)
        .join(FindingRow, col(FindingEventRow.finding_id) == col(FindingRow.id))
        .where(
            col(FindingRow.device_id) == col(DeviceRow.id),
            col(FindingEventRow.kind) == EventKind.CORRECTED.value,
            col(FindingEventRow.person_id) == person_id,
        )
        .correlate(DeviceRow)
        .exists()
    )


def _read_by(reader: tuple[int, datetime, datetime] | None) -> Any:
    if reader is None:
        return sa.false()
    person_id, start, end = reader
    return (
        sa.select(sa.literal(1))
        .where(
            col(ReportRow.device_id) == col(DeviceRow.id),
            col(ReportRow.reader_id) == person_id,
            col(ReportRow.read_at) >= start,
            col(ReportRow.read_at) < end,
        )
        .correlate(DeviceRow)
        .exists()
    )
