"""What an inspection file holds of one agency, for a period."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.clearances import Clearance
from app.domain.fleet import StoredReport
from app.domain.known_devices import Mark
from app.domain.ledger import Entry
from app.domain.revisions import StoredRevision
from app.domain.waivers import Waiver
from app.lookups.clearances import clearances_of
from app.lookups.measures import MeasuresPage, measures
from app.storage import devices, devices_now, ledger, past_reports, revisions
from app.storage.agencies import agency_by_id
from app.storage.settled_readings import waiting_reports
from app.storage.waivers import waivers_of


@dataclass(frozen=True)
class Inspected:
    """`revisions`: every one that was ever signed, the oldest first. `reports` of the period; a
    look that waits for another one is not among them: whoever looks again must not know it.
    """

    revisions: tuple[StoredRevision, ...]
    waivers: dict[int, tuple[Waiver, ...]]
    marks: tuple[Mark, ...]
    clearances: dict[str, Clearance]
    reports: tuple[StoredReport, ...]
    ledger: tuple[Entry, ...]
    measures: MeasuresPage

    @property
    def head(self) -> str:
        return self.ledger[-1].hash if self.ledger else ""


def inspected(
    tx: Session, *, agency_id: int, since: datetime, until: datetime, now: datetime
) -> Inspected:
    agency = agency_by_id(tx, agency_id)
    signed = [
        found.as_of(now)
        for line in revisions.lines_of(tx, agency_id)
        if line.signed_at is not None
        and (found := revisions.find_revision(tx, agency_id=agency_id, number=line.number))
    ]
    marks = devices_now.marks_of(tx, agency_id)
    tags = [one.tag for one in devices.devices_of(tx, agency_id)]
    read = past_reports.reports_since(tx, agency_id=agency_id, devices=tags, since=since)
    waiting = waiting_reports(tx, [report.id for report in read])
    return Inspected(
        tuple(signed),
        {one.number: waivers_of(tx, one.id) for one in signed},
        tuple(marks),
        clearances_of(tx, agency_id=agency_id, marks=marks, now=now),
        tuple(one for one in read if one.read_at <= until and one.id not in waiting),
        tuple(ledger.entries(tx, agency.key)),
        measures(tx, agency_id=agency_id, now=now, since=since),
    )
