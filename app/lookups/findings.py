from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.errors import NotFound
from app.domain.finding_filters import NOT_CLOSED, FindingFilter
from app.domain.finding_life import FindingStatus, StoredFinding
from app.domain.findings import Severity
from app.lookups.judged import Line, ReportPage, report_pages
from app.storage import finding_lists as lists
from app.storage import findings as stored
from app.storage import reports
from app.storage.base import batches
from app.storage.finding_lists import FindingCounts, FindingPlaces

PAGE = 50
_REPORTS = 200


@dataclass(frozen=True)
class FindingPage:
    """`latest` is the report that found it last; `line` its alarm there, signed beside found."""

    finding: StoredFinding
    latest: ReportPage
    overdue: bool

    @property
    def line(self) -> Line:
        return self.latest.line(self.finding.alarm)


@dataclass(frozen=True)
class FindingList:
    """One page of `pages`; `counts` of everything that was asked for. `owners`: id → name."""

    findings: tuple[FindingPage, ...]
    counts: FindingCounts
    page: int
    pages: int
    places: FindingPlaces
    owners: dict[int, str]


def finding_list(
    tx: Session, *, agency_id: int, wanted: FindingFilter, now: datetime, page: int = 1
) -> FindingList:
    """The gravest first, then by what is due first; a page beyond the last is the last."""
    counts = lists.count_findings(tx, agency_id, wanted, now=now)
    pages = max(1, -(-counts.total // PAGE))
    here = min(max(page, 1), pages)
    part = (PAGE, (here - 1) * PAGE)
    found = lists.findings_of(tx, agency_id, wanted, now=now, page=part)
    return FindingList(
        findings=tuple(_pages(tx, agency_id, found, now)),
        counts=counts,
        page=here,
        pages=pages,
        places=lists.places_of(tx, agency_id),
        owners=lists.owners_of(tx, agency_id),
    )


def findings(
    tx: Session,
    *,
    agency_id: int,
    now: datetime,
    statuses: Collection[FindingStatus] = NOT_CLOSED,
    severities: Collection[Severity] = tuple(Severity),
    device: str | None = None,
) -> list[FindingPage]:
    """All of them in one; the gravest first, then by what is due first."""
    wanted = FindingFilter(
        statuses=tuple(statuses), severities=tuple(severities), device=device or ""
    )
    return findings_wanted(tx, agency_id=agency_id, wanted=wanted, now=now)


def findings_wanted(
    tx: Session, *, agency_id: int, wanted: FindingFilter, now: datetime
) -> list[FindingPage]:
    return _pages(tx, agency_id, lists.findings_of(tx, agency_id, wanted, now=now), now)


def finding(tx: Session, *, agency_id: int, finding_id: int, now: datetime) -> FindingPage:
    found = stored.find_finding(tx, agency_id=agency_id, finding_id=finding_id)
    if found is None:
        raise NotFound("There is no such finding.")
    return _pages(tx, agency_id, [found], now)[0]


def _pages(
    tx: Session, agency_id: int, found: Collection[StoredFinding], now: datetime
) -> list[FindingPage]:
    pages: dict[int, ReportPage] = {}
    for some in batches(sorted({one.report for one in found}), _REPORTS):
        latest = reports.reports_by_id(tx, some)
        judged = report_pages(tx, agency_id=agency_id, reports=latest.values())
        pages |= {page.report.id: page for page in judged}
    return [FindingPage(one, pages[one.report], overdue=one.overdue(now)) for one in found]
