"""Taking in a file of readings: whole or not at all, unless only its good rows are asked for.

The file is read and judged before anything is locked; what was found then is taken in quickly.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import BinaryIO

from sqlmodel import Session

from app.actions.bulk_reports import store_reports, tell_reports
from app.domain.errors import Conflict, NotNow, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.csv_text import Faults
from app.exchange.judged_files import JudgedFile, judge_file
from app.exchange.known_fleets import KnownFleet
from app.exchange.report_files import Place, ReportFile, fingerprint_of, read_report_file
from app.exchange.report_sources import rows_of
from app.storage import (
    column_maps,
    devices,
    ledger,
    outer_bounds,
    pending_uploads,
    reports,
    revisions,
)
from app.storage.agencies import agency_by_id
from app.storage.devices import LockedDevice
from app.storage.packed_files import packed
from app.storage.report_places import readings_at
from app.storage.uncollected import without_collecting

KEPT = timedelta(hours=1)
HELD_NO_LONGER = "This file is kept no longer, or was taken in already. Choose it again."


@dataclass(frozen=True)
class Taken:
    """How many reports are new and how many were known; the rows that were left out."""

    new: int
    known: int
    readings: int
    refused: int


def hold_upload(tx: Session, *, name: str, content: BinaryIO, by: Person, now: datetime) -> None:
    """Until this person decides, for an hour at most; nothing of it is taken in yet."""
    check_may(by, Deed.UPLOAD_READINGS)
    fingerprint = fingerprint_of(content)
    hold_packed(tx, name=name, fingerprint=fingerprint, content=packed(content), by=by, now=now)


def hold_packed(
    tx: Session, *, name: str, fingerprint: str, content: bytes, by: Person, now: datetime
) -> None:
    """The same of a file that was packed before anything was locked."""
    check_may(by, Deed.UPLOAD_READINGS)
    pending_uploads.hold_upload(
        tx,
        name=name,
        fingerprint=fingerprint,
        content=content,
        of=by,
        now=now,
        expires_at=now + KEPT,
    )


def let_go(tx: Session, *, fingerprint: str, by: Person) -> None:
    """Of this file, if it is still held; nothing of it was taken in."""
    check_may(by, Deed.UPLOAD_READINGS)
    pending_uploads.drop_upload(tx, of=by, only=fingerprint)


def keep_preview(tx: Session, *, fingerprint: str, preview: str, by: Person, now: datetime) -> None:
    """Beside the file that is held, and as long. Raises NotNow where it is held no longer."""
    check_may(by, Deed.UPLOAD_READINGS)
    kept = pending_uploads.set_preview(
        tx, preview, fingerprint=fingerprint, of=by, expires_at=now + KEPT
    )
    if not kept:
        raise NotNow(HELD_NO_LONGER)


def check_columns(tx: Session, *, content: BinaryIO, by: Person) -> None:
    """Of the first row alone. Raises OtherColumns, a Refused, where they are not known."""
    check_may(by, Deed.UPLOAD_READINGS)
    rows_of(content, column_maps.maps_of(tx, by.agency_id), Faults())


def held_upload(tx: Session, *, fingerprint: str, by: Person, now: datetime) -> BinaryIO:
    """`fingerprint` is of the file that was shown."""
    check_may(by, Deed.UPLOAD_READINGS)
    upload = pending_uploads.find_upload(tx, of=by, now=now)
    if upload is None:
        raise NotNow(HELD_NO_LONGER)
    if upload.fingerprint != fingerprint:
        raise Conflict(
            "You chose another file since; look at that one first.",
            theirs=upload.fingerprint,
            yours=fingerprint,
        )
    return upload.content


def take_upload(
    tx: Session,
    *,
    fingerprint: str,
    good_rows: bool,
    by: Person,
    now: datetime,
    read: JudgedFile | None = None,
) -> Taken:
    """`read`: what `read_file` made of it before; it is read again where things have changed."""
    content = held_upload(tx, fingerprint=fingerprint, by=by, now=now)
    pending_uploads.drop_upload(tx, of=by)
    return take_file(tx, content=content, good_rows=good_rows, by=by, now=now, read=read)


@without_collecting()
def read_file(tx: Session, *, content: BinaryIO, by: Person, now: datetime) -> JudgedFile:
    """Changes nothing, and may take its time; Raises Refused where nothing can be read at all."""
    check_may(by, Deed.UPLOAD_READINGS)
    head, known = ledger.head_of(tx, by.agency), _known(tx, by.agency_id)
    fingerprint = fingerprint_of(content)
    file = _beside(tx, read_report_file(content, known, now=now), by=by, now=now)
    return JudgedFile(file, judge_file(file.reports, known), known, fingerprint, head)


@without_collecting()
def take_file(
    tx: Session,
    *,
    content: BinaryIO,
    by: Person,
    now: datetime,
    good_rows: bool = False,
    read: JudgedFile | None = None,
) -> Taken:
    """The same file again changes nothing."""
    check_may(by, Deed.UPLOAD_READINGS)
    found, locked = _still(tx, content, read, by=by, now=now)
    file = found.file
    if file.faults and not good_rows:
        raise Refused(file.told)
    if not file.takes:
        raise Refused.because("there is no row in it that can be taken", column="file")
    taken = Taken(len(file.reports), file.known, file.readings, file.refused)
    if len(file.reports):
        _store(tx, found, locked, taken, by=by, now=now)
    return taken


def _known(tx: Session, agency_id: int) -> KnownFleet:
    return KnownFleet(
        devices.models_of(tx, agency_id),
        revisions.policies_of(tx, agency_id),
        outer_bounds.bounds_versions(tx, agency_id),
        agency_by_id(tx, agency_id).choices,
        column_maps.maps_of(tx, agency_id),
    )


def _beside(tx: Session, file: ReportFile, *, by: Person, now: datetime) -> ReportFile:
    stored = reports.keys_of(
        tx, agency_id=by.agency_id, devices=file.devices, since=file.oldest(now)
    )
    return file.beside(stored | _told_again(tx, file, stored, by)) if stored else file


def _told_again(
    tx: Session, file: ReportFile, stored: Mapping[Place, str], by: Person
) -> dict[Place, str]:
    """What came in another way and says the same, as in a file of readings that was made here."""
    other = [one for one in file.reports if one.place in stored and stored[one.place] != one.key]
    here = readings_at(
        tx,
        agency_id=by.agency_id,
        devices=sorted({one.device for one in other}),
        times=sorted({one.read_at for one in other}),
    )
    return {one.place: one.key for one in other if here.get(one.place) == one.found.readings}


def _still(
    tx: Session, content: BinaryIO, read: JudgedFile | None, *, by: Person, now: datetime
) -> tuple[JudgedFile, dict[str, LockedDevice]]:
    """As it was read, less what came in meanwhile; anew where devices or policies changed.

    The devices are locked first, so that nothing of them comes in between.
    """
    if read is None or not _is_as_known(tx, read, by):
        read = read_file(tx, content=content, by=by, now=now)
    locked = devices.lock_many(tx, agency_id=by.agency_id, tags=read.file.devices)
    if ledger.head_of(tx, by.agency) == read.head:
        return read, locked
    file = _beside(tx, read.file, by=by, now=now)
    if file is not read.file:
        read = replace(read, file=file, judged=judge_file(file.reports, read.known))
    return read, locked


def _is_as_known(tx: Session, read: JudgedFile, by: Person) -> bool:
    same = ledger.head_of(tx, by.agency) == read.head
    return same or read.known == _known(tx, by.agency_id)


def _store(
    tx: Session,
    found: JudgedFile,
    locked: Mapping[str, LockedDevice],
    taken: Taken,
    *,
    by: Person,
    now: datetime,
) -> None:
    rows = {line.number: line.id for line, _ in found.known.policies}
    source = found.fingerprint, found.file.rows.lines
    told = store_reports(
        tx, found.judged, devices=locked, revisions=rows, source=source, by=by, now=now
    )
    tell_reports(tx, told, by=by, now=now)
    ledger.append(
        tx,
        agency=by.agency,
        did="take in a file of readings",
        by=by.username,
        at=now,
        about={"fingerprint": found.fingerprint, **vars(taken)},
    )
