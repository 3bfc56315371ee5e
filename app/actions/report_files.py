"""Taking in a file of readings: whole or not at all, unless only its good rows are asked for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session

from app.actions.reports import checked, ruling_at, store_report, tell_report
from app.domain.errors import Conflict, NotNow, Refused
from app.domain.fleet import StoredReport
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.report_files import (
    FileReport,
    KnownFleet,
    ReportFile,
    fingerprint_of,
    read_report_file,
)
from app.storage import devices, ledger, pending_uploads, reports, revisions
from app.storage.pending_uploads import PendingUpload

KEPT = timedelta(hours=1)


@dataclass(frozen=True)
class Taken:
    """How many reports are new and how many were known; the rows that were left out."""

    new: int
    known: int
    readings: int
    refused: int


def hold_upload(tx: Session, *, name: str, content: bytes, by: Person, now: datetime) -> None:
    """Until this person decides, for an hour at most; nothing of it is taken in yet."""
    check_may(by, Deed.UPLOAD_READINGS)
    upload = PendingUpload(name, fingerprint_of(content), content)
    pending_uploads.hold_upload(tx, upload, of=by, now=now, expires_at=now + KEPT)


def take_upload(
    tx: Session, *, fingerprint: str, good_rows: bool, by: Person, now: datetime
) -> Taken:
    """`fingerprint` is of the file that was shown."""
    check_may(by, Deed.UPLOAD_READINGS)
    upload = pending_uploads.find_upload(tx, of=by, now=now)
    if upload is None:
        raise NotNow("This file is kept no longer, or was taken in already. Choose it again.")
    if upload.fingerprint != fingerprint:
        raise Conflict(
            "You chose another file since; look at that one first.",
            theirs=upload.fingerprint,
            yours=fingerprint,
        )
    pending_uploads.drop_upload(tx, of=by)
    return take_file(tx, content=upload.content, good_rows=good_rows, by=by, now=now)


def take_file(
    tx: Session, *, content: bytes, by: Person, now: datetime, good_rows: bool = False
) -> Taken:
    """The same file again changes nothing."""
    check_may(by, Deed.UPLOAD_READINGS)
    found = _read(tx, content, by=by, now=now)
    if found.faults and not good_rows:
        raise Refused(found.told)
    if not found.takes:
        raise Refused.because("there is no row in it that can be taken", column="file")
    stored = _store(tx, found.reports, by=by, now=now)
    taken = Taken(len(stored), found.known, found.readings, found.refused)
    if stored:
        _tell(tx, stored, taken, fingerprint_of(content), by=by, now=now)
    return taken


def _read(tx: Session, content: bytes, *, by: Person, now: datetime) -> ReportFile:
    known = KnownFleet(devices.models_of(tx, by.agency_id), revisions.policies_of(tx, by.agency_id))
    found = read_report_file(content, known, now=now)
    devices.lock_devices(tx, agency_id=by.agency_id, tags=found.devices)
    stored = reports.keys_of(
        tx, agency_id=by.agency_id, devices=found.devices, since=found.oldest(now)
    )
    return found.beside(stored)


def _store(
    tx: Session, new: Sequence[FileReport], *, by: Person, now: datetime
) -> list[StoredReport]:
    """In the order in which they were read."""
    reports_in_order = sorted((one.report for one in new), key=lambda report: report.read_at)
    tags = {report.device for report in reports_in_order}
    known = devices.lock_devices(tx, agency_id=by.agency_id, tags=tags)
    rulings = {
        at: ruling_at(tx, agency_id=by.agency_id, at=at)
        for at in {report.read_at for report in reports_in_order}
    }
    return [
        store_report(
            tx,
            known[report.device],
            checked(report, now=now),
            rulings[report.read_at],
            by=by,
            now=now,
        )
        for report in reports_in_order
    ]


def _tell(
    tx: Session,
    stored: Sequence[StoredReport],
    taken: Taken,
    fingerprint: str,
    *,
    by: Person,
    now: datetime,
) -> None:
    for report in stored:
        tell_report(tx, report, by=by, now=now)
    about = {"fingerprint": fingerprint, **vars(taken)}
    ledger.append(
        tx, agency=by.agency, did="take in a file of readings", by=by.username, at=now, about=about
    )
