"""One finding with everything that happened to it, and what it may mean for other devices."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session

from app.domain.acceptances import end_of
from app.domain.device_reports import NotRead
from app.domain.errors import NotFound
from app.domain.exposure import Exposure
from app.domain.finding_events import FindingEvent, finding_reports, since_opened
from app.domain.finding_life import FindingStatus, StoredFinding
from app.domain.fleet import StoredReport, was_read
from app.domain.local_days import local_day
from app.domain.people import Person
from app.domain.permissions import Deed, may
from app.domain.quarantines import Quarantine
from app.domain.siblings import Sibling
from app.lookups.findings import FindingPage
from app.lookups.findings import finding as finding_page
from app.lookups.judged import ReportPage, report_pages
from app.storage import finding_ties as ties
from app.storage import findings, quarantines, reports
from app.storage.agencies import agency_by_id
from app.storage.devices import find_device
from app.storage.disproofs import is_disproved
from app.storage.finding_events import events_of
from app.storage.people import people_of


@dataclass(frozen=True)
class FindingStory:
    """`as_left`: what the corrector read after it; `proof`: what verified it. None: nothing yet.

    `recurred_as`: the finding that was opened when it came back after it had been closed.
    `able`: who could own it. `disproved`: further looks at the device did not bear it out.
    """

    page: FindingPage
    events: tuple[FindingEvent, ...]
    as_found: ReportPage
    as_left: ReportPage | None
    proof: ReportPage | None
    exposure: Exposure
    quarantine: Quarantine | None
    recurred_as: int | None
    able: tuple[Person, ...]
    disproved: bool = False


def finding_story(tx: Session, *, agency_id: int, finding_id: int, now: datetime) -> FindingStory:
    page = finding_page(tx, agency_id=agency_id, finding_id=finding_id, now=now)
    found = page.finding
    events = events_of(tx, [finding_id])[finding_id]
    as_found = _as_found(tx, found, events)
    as_left = _as_left(tx, agency_id, found, as_found)
    proof = None if found.verified_by_report is None else found.verified_by_report
    wanted = {as_found.id, *([as_left.id] if as_left else []), *([proof] if proof else [])}
    pages = _pages(tx, agency_id, sorted(wanted))
    return FindingStory(
        page=page,
        events=tuple(events),
        as_found=pages[as_found.id],
        as_left=None if as_left is None else pages[as_left.id],
        proof=None if proof is None else pages[proof],
        exposure=_exposure(tx, agency_id, found, as_found),
        quarantine=_quarantine(tx, agency_id, found.device),
        recurred_as=findings.recurrence_of(tx, finding_id),
        able=tuple(one for one in people_of(tx, agency_id) if may(one, Deed.WORK_FINDING)),
        disproved=found.status is not FindingStatus.CLOSED and is_disproved(tx, agency_id, found),
    )


def _as_found(tx: Session, found: StoredFinding, events: Sequence[FindingEvent]) -> StoredReport:
    """Since it was last opened; the first one tells how it was before anybody touched it."""
    first = (finding_reports(since_opened(events)) or [found.opened_by])[0]
    return reports.report_by_id(tx, first)


def _as_left(
    tx: Session, agency_id: int, found: StoredFinding, as_found: StoredReport
) -> StoredReport | None:
    if found.corrected is None:
        return None
    until = None if found.verified is None else found.verified.at
    read = ties.readings_by(
        tx, agency_id, as_found, person_id=found.corrected.person_id, until=until
    )
    return next((one for one in read if _read(one, found.alarm)), None)


def _read(report: StoredReport, alarm: str) -> bool:
    return was_read(report.readings.get(alarm, NotRead()))


def _pages(tx: Session, agency_id: int, numbers: Sequence[int]) -> dict[int, ReportPage]:
    found = reports.reports_by_id(tx, numbers)
    judged = report_pages(tx, agency_id=agency_id, reports=found.values())
    return {page.report.id: page for page in judged}


def _exposure(
    tx: Session, agency_id: int, found: StoredFinding, as_found: StoredReport
) -> Exposure:
    right = _last_right(tx, agency_id, found, as_found)
    return Exposure(
        found_at=as_found.read_at,
        since=None if right is None else right.read_at,
        report=None if right is None else right.id,
        until=None if found.contained is None else found.contained.at,
    )


def _last_right(
    tx: Session, agency_id: int, found: StoredFinding, as_found: StoredReport
) -> StoredReport | None:
    """The last reading of this alarm, in that preset and state, that conformed."""
    before = ties.readings_before(tx, agency_id, as_found)
    judged = report_pages(tx, agency_id=agency_id, reports=before) if before else []
    counting = {page.report.id for page in judged if page.counts}
    return next(
        (
            one
            for one in before
            if _read(one, found.alarm)
            and one.id in counting
            and one.revision is not None
            and found.alarm not in one.verdicts
        ),
        None,
    )


def _quarantine(tx: Session, agency_id: int, tag: str) -> Quarantine | None:
    device = find_device(tx, agency_id=agency_id, tag=tag)
    return None if device is None else quarantines.standing_of(tx, device.id)


@dataclass(frozen=True)
class SiblingsAtRisk:
    finding: StoredFinding
    as_found: StoredReport
    siblings: tuple[Sibling, ...]

    @property
    def cut(self) -> bool:
        return len(self.siblings) >= ties.MOST_SIBLINGS


def siblings_at_risk(tx: Session, *, agency_id: int, finding_id: int) -> SiblingsAtRisk:
    """Devices that were not read since, and share something with the one found astray."""
    found = findings.find_finding(tx, agency_id=agency_id, finding_id=finding_id)
    if found is None:
        raise NotFound("There is no such finding.")
    as_found = _as_found(tx, found, events_of(tx, [finding_id])[finding_id])
    right = _last_right(tx, agency_id, found, as_found)
    zone = agency_by_id(tx, agency_id).time_zone
    siblings = ties.siblings_of(
        tx,
        agency_id=agency_id,
        as_found=as_found,
        station=found.station,
        corrector=ties.last_corrector(
            tx, device=found.device, agency_id=agency_id, before=as_found.read_at
        ),
        reader=_day_of(right, zone) if right is not None and right.origin.blind else None,
    )
    return SiblingsAtRisk(found, as_found, tuple(siblings))


def _day_of(report: StoredReport, zone: str) -> tuple[int, datetime, datetime]:
    day = local_day(report.read_at, zone)
    return report.reader_id, end_of(day - timedelta(days=1), zone), end_of(day, zone)
