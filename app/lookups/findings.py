from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.errors import NotFound
from app.domain.finding_life import FindingStatus, StoredFinding
from app.domain.findings import Severity
from app.lookups.judged import Line, ReportPage, report_pages
from app.storage import findings as stored
from app.storage import reports

NOT_CLOSED = tuple(status for status in FindingStatus if status is not FindingStatus.CLOSED)


@dataclass(frozen=True)
class FindingPage:
    """`latest` is the report that found it last; `line` its alarm there, signed beside found."""

    finding: StoredFinding
    latest: ReportPage
    overdue: bool

    @property
    def line(self) -> Line:
        return self.latest.line(self.finding.alarm)


def findings(
    tx: Session,
    *,
    agency_id: int,
    now: datetime,
    statuses: Collection[FindingStatus] = NOT_CLOSED,
    severities: Collection[Severity] = tuple(Severity),
    device: str | None = None,
) -> list[FindingPage]:
    """The gravest first, then by what is due first."""
    found = stored.findings_of(
        tx, agency_id, statuses=statuses, severities=severities, device=device
    )
    pages = _pages(tx, agency_id, found, now)
    return sorted(pages, key=lambda page: (page.finding.severity.weight, _due(page.finding)))


def finding(tx: Session, *, agency_id: int, finding_id: int, now: datetime) -> FindingPage:
    found = stored.find_finding(tx, agency_id=agency_id, finding_id=finding_id)
    if found is None:
        raise NotFound("There is no such finding.")
    return _pages(tx, agency_id, [found], now)[0]


def _pages(
    tx: Session, agency_id: int, found: Collection[StoredFinding], now: datetime
) -> list[FindingPage]:
    latest = reports.reports_by_id(tx, sorted({one.report for one in found}))
    pages = {
        page.report.id: page
        for page in report_pages(tx, agency_id=agency_id, reports=latest.values())
    }
    return [
        FindingPage(one, pages[one.report], overdue=one.due_at is not None and one.due_at < now)
        for one in found
    ]


def _due(found: StoredFinding) -> datetime:
    return found.due_at or found.opened_at
