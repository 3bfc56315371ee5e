"""Where a stored report came from: its input as it came, and the place in the file."""

import json
import zlib
from dataclasses import dataclass

from sqlmodel import Session, col, select

from app.domain.new_reports import NewReport
from app.storage.devices import DeviceRow
from app.storage.report_inputs import ReportInputRow, input_text
from app.storage.reports import ReportRow
from app.storage.sent_files import SentFileRow


@dataclass(frozen=True)
class ReportOrigin:
    """`text` is JSON. `fingerprint` of the file and `lines` in it, None where it came by itself or
    before that was kept."""

    text: str
    fingerprint: str | None
    lines: str | None


def is_same_report(tx: Session, report_id: int, report: NewReport) -> bool:
    return report_origin(tx, report_id).text == input_text(report)


def report_origin(tx: Session, report_id: int) -> ReportOrigin:
    wanted = (
        select(ReportRow, DeviceRow.tag, ReportInputRow.content, SentFileRow.fingerprint)
        .join(DeviceRow, col(ReportRow.device_id) == col(DeviceRow.id))
        .outerjoin(ReportInputRow, col(ReportRow.input_id) == col(ReportInputRow.id))
        .outerjoin(SentFileRow, col(ReportRow.file_id) == col(SentFileRow.id))
        .where(col(ReportRow.id) == report_id)
    )
    row, tag, content, fingerprint = tx.exec(wanted).one()
    if row.raw is not None:
        text = zlib.decompress(row.raw).decode()
    else:
        text = _put_together(row, tag, zlib.decompress(content).decode())
    return ReportOrigin(text, fingerprint, row.file_lines)


def _put_together(row: ReportRow, tag: str, readings: str) -> str:
    """As `input_text` writes a report that came by itself; a tag never changes."""
    given = {
        "device": tag,
        "device_clock": row.device_clock,
        "idempotency_key": row.idempotency_key,
        "minutes_off": row.minutes_off,
        "origin": row.origin,
        "preset": row.preset,
        "read_at": row.read_at.isoformat(),
        "reader": row.reader_told,
        "readings": json.loads(readings),
        "software": row.software,
        "state_read": row.state_read,
        "trigger": row.trigger,
    }
    return json.dumps(given, sort_keys=True)
