"""Taking in what was read on a device: judged at once, by the revision in force at the time.

The outer bounds are those in force at that time, too.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from sqlmodel import Session

from app.domain.device_reports import Reading
from app.domain.devices import Device
from app.domain.errors import Conflict, NotFound, Refused
from app.domain.finding_life import is_recurrence
from app.domain.findings import Severity
from app.domain.fleet import Judgement, StoredReport, judge
from app.domain.known_devices import known_after
from app.domain.new_reports import NewReport, check_report
from app.domain.outer_bounds import OuterBounds
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line, note
from app.domain.revisions import StoredRevision
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.storage import devices, devices_now, findings, ledger, reports, revisions
from app.storage.outer_bounds import bounds_version_in_force
from app.storage.reports import Verdict


def record_report(tx: Session, *, report: NewReport, by: Person, now: datetime) -> StoredReport:
    """The same report again, by its idempotency key, changes nothing and gives the first one."""
    check_may(by, Deed.READ_DEVICE)
    report = checked(report, now=now)
    device = devices.lock_device(tx, agency_id=by.agency_id, tag=report.device)
    if device is None:
        raise NotFound(f"There is no device {report.device}.")
    key = report.idempotency_key
    earlier = reports.report_with_key(tx, agency_id=by.agency_id, key=key)
    if earlier is not None:
        return _same(tx, earlier, report)
    _check_only_one(tx, device, report)
    ruling = ruling_at(tx, agency_id=by.agency_id, at=report.read_at)
    stored = store_report(tx, device, report, ruling, by=by, now=now)
    tell_report(tx, stored, by=by, now=now)
    return stored


def checked(report: NewReport, *, now: datetime) -> NewReport:
    """As it can be kept. Raises Refused with everything that is wrong."""
    tidy = replace(
        report,
        preset=line(report.preset, column="preset"),
        idempotency_key=line(report.idempotency_key, column="idempotency_key"),
        software=note(report.software, column="software"),
        trigger=note(report.trigger, column="trigger"),
        reader=note(report.reader, column="reader"),
        device_clock=note(report.device_clock, column="device_clock"),
    )
    check_report(tidy, now=now)
    return tidy


def _same(tx: Session, earlier: StoredReport, report: NewReport) -> StoredReport:
    if not reports.is_same_report(tx, earlier.id, report):
        raise Conflict(
            "Another report was sent with this idempotency key.", theirs=earlier, yours=report
        )
    return earlier


def _check_only_one(tx: Session, device: Device, report: NewReport) -> None:
    twice = reports.report_of_that_time(tx, device, report)
    if twice is not None:
        raise Conflict(
            f"{device.tag} has a report of {report.preset} at that time already.",
            theirs=twice,
            yours=report,
        )


@dataclass(frozen=True)
class Ruling:
    """What judged devices at some time."""

    revision: StoredRevision | None
    bounds: OuterBounds


def ruling_at(tx: Session, *, agency_id: int, at: datetime) -> Ruling:
    return Ruling(
        revisions.revision_in_force(tx, agency_id=agency_id, at=at),
        stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=at)),
    )


def store_report(
    tx: Session, device: Device, report: NewReport, ruling: Ruling, *, by: Person, now: datetime
) -> StoredReport:
    """Judged, with what follows from it for the device; the ledger is left to the caller."""
    verdict = _judged(device, report, ruling)
    number = reports.add_report(
        tx,
        agency_id=by.agency_id,
        device=device,
        report=report,
        verdict=verdict,
        by=by,
        now=now,
    )
    stored = reports.report_by_id(tx, number)
    _take_note(tx, device, stored, verdict.judgement, by=by, now=now)
    return stored


def _judged(device: Device, report: NewReport, ruling: Ruling) -> Verdict:
    revision = ruling.revision
    if revision is None:
        return Verdict(None, Judgement())
    try:
        judgement = judge(
            stored_profile(revision.document),
            model=device.model,
            preset=report.preset,
            state_read=report.state_read,
            readings=report.readings,
            minutes_off=report.minutes_off,
            bounds=ruling.bounds,
        )
    except KeyError:
        raise Refused.because(
            f"{device.model} has no such preset in revision {revision.number}",
            column="preset",
            value=report.preset,
        ) from None
    return Verdict(revision.id, judgement)


def _take_note(
    tx: Session,
    device: Device,
    report: StoredReport,
    judgement: Judgement,
    *,
    by: Person,
    now: datetime,
) -> None:
    """An older report than the one known, or one of a device in use, leaves all this alone."""

    def readings_of(number: int) -> Mapping[str, Reading]:
        return reports.report_by_id(tx, number).readings

    after = known_after(devices_now.device_now(tx, device.id), report, judgement, readings_of)
    if after is None:
        return
    devices_now.save_device_now(tx, device, after, agency_id=by.agency_id)
    known = {
        found.alarm: found
        for found in findings.findings_not_closed(tx, device)
        if found.preset == report.preset
    }
    for alarm, (_, severity) in report.verdicts.items():
        if severity is Severity.NOTE:
            continue
        if alarm in known:
            again = is_recurrence(known[alarm], report.read_at)
            findings.refresh_finding(tx, known[alarm], report=report, reopen=again)
        else:
            findings.open_finding(
                tx, agency_id=by.agency_id, device=device, report=report, alarm=alarm, now=now
            )


def tell_report(tx: Session, report: StoredReport, *, by: Person, now: datetime) -> None:
    about = {
        "report": report.id,
        "device": report.device,
        "preset": report.preset,
        "state_read": report.state_read.value,
        "read_at": report.read_at.isoformat(),
        "revision": report.revision,
        "deviations": {
            alarm: [direction.value, severity.value]
            for alarm, (direction, severity) in report.verdicts.items()
        },
    }
    ledger.append(tx, agency=by.agency, did="read a device", by=by.username, at=now, about=about)
