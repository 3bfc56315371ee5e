"""Shift checks: taken once however often they are sent, and what they found put right."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, replace
from datetime import datetime

from sqlmodel import Session

from app.actions.looks import LookTaken, lock_look
from app.domain.devices import Device
from app.domain.double_reading import Dice, NextLook
from app.domain.errors import Conflict, NotAllowed, NotFound, NotNow
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line, note
from app.domain.profiles import Profile
from app.domain.reading_sessions import NewReading
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.shift_checks import (
    CrewFound,
    NewShiftCheck,
    ShiftCheck,
    Weighed,
    check_new,
    found_by_crew,
)
from app.domain.triggers import Trigger
from app.exchange.stored_profiles import stored_profile
from app.storage import devices, ledger, revisions
from app.storage import reading_sessions as sessions
from app.storage import shift_checks as checks
from app.storage.answered_requests import alone

_NOT_ASKED = "not asked"


def take_check(
    tx: Session, *, new: NewShiftCheck, dice: Dice, by: Person, now: datetime
) -> ShiftCheck:
    """Stored and only then compared. The same check again, by its key, changes nothing and gives
    the first one."""
    check_may(by, Deed.READ_DEVICE)
    new = _tidy(new)
    if new.reader and new.reader != by.username:
        raise NotAllowed(
            f"This check was locked by {new.reader}, and nobody else can send it. "
            f"Let {new.reader} sign in on this phone."
        )
    alone(tx, by)
    earlier = checks.check_with_key(tx, agency_id=by.agency_id, key=new.key)
    if earlier is not None:
        return _same(earlier, new, by)
    _check_number(tx, new, by)
    device = devices.device_tagged(tx, agency_id=by.agency_id, tag=new.device, lock=True)
    if device.retired:
        raise NotNow(f"{device.tag} is retired, so it is not checked.")
    read_at = now if new.queued is None else new.queued.clock.corrected(now)
    number = _read(tx, device, new, read_at, dice, by=by, now=now)
    found = _found(tx, device, new, read_at, by)
    weighed = Weighed(number, read_at, found, fingerprint_of(new))
    added = checks.add_check(tx, new, weighed, device=device, by=by, now=now)
    _tell(tx, added, new, weighed, by=by, now=now)
    return _check(tx, added, by)


def _tidy(new: NewShiftCheck) -> NewShiftCheck:
    queued = new.queued
    if queued is not None:
        queued = replace(queued, phone=line(queued.phone, column="phone"))
    tidy = replace(
        new,
        device=line(new.device, column="device"),
        key=line(new.key, column="key"),
        preset=line(new.preset, column="preset"),
        remark=note(new.remark, column="remark"),
        queued=queued,
    )
    check_new(tidy)
    return tidy


def fingerprint_of(new: NewShiftCheck) -> str:
    """Of what was locked; when it was sent is another thing each time, and so is what the phone
    still knows of having been shown."""
    told = asdict(new)
    del told["seen"]
    told["queued"] = None
    if new.queued is not None:
        told["queued"] = [new.queued.phone, new.queued.number, new.queued.clock.locked_at]
    return hashlib.sha256(json.dumps(told, sort_keys=True, default=str).encode()).hexdigest()


def _same(earlier: ShiftCheck, new: NewShiftCheck, by: Person) -> ShiftCheck:
    if earlier.person_id != by.id or earlier.fingerprint != fingerprint_of(new):
        raise Conflict("Another check was sent with this key.", theirs=earlier.key, yours=new.key)
    return earlier


def _check_number(tx: Session, new: NewShiftCheck, by: Person) -> None:
    queued = new.queued
    if queued is None:
        return
    twice = checks.check_of_phone(
        tx, agency_id=by.agency_id, phone=queued.phone, number=queued.number
    )
    if twice is not None:
        raise Conflict(
            f"Check {queued.number} of this phone came in already, of {twice.device}.",
            theirs=twice.key,
            yours=new.key,
        )


def _read(
    tx: Session,
    device: Device,
    new: NewShiftCheck,
    read_at: datetime,
    dice: Dice,
    *,
    by: Person,
    now: datetime,
) -> int:
    """What was seen is the first look of a reading."""
    begun = NewReading(
        device=device.tag,
        preset=new.preset,
        state_read=new.state_read,
        trigger=Trigger.SHIFT,
        software=device.software or _NOT_ASKED,
        key=f"shift check {new.key}",
        minutes_off=new.minutes_off,
    )
    first = NextLook(1, tuple(new.readings))
    number = sessions.add_session(
        tx, device, begun, die=0, whole=False, first=first, by=by, now=now
    )
    taken = LookTaken(1, new.readings, new.minutes_off, read_at, seen=new.seen)
    lock_look(tx, reading=number, taken=taken, dice=dice, by=by, now=now)
    return number


def _found(
    tx: Session, device: Device, new: NewShiftCheck, read_at: datetime, by: Person
) -> tuple[CrewFound, ...]:
    revision = revisions.revision_in_force(tx, agency_id=by.agency_id, at=read_at)
    profile: Profile | None = None if revision is None else stored_profile(revision.document)
    presets: Mapping[str, RenderedPreset] = (
        {} if profile is None else rendered_presets(profile, device.model)
    )
    return found_by_crew(new, profile, presets)


def _tell(
    tx: Session,
    check_id: int,
    new: NewShiftCheck,
    weighed: Weighed,
    *,
    by: Person,
    now: datetime,
) -> None:
    about: dict[str, object] = {
        "check": check_id,
        "device": new.device,
        "reading": weighed.reading,
        "read_at": weighed.read_at.isoformat(),
        "found": [one.what for one in weighed.found],
    }
    if new.seen:
        about["values_seen"] = True
    if new.queued is not None:
        clock = new.queued.clock
        about |= {
            "phone": new.queued.phone,
            "number": new.queued.number,
            "locked_at": clock.locked_at.isoformat(),
            "sent_at": clock.sent_at.isoformat(),
        }
    ledger.append(tx, agency=by.agency, did="check a device", by=by.username, at=now, about=about)


def _check(tx: Session, check_id: int, by: Person) -> ShiftCheck:
    found = checks.find_check(tx, agency_id=by.agency_id, check_id=check_id)
    if found is None:
        raise NotFound("There is no such shift check.")
    return found


def put_right(tx: Session, *, number: int, told: str, by: Person, now: datetime) -> ShiftCheck:
    """What a crew found besides limits; said by somebody else than whoever found it."""
    check_may(by, Deed.WORK_FINDING)
    kept = note(told, needed=True)
    found = _check(tx, number, by)
    devices.device_tagged(tx, agency_id=by.agency_id, tag=found.device, lock=True)
    found = _check(tx, number, by)
    if not found.waits:
        raise NotNow("There is nothing left to be put right here.")
    if found.person_id == by.id:
        raise NotAllowed("Somebody else than whoever found it says that it is put right.")
    checks.put_right(tx, number, note=kept, by=by, now=now)
    about = {"check": number, "device": found.device, "found": [one.what for one in found.found]}
    ledger.append(
        tx, agency=by.agency, did="put right what a crew found", by=by.username, at=now, about=about
    )
    return _check(tx, number, by)
