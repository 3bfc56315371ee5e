"""Findings of a first look that further looks at the device did not bear out."""

from sqlmodel import Session

from app.domain.device_reports import NotRead
from app.domain.finding_events import finding_reports, since_opened
from app.domain.finding_life import StoredFinding
from app.domain.fleet import was_read
from app.domain.reading_sessions import ReadingStatus
from app.storage.finding_events import events_of
from app.storage.reading_sessions import session_of_report
from app.storage.reports import report_by_id


def is_disproved(tx: Session, agency_id: int, found: StoredFinding) -> bool:
    """Each report that found it is one look of several, and all of them together bear out that the
    alarm conforms."""
    events = since_opened(events_of(tx, [found.id])[found.id])
    reports = finding_reports(events) or [found.opened_by]
    return all(_is_slip(tx, agency_id, found.alarm, number) for number in reports)


def _is_slip(tx: Session, agency_id: int, alarm: str, number: int) -> bool:
    session = session_of_report(tx, agency_id=agency_id, report_id=number)
    if session is None or session.status is not ReadingStatus.SETTLED or session.telling is None:
        return False
    settled = report_by_id(tx, session.telling)
    return was_read(settled.readings.get(alarm, NotRead())) and alarm not in settled.verdicts
