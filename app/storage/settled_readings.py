"""Which reports tell something by themselves, and what looking again brought."""

from collections import defaultdict
from collections.abc import Collection
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy import ColumnElement, func
from sqlmodel import Session, col, select

from app.domain.device_reports import NotRead, Reading
from app.domain.double_reading import Rereading
from app.domain.findings import Severity
from app.domain.reading_sessions import ReadingSession, ReadingStatus
from app.storage.base import batches
from app.storage.reading_sessions import (
    ReadingLookRow,
    ReadingSessionRow,
    sessions_by_id,
)
from app.storage.reports import ReportRow, report_by_id


def waiting_reports(tx: Session, report_ids: Collection[int]) -> set[int]:
    """Looks of readings that are not settled yet: what they found is not to be told."""
    look, row = ReadingLookRow, ReadingSessionRow
    waiting: set[int] = set()
    for some in batches(sorted(report_ids)):
        wanted = (
            select(look.report_id)
            .join(row, col(look.session_id) == col(row.id))
            .where(col(look.report_id).in_(some), row.status == ReadingStatus.WAITING.value)
        )
        waiting.update(number for number in tx.exec(wanted) if number is not None)
    return waiting


def firm_readings(tx: Session, report_id: int) -> dict[str, Reading]:
    """Of a look that waits for another one, what that one is about counts as not read."""
    report = report_by_id(tx, report_id)
    if not waiting_reports(tx, [report_id]):
        return dict(report.readings)
    off = [alarm for alarm, (_, how) in report.verdicts.items() if how is Severity.OFF_PROTOCOL]
    return {**report.readings, **dict.fromkeys(off, NotRead())}


def tells() -> ColumnElement[bool]:
    """Of a report: it says by itself what the device holds. Of several looks only what they bear
    out does, and an unsafe first one until then."""
    look, row = ReadingLookRow, ReadingSessionRow
    one_of_several = select(look.number).where(look.report_id == ReportRow.id).exists()
    told = select(row.id).where(row.telling_report_id == ReportRow.id).exists()
    return sa.or_(~one_of_several, told)


def lookers_of(tx: Session, report_ids: Collection[int]) -> dict[int, set[int]]:
    """By report everybody whose looks it settles."""
    look, row = ReadingLookRow, ReadingSessionRow
    wanted = (
        sa.select(col(row.telling_report_id), col(ReportRow.reader_id))
        .join(look, col(look.session_id) == col(row.id))
        .join(ReportRow, col(look.report_id) == col(ReportRow.id))
        .where(col(row.telling_report_id).in_(report_ids))
    )
    found: dict[int, set[int]] = defaultdict(set)
    for number, reader in tx.execute(wanted):
        found[number].add(reader)
    return found


def counted_since(
    tx: Session, agency_id: int, since: datetime, *, most: int
) -> list[tuple[ReadingSession, Rereading]]:
    """Readings begun since then in which something was looked at again, the latest first."""
    row = ReadingSessionRow
    wanted = (
        select(row)
        .where(
            row.agency_id == agency_id,
            row.opened_at >= since,
            sa.or_(col(row.flags) > 0, col(row.compared) > 0),
        )
        .order_by(col(row.opened_at).desc(), col(row.id).desc())
        .limit(most)
    )
    counts = {
        one.saved_id: Rereading(one.flags, one.confirmed, one.compared, one.disagreed)
        for one in tx.exec(wanted)
    }
    found = {one.id: one for one in sessions_by_id(tx, list(counts))}
    return [(found[number], counted) for number, counted in counts.items()]


def rereadings_since(tx: Session, agency_id: int, since: datetime) -> Rereading:
    """All of them together, of the readings begun since then."""
    row = ReadingSessionRow
    counts = (row.flags, row.confirmed, row.compared, row.disagreed)
    wanted = sa.select(*(func.coalesce(func.sum(col(count)), 0) for count in counts))
    here = col(row.agency_id) == agency_id, col(row.opened_at) >= since
    return Rereading(*(int(count) for count in tx.execute(wanted.where(*here)).one()))
