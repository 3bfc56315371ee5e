"""What gives a device its clearance back: a conforming blind reading, or the director's word."""

from datetime import date, datetime

from sqlmodel import Session

from app.domain.clearances import Cause, ClearanceState, proof_of
from app.domain.device_reports import Origin
from app.domain.devices import Device
from app.domain.errors import NotNow, Refused
from app.domain.fleet import StoredReport
from app.domain.local_days import local_day
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import note
from app.domain.rendering import rendered_presets
from app.exchange.stored_profiles import stored_profile
from app.storage import clearances, devices, ledger
from app.storage.agencies import agency_by_id
from app.storage.revisions import documents_of
from app.storage.settled_readings import lookers_of

LONGEST_DAYS = 90


def clear_if_proven(tx: Session, device: Device, report: StoredReport, *, agency_id: int) -> None:
    """After a blind reading, or what several looks bear out: whether it was the last that was
    missing. The ledger has it already, as the reading."""
    if report.origin not in (Origin.FORM, Origin.SETTLED) or report.revision is None:
        return
    cause = clearances.cause_of(tx, agency_id, device.id)
    if cause is not None and cause.stands and report.read_at > cause.at:
        _clear(tx, device, cause, revision=report.revision, agency_id=agency_id)


def _clear(tx: Session, device: Device, cause: Cause, *, revision: int, agency_id: int) -> None:
    document = documents_of(tx, agency_id=agency_id, numbers=[revision])[revision]
    profile = stored_profile(document)
    read = clearances.readings_after(tx, device.id, cause.at)
    proof = proof_of(
        cause,
        read,
        lookers_of(tx, [one.id for one in read if one.origin is Origin.SETTLED]),
        rendered_presets(profile, device.model),
        revision=revision,
        choices=agency_by_id(tx, agency_id).choices,
        options=profile.options,
    )
    if proof is not None:
        clearances.mark_cleared(tx, device.id, at=proof.read_at)


def override_clearance(
    tx: Session,
    *,
    tag: str,
    to: ClearanceState,
    reason: str,
    until: date,
    by: Person,
    now: datetime,
) -> None:
    """For what stands now, until the end of that day; what comes later is not covered."""
    check_may(by, Deed.OVERRIDE_CLEARANCE)
    device = _device(tx, tag, by)
    reason = note(reason, column="reason", needed=True)
    if to is ClearanceState.NOT_CLEARED:
        raise Refused.because("choose one", column="to")
    _check_day(until, local_day(now, agency_by_id(tx, by.agency_id).time_zone))
    clearances.add_override(tx, device.id, to=to, reason=reason, until=until, by=by, now=now)
    about = {"device": tag, "to": to.value, "reason": reason, "until": until.isoformat()}
    _tell(tx, "override a clearance", about, by=by, now=now)


def _check_day(until: date, today: date) -> None:
    if not 0 <= (until - today).days <= LONGEST_DAYS:
        told = f"choose a day from today to {LONGEST_DAYS} days from now"
        raise Refused.because(told, column="until", value=until.isoformat())


def end_override(tx: Session, *, tag: str, by: Person, now: datetime) -> None:
    check_may(by, Deed.OVERRIDE_CLEARANCE)
    device = _device(tx, tag, by)
    if not clearances.end_override(tx, device.id, now=now):
        raise NotNow(f"Nobody has overridden the clearance of {tag}.")
    _tell(tx, "take back an override", {"device": tag}, by=by, now=now)


def _device(tx: Session, tag: str, by: Person) -> Device:
    return devices.device_tagged(tx, agency_id=by.agency_id, tag=tag, lock=True)


def _tell(tx: Session, did: str, about: dict[str, str], *, by: Person, now: datetime) -> None:
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)
