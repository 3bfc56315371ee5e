"""Taking a device out of everybody's hands for as long as what it remembers is needed."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.actions.findings import locked_finding
from app.domain.devices import Device
from app.domain.errors import NotFound, NotNow
from app.domain.finding_events import EventKind, FindingEvent
from app.domain.finding_life import FindingStatus
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.plain_text import line
from app.domain.plain_text import note as plain_note
from app.domain.quarantines import Handover, Quarantine, check_handover, read_fingerprint
from app.storage import findings, ledger, quarantines
from app.storage.devices import device_tagged
from app.storage.finding_events import add_event


@dataclass(frozen=True)
class Passed:
    """Who handed the device to whom, as it was written down."""

    given_by: str
    taken_by: str
    at: datetime
    place: str
    seal: str = ""
    note: str = ""


def place_in_quarantine(
    tx: Session, *, finding_id: int, reason: str, by: Person, now: datetime
) -> None:
    check_may(by, Deed.WORK_FINDING)
    known = findings.find_finding(tx, agency_id=by.agency_id, finding_id=finding_id)
    if known is None:
        raise NotFound("There is no such finding.")
    device = _device(tx, known.device, by)  # before the finding, as whoever takes in a report does
    found = locked_finding(tx, finding_id, by)
    if found.status is FindingStatus.CLOSED:
        raise NotNow("This finding is closed. A device is held for a finding that is not.")
    if quarantines.standing_of(tx, device.id) is not None:
        raise NotNow(f"{device.tag} is in quarantine already.")
    reason = plain_note(reason, column="reason", needed=True)
    quarantines.add_quarantine(
        tx, device_id=device.id, finding_id=found.id, reason=reason, by=by, now=now
    )
    add_event(tx, found.id, FindingEvent(EventKind.HELD, now, by.id, by.name, note=reason))
    _tell(tx, device, "quarantine a device", by=by, now=now, finding=found.id, reason=reason)


def hand_over(tx: Session, *, device: str, passed: Passed, by: Person, now: datetime) -> None:
    check_may(by, Deed.WORK_FINDING)
    held, standing = _standing(tx, device, by)
    link = Handover(
        given_by=line(passed.given_by, column="given_by"),
        taken_by=line(passed.taken_by, column="taken_by"),
        at=passed.at,
        place=line(passed.place, column="place"),
        seal=plain_note(passed.seal, column="seal"),
        note=plain_note(passed.note),
        recorded_by=by.name,
        recorded_at=now,
    )
    check_handover(standing, link.at, now=now)
    quarantines.add_handover(tx, standing.id, link, by=by)
    _tell(
        tx,
        held,
        "hand over a quarantined device",
        by=by,
        now=now,
        given_by=link.given_by,
        taken_by=link.taken_by,
        handed_at=link.at.isoformat(),
        place=link.place,
        seal=link.seal,
    )


def keep_log(
    tx: Session, *, device: str, fingerprint: str, place: str, by: Person, now: datetime
) -> None:
    """Only what proves the file and where it lies: the log holds data of patients."""
    check_may(by, Deed.WORK_FINDING)
    held, standing = _standing(tx, device, by)
    if standing.log is not None:
        raise NotNow(f"The log of {held.tag} is kept already: {standing.log.place}.")
    sha256, place = read_fingerprint(fingerprint), line(place, column="place")
    quarantines.change_quarantine(
        tx, standing.id, log_fingerprint=sha256, log_place=place, log_by=by.id, log_at=now
    )
    _tell(tx, held, "keep the log of a device", by=by, now=now, sha256=sha256, place=place)


def go_on_without_log(tx: Session, *, device: str, reason: str, by: Person, now: datetime) -> None:
    check_may(by, Deed.SKIP_LOG)
    held, standing = _standing(tx, device, by)
    if not standing.blocks_correction:
        raise NotNow(f"Nothing keeps {held.tag} from being corrected.")
    reason = plain_note(reason, column="reason", needed=True)
    quarantines.change_quarantine(
        tx, standing.id, log_waived_by=by.id, log_waived_at=now, log_waived_reason=reason
    )
    _tell(tx, held, "go on without the log of a device", by=by, now=now, reason=reason)


def release_device(tx: Session, *, device: str, reason: str, by: Person, now: datetime) -> None:
    """Before its log is exported only by who may go on without it."""
    check_may(by, Deed.RELEASE_DEVICE)
    held, standing = _standing(tx, device, by)
    if standing.blocks_correction and not may(by, Deed.SKIP_LOG):
        raise NotNow(
            f"The log of {held.tag} is not exported. Export it first, or ask the medical director."
        )
    reason = plain_note(reason, column="reason", needed=True)
    quarantines.change_quarantine(
        tx, standing.id, released_by=by.id, released_at=now, release_reason=reason
    )
    event = FindingEvent(EventKind.RELEASED, now, by.id, by.name, note=reason)
    add_event(tx, standing.finding, event)
    _tell(tx, held, "release a device from quarantine", by=by, now=now, reason=reason)


def _standing(tx: Session, tag: str, by: Person) -> tuple[Device, Quarantine]:
    device = _device(tx, tag, by)
    standing = quarantines.standing_of(tx, device.id)
    if standing is None:
        raise NotNow(f"{tag} is not in quarantine.")
    return device, standing


def _device(tx: Session, tag: str, by: Person) -> Device:
    return device_tagged(tx, agency_id=by.agency_id, tag=tag, lock=True)


def _tell(
    tx: Session, device: Device, did: str, *, by: Person, now: datetime, **about: str | int
) -> None:
    told = {"device": device.tag, **about}
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=told)
