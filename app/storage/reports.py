"""What was read on a device, and how it was judged; neither ever changes."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, Session, Text, col

from app.domain.device_reports import Origin, StateRead
from app.domain.devices import Device
from app.domain.fleet import Judgement, StoredReport, Verdicts
from app.domain.new_reports import NewReport
from app.domain.packing import Packed, pack, unpack
from app.domain.people import Person
from app.storage.among import among
from app.storage.base import NumberedRow, batches, both_or_neither, filled, one_of
from app.storage.deviations import add_deviations, verdicts_of
from app.storage.devices import DeviceRow
from app.storage.layouts import LayoutRow, columns_from, layout_for
from app.storage.people import PersonRow
from app.storage.report_inputs import packed_input
from app.storage.revisions import RevisionRow

COUNTING = [state.value for state in StateRead if state.counts]


class ReportRow(NumberedRow, table=True):
    """`raw`: its input as it came; of one from a file it is the `input_id` that it shares."""

    __tablename__ = "report"
    __table_args__ = (
        UniqueConstraint("agency_id", "idempotency_key"),
        UniqueConstraint("device_id", "read_at", "state_read", "preset", "origin"),
        one_of("state_read", StateRead),
        one_of("origin", Origin),
        filled("preset"),
        filled("model"),
        filled("idempotency_key"),
        CheckConstraint("read_at <= received_at", name="read_before_received"),
        CheckConstraint("minutes_off >= 0", name="minutes_off_not_negative"),
        CheckConstraint("length(vals) > 0", name="vals_filled"),
        CheckConstraint("(raw IS NULL) <> (input_id IS NULL)", name="raw_or_input"),
        both_or_neither("input_id", "file_id"),
        both_or_neither("file_id", "file_lines"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    device_id: int = Field(foreign_key="device.id")
    model: str
    preset: str
    state_read: str
    read_at: datetime
    received_at: datetime
    reader_id: int = Field(foreign_key="person.id")
    software: str
    trigger: str
    minutes_off: int | None
    revision_id: int | None = Field(foreign_key="revision.id")
    layout_id: int = Field(foreign_key="layout.id")
    vals: bytes
    extras: str = Field(sa_type=Text)
    raw: bytes | None
    idempotency_key: str
    origin: str
    reader_told: str
    device_clock: str
    input_id: int | None = Field(default=None, foreign_key="report_input.id")
    file_id: int | None = Field(default=None, foreign_key="sent_file.id")
    file_lines: str | None = Field(default=None, sa_type=Text)


@dataclass(frozen=True)
class Verdict:
    """How a report was judged, and by which revision's row; None: nothing was in force."""

    revision_id: int | None
    judgement: Judgement


def add_report(
    tx: Session,
    *,
    agency_id: int,
    device: Device,
    report: NewReport,
    verdict: Verdict,
    by: Person,
    now: datetime,
) -> int:
    columns = [(report.preset, alarm) for alarm in sorted(report.readings)]
    packed = pack(columns, {(report.preset, alarm): r for alarm, r in report.readings.items()})
    row = ReportRow(
        agency_id=agency_id,
        device_id=device.id,
        model=device.model,
        preset=report.preset,
        state_read=report.state_read.value,
        read_at=report.read_at,
        received_at=now,
        reader_id=by.id,
        software=report.software,
        trigger=report.trigger,
        minutes_off=report.minutes_off,
        revision_id=verdict.revision_id,
        layout_id=layout_for(tx, agency_id=agency_id, columns=columns),
        vals=packed.vals,
        extras=packed.extras,
        raw=packed_input(report),
        idempotency_key=report.idempotency_key,
        origin=report.origin.value,
        reader_told=report.reader,
        device_clock=report.device_clock,
    )
    return _added(tx, row, verdict)


def _added(tx: Session, row: ReportRow, verdict: Verdict) -> int:
    tx.add(row)
    tx.flush()
    add_deviations(tx, report_id=row.saved_id, verdicts=verdict.judgement.verdicts)
    return row.saved_id


def report_with_key(tx: Session, *, agency_id: int, key: str) -> StoredReport | None:
    return first_report(tx, ReportRow.agency_id == agency_id, ReportRow.idempotency_key == key)


def report_of_that_time(tx: Session, device: Device, report: NewReport) -> StoredReport | None:
    return first_report(
        tx,
        ReportRow.device_id == device.id,
        ReportRow.read_at == report.read_at,
        ReportRow.state_read == report.state_read.value,
        ReportRow.preset == report.preset,
    )


def keys_of(
    tx: Session, *, agency_id: int, devices: Sequence[str], since: datetime
) -> dict[tuple[str, datetime, StateRead, str], str]:
    """The idempotency key of each report of these devices, by what makes it one."""
    found = {}
    for some in batches(devices):
        wanted = (
            sa.select(
                col(DeviceRow.tag),
                col(ReportRow.read_at),
                col(ReportRow.state_read),
                col(ReportRow.preset),
                col(ReportRow.idempotency_key),
            )
            .join(DeviceRow, col(ReportRow.device_id) == col(DeviceRow.id))
            .where(
                col(DeviceRow.agency_id) == agency_id,
                col(DeviceRow.tag).in_(some),
                col(ReportRow.read_at) >= since,
            )
        )
        for tag, at, state, preset, key in tx.execute(wanted):
            found[tag, at, StateRead(state), preset] = key
    return found


def report_by_id(tx: Session, report_id: int) -> StoredReport:
    return reports_where(tx, ReportRow.id == report_id, limit=1)[0]


def find_report(tx: Session, *, agency_id: int, report_id: int) -> StoredReport | None:
    return first_report(tx, ReportRow.agency_id == agency_id, ReportRow.id == report_id)


def latest_counting(
    tx: Session,
    *,
    agency_id: int,
    device: str,
    preset: str,
    after: datetime,
    not_by: int,
    alarm: str | None = None,
    state_read: StateRead | None = None,
) -> StoredReport | None:
    """The latest of those that say what the device holds, read blind by another person; of those
    in which `alarm` was asked, since a second look asks for some alarms only. `state_read`: the
    one of them that is meant."""
    found = reports_where(
        tx,
        ReportRow.agency_id == agency_id,
        DeviceRow.tag == device,
        ReportRow.preset == preset,
        ReportRow.read_at > after,
        ReportRow.reader_id != not_by,
        col(ReportRow.origin).in_([origin.value for origin in Origin if origin.blind]),
        col(ReportRow.state_read).in_(COUNTING if state_read is None else [state_read.value]),
        limit=None,
    )
    return next((one for one in found if alarm is None or alarm in one.readings), None)


def reports_of(tx: Session, device: Device, *, limit: int) -> list[StoredReport]:
    return reports_where(tx, ReportRow.device_id == device.id, limit=limit)


def reports_by_id(tx: Session, report_ids: Collection[int]) -> dict[int, StoredReport]:
    found = reports_where(tx, among(tx, col(ReportRow.id), report_ids), limit=len(report_ids))
    return {report.id: report for report in found}


_WHOLE: tuple[Any, ...] = (
    ReportRow,
    DeviceRow.tag,
    PersonRow.name,
    RevisionRow.number,
    LayoutRow.columns,
)


def reports_where(tx: Session, *conditions: Any, limit: int | None) -> list[StoredReport]:
    """The latest first, in two statements."""
    wanted = (
        sa.select(*_WHOLE)
        .join(DeviceRow, col(ReportRow.device_id) == col(DeviceRow.id))
        .join(PersonRow, col(ReportRow.reader_id) == col(PersonRow.id))
        .join(LayoutRow, col(ReportRow.layout_id) == col(LayoutRow.id))
        .outerjoin(RevisionRow, col(ReportRow.revision_id) == col(RevisionRow.id))
        .where(*conditions)
        .order_by(col(ReportRow.read_at).desc(), col(ReportRow.id).desc())
        .limit(limit)
    )
    found = tx.execute(wanted).all()
    verdicts = verdicts_of(tx, [row.saved_id for row, *_ in found])
    return [_stored(*one, verdicts=verdicts[one[0].saved_id]) for one in found]


def _stored(
    row: ReportRow,
    device: str,
    reader: str,
    revision: int | None,
    columns: str,
    *,
    verdicts: Verdicts,
) -> StoredReport:
    unpacked = unpack(columns_from(columns), Packed(row.vals, row.extras))
    return StoredReport(
        id=row.saved_id,
        device=device,
        model=row.model,
        preset=row.preset,
        state_read=StateRead(row.state_read),
        read_at=row.read_at,
        received_at=row.received_at,
        reader_id=row.reader_id,
        reader=reader,
        software=row.software,
        trigger=row.trigger,
        minutes_off=row.minutes_off,
        revision=revision,
        readings={alarm: reading for (_, alarm), reading in unpacked.items()},
        verdicts=verdicts,
        origin=Origin(row.origin),
        reader_told=row.reader_told,
        device_clock=row.device_clock,
    )


def first_report(tx: Session, *conditions: Any) -> StoredReport | None:
    return next(iter(reports_where(tx, *conditions, limit=1)), None)
