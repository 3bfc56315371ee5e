"""A finding from open to closed; the legal steps are in `app.domain.finding_life`."""

from datetime import datetime

from sqlmodel import Session

from app.domain.errors import NotFound, NotNow
from app.domain.finding_life import FindingStatus, StoredFinding, check_step
from app.domain.fleet import StoredReport, was_read
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import note as plain_note
from app.domain.power_pauses import counts
from app.exchange.stored_profiles import stored_profile
from app.storage import findings, ledger, reports, revisions


def move_finding(
    tx: Session, *, finding_id: int, to: FindingStatus, by: Person, now: datetime, note: str = ""
) -> StoredFinding:
    """Verified only by a later reading that conforms, of another person than the corrector."""
    check_may(by, Deed.WORK_FINDING)
    found = findings.lock_finding(tx, agency_id=by.agency_id, finding_id=finding_id)
    if found is None:
        raise NotFound("There is no such finding.")
    step = check_step(found.status, to)
    note = plain_note(note, needed=bool(step.ask))
    report = _proof(tx, found, by) if to is FindingStatus.VERIFIED else None
    findings.stamp_finding(
        tx,
        found,
        status=to,
        note=note,
        by=by,
        now=now,
        report_id=None if report is None else report.id,
    )
    _tell(tx, found, step.words, note=note, by=by, now=now)
    return findings.finding_by_id(tx, finding_id)


def _proof(tx: Session, found: StoredFinding, by: Person) -> StoredReport:
    if found.corrected is None:
        raise RuntimeError("a finding is corrected before it is verified")
    report = reports.latest_counting(
        tx,
        agency_id=by.agency_id,
        device=found.device,
        preset=found.preset,
        after=found.corrected.at,
        not_by=found.corrected.person_id,
    )
    if report is None:
        raise NotNow(
            f"Nobody but {found.corrected.name} has read {found.preset} of {found.device} "
            "since it was corrected. Read it again, as another person."
        )
    if not _counts(tx, report, agency_id=by.agency_id):
        raise NotNow(
            f"The reading of {report.reader} since then was made after so short a pause that the "
            "device may have kept what was set by hand. Leave it off for longer and read it again."
        )
    if not _conforms(report, found.alarm):
        raise NotNow(f"The reading of {report.reader} since then does not show that it conforms.")
    return report


def _counts(tx: Session, report: StoredReport, *, agency_id: int) -> bool:
    if report.revision is None:
        return report.state_read.counts
    documents = revisions.documents_of(tx, agency_id=agency_id, numbers=[report.revision])
    model = stored_profile(documents[report.revision]).models.get(report.model)
    retention = None if model is None else model.retention_min
    return counts(report.state_read, report.minutes_off, retention)


def _conforms(report: StoredReport, alarm: str) -> bool:
    read = alarm in report.readings and was_read(report.readings[alarm])
    return read and report.revision is not None and alarm not in report.verdicts


def _tell(
    tx: Session, found: StoredFinding, did: str, *, note: str, by: Person, now: datetime
) -> None:
    about = {
        "finding": found.id,
        "device": found.device,
        "preset": found.preset,
        "alarm": found.alarm,
        "note": note,
    }
    ledger.append(tx, agency=by.agency, did=f"{did} a finding", by=by.username, at=now, about=about)
