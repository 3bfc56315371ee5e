"""A finding from open to closed; the legal steps are in `app.domain.finding_life`."""

from datetime import datetime

from sqlmodel import Session

from app.domain.device_reports import StateRead
from app.domain.errors import NotFound, NotNow
from app.domain.finding_events import EventKind, FindingEvent, finding_reports, since_opened
from app.domain.finding_life import (
    LOOK_AGAIN,
    LOOK_LAST,
    SLIP,
    FindingStatus,
    Step,
    StoredFinding,
    check_step,
    closes_as_slip,
)
from app.domain.finding_steps import (
    NOTHING,
    StepDetails,
    check_details,
    family,
    why_not_proven,
)
from app.domain.fleet import StoredReport
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import note as plain_note
from app.domain.power_pauses import counts
from app.domain.quarantines import check_may_correct
from app.domain.reading_sessions import ReadingStatus
from app.exchange.stored_profiles import stored_profile
from app.storage import findings, ledger, quarantines, reports, revisions
from app.storage.devices import find_device
from app.storage.disproofs import is_disproved
from app.storage.finding_events import add_event, events_of
from app.storage.reading_sessions import session_of_report


def move_finding(
    tx: Session,
    *,
    finding_id: int,
    to: FindingStatus,
    by: Person,
    now: datetime,
    note: str = "",
    details: StepDetails = NOTHING,
) -> StoredFinding:
    """Verified only by later readings that conform, of another person than the corrector."""
    check_may(by, Deed.WORK_FINDING)
    found = locked_finding(tx, finding_id, by)
    step = _step(tx, found, to, details, by)
    note = plain_note(note, needed=bool(step.ask))
    check_details(found, to, details, note=note)
    if to is FindingStatus.CORRECTED:
        _check_quarantine(tx, found, by)
    report = _proof(tx, found, by) if to is FindingStatus.VERIFIED else None
    _stamp(tx, found, to, note, details, report, by=by, now=now)
    tell(tx, found, f"{step.words} a finding", by=by, now=now, note=note, **_told(details))
    return findings.finding_by_id(tx, finding_id)


def _step(
    tx: Session, found: StoredFinding, to: FindingStatus, details: StepDetails, by: Person
) -> Step:
    """Without mending it is closed only as a reading error that the device itself disproved."""
    if not closes_as_slip(found.status, to, found.kind, details.cause):
        return check_step(found.status, to, found.kind)
    if not is_disproved(tx, by.agency_id, found):
        raise NotNow(
            "A reading error is told by looking again at the device: several looks must bear out "
            "together that it conforms."
        )
    return SLIP


def locked_finding(tx: Session, finding_id: int, by: Person) -> StoredFinding:
    found = findings.lock_finding(tx, agency_id=by.agency_id, finding_id=finding_id)
    if found is None:
        raise NotFound("There is no such finding.")
    return found


def _check_quarantine(tx: Session, found: StoredFinding, by: Person) -> None:
    device = find_device(tx, agency_id=by.agency_id, tag=found.device)
    if device is not None:
        check_may_correct(quarantines.standing_of(tx, device.id))


def _stamp(
    tx: Session,
    found: StoredFinding,
    to: FindingStatus,
    note: str,
    details: StepDetails,
    report: StoredReport | None,
    *,
    by: Person,
    now: datetime,
) -> None:
    values: dict[str, object] = {
        "status": to.value,
        f"{to.value}_by": by.id,
        f"{to.value}_at": now,
        "note": note or found.note,
    }
    values |= {name: value for name, value in _told(details).items() if value}
    if report is not None:
        values["verified_report_id"] = report.id
    if to is FindingStatus.CLOSED:
        values |= {"look_again_at": now + LOOK_AGAIN, "look_last_at": now + LOOK_LAST}
    findings.change_finding(tx, found.id, **values)
    event = FindingEvent(
        kind=EventKind(to.value),
        at=now,
        person_id=by.id,
        name=by.name,
        note=note,
        about=_about(details),
        report=None if report is None else report.id,
    )
    add_event(tx, found.id, event)


def _told(details: StepDetails) -> dict[str, str]:
    return {name: value.value for name, value in vars(details).items() if value is not None}


def _about(details: StepDetails) -> str:
    parts = [] if details.cause is None else [f"cause: {details.cause.words}"]
    if details.heard is not None and details.seen is not None:
        parts.append(f"at the crew's seat heard: {details.heard.words}, seen: {details.seen.words}")
    return "; ".join(parts)


def _proof(tx: Session, found: StoredFinding, by: Person) -> StoredReport:
    """Of every state in which it was found: what holds in one says nothing of the other."""
    events = since_opened(events_of(tx, [found.id])[found.id])
    seen = reports.reports_by_id(tx, finding_reports(events) or [found.opened_by])
    as_found = {report.state_read: report for report in seen.values()}
    proofs = [_proof_in(tx, found, report, by) for report in as_found.values()]
    return max(proofs, key=lambda report: (report.read_at, report.id))


def _proof_in(
    tx: Session, found: StoredFinding, as_found: StoredReport, by: Person
) -> StoredReport:
    if found.corrected is None:
        raise RuntimeError("a finding is corrected before it is verified")
    report = reports.latest_counting(
        tx,
        agency_id=by.agency_id,
        device=found.device,
        preset=found.preset,
        after=found.corrected.at,
        not_by=found.corrected.person_id,
        alarm=found.alarm,
        state_read=as_found.state_read,
    )
    if report is None:
        raise NotNow(
            f"Nobody but {found.corrected.name} has read this alarm of {found.preset} on "
            f"{found.device} blind {_in_state(as_found.state_read)} since it was corrected. "
            "Read it again, as another person."
        )
    if not _counts(tx, report, agency_id=by.agency_id):
        raise NotNow(
            f"The reading of {report.reader} since then was made after so short a pause that the "
            "device may have kept what was set by hand. Leave it off for longer and read it again."
        )
    why = why_not_proven(report, as_found, found.alarm)
    if why:
        raise NotNow(f"The reading of {report.reader} since then {why}.")
    _check_settled(tx, found, report, as_found, agency_id=by.agency_id)
    return report


def _check_settled(
    tx: Session,
    found: StoredFinding,
    report: StoredReport,
    as_found: StoredReport,
    *,
    agency_id: int,
) -> None:
    """One of several looks that may differ proves nothing: what they bear out together does."""
    session = session_of_report(tx, agency_id=agency_id, report_id=report.id)
    if session is None or not session.asked_again.intersection(family(found.alarm)):
        return
    if session.status is not ReadingStatus.SETTLED or session.telling is None:
        raise NotNow(
            "Somebody was to look again at what was read since then, and that is not settled. "
            "Look again, or read it anew."
        )
    why = why_not_proven(reports.report_by_id(tx, session.telling), as_found, found.alarm)
    if why:
        raise NotNow(f"What all looks at it since then bear out {why}.")


def _in_state(state: StateRead) -> str:
    return "at power-on" if state is StateRead.POWER_ON else "after choosing the category"


def _counts(tx: Session, report: StoredReport, *, agency_id: int) -> bool:
    if report.revision is None:
        return report.state_read.counts
    documents = revisions.documents_of(tx, agency_id=agency_id, numbers=[report.revision])
    model = stored_profile(documents[report.revision]).models.get(report.model)
    retention = None if model is None else model.retention_min
    return counts(report.state_read, report.minutes_off, retention)


def tell(
    tx: Session, found: StoredFinding, did: str, *, by: Person, now: datetime, **more: str
) -> None:
    about = {
        "finding": found.id,
        "device": found.device,
        "preset": found.preset,
        "alarm": found.alarm,
        **more,
    }
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)
