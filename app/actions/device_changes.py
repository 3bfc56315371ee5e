"""What happens to a device on the register, each kept with who, when and why."""

from collections.abc import Callable
from datetime import datetime

from sqlmodel import Session

from app.actions.devices import tidy_loan
from app.domain import device_changes
from app.domain.device_changes import Changed
from app.domain.devices import Device, Loan
from app.domain.errors import Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import free_line, line, note
from app.storage import device_changes as stored_changes
from app.storage import devices, ledger, people


def move_device(
    tx: Session, *, tag: str, station: str, vehicle: str, why: str, by: Person, now: datetime
) -> Device:
    """To another station it needs a blind reading; within one it does not."""
    check_may(by, Deed.CHANGE_DEVICE)
    station, vehicle = line(station, column="station"), free_line(vehicle, column="vehicle")
    return _change(
        tx,
        tag,
        lambda d: device_changes.moved(d, station=station, vehicle=vehicle),
        why=why,
        by=by,
        now=now,
    )


def change_software(
    tx: Session, *, tag: str, software: str, why: str, by: Person, now: datetime
) -> Device:
    """Whoever tells it is who did it."""
    check_may(by, Deed.CHANGE_DEVICE)
    to = line(software, column="software")
    return _change(
        tx,
        tag,
        lambda d: device_changes.software_changed(d, to),
        why=why,
        by=by,
        now=now,
        worker=by.id,
    )


def send_to_service(tx: Session, *, tag: str, why: str, by: Person, now: datetime) -> Device:
    check_may(by, Deed.CHANGE_DEVICE)
    why = note(why, column="why", needed=True)
    return _change(tx, tag, device_changes.sent_away, why=why, by=by, now=now)


def take_back_from_service(
    tx: Session,
    *,
    tag: str,
    software: str,
    worker: str,
    spare: bool,
    why: str,
    by: Person,
    now: datetime,
) -> Device:
    """`worker`: the username of who did the work; empty: somebody outside the agency."""
    check_may(by, Deed.CHANGE_DEVICE)
    why = note(why, column="why", needed=True)
    told = free_line(software, column="software")
    return _change(
        tx,
        tag,
        lambda d: device_changes.came_back(d, software=told, spare=spare),
        why=why,
        by=by,
        now=now,
        worker=_worker(tx, worker, by),
    )


def _worker(tx: Session, username: str, by: Person) -> int | None:
    if not username:
        return None
    found = [one.id for one in people.people_of(tx, by.agency_id) if one.username == username]
    if not found:
        raise Refused.because("nobody here has this name", column="worker", value=username)
    return found[0]


def change_loan(
    tx: Session, *, tag: str, loan: Loan | None, why: str, by: Person, now: datetime
) -> Device:
    """None: it is our own."""
    check_may(by, Deed.KEEP_REGISTER)
    tidy = None if loan is None else tidy_loan(loan)
    return _change(tx, tag, lambda d: device_changes.lent(d, tidy), why=why, by=by, now=now)


def use_device_as(
    tx: Session, *, tag: str, spare: bool, why: str, by: Person, now: datetime
) -> Device:
    check_may(by, Deed.CHANGE_DEVICE)
    return _change(
        tx, tag, lambda d: device_changes.used_as(d, spare=spare), why=why, by=by, now=now
    )


def retire_device(tx: Session, *, tag: str, why: str, by: Person, now: datetime) -> Device:
    """It leaves the wall, the draws and the job lists; everything that is known of it stays."""
    check_may(by, Deed.KEEP_REGISTER)
    why = note(why, column="why", needed=True)
    return _change(tx, tag, device_changes.retired, why=why, by=by, now=now)


def bring_device_back(tx: Session, *, tag: str, why: str, by: Person, now: datetime) -> Device:
    check_may(by, Deed.KEEP_REGISTER)
    why = note(why, column="why", needed=True)
    return _change(tx, tag, device_changes.brought_back, why=why, by=by, now=now)


def correct_device(
    tx: Session, *, tag: str, serial: str, remark: str, why: str, by: Person, now: datetime
) -> Device:
    """What was written wrongly; nothing happened to the device itself."""
    check_may(by, Deed.KEEP_REGISTER)
    told = free_line(serial, column="serial"), note(remark)
    return _change(
        tx,
        tag,
        lambda d: device_changes.corrected(d, serial=told[0], note=told[1]),
        why=why,
        by=by,
        now=now,
    )


def _change(
    tx: Session,
    tag: str,
    change: Callable[[Device], Changed],
    *,
    why: str,
    by: Person,
    now: datetime,
    worker: int | None = None,
) -> Device:
    """Kept with its history and told to the ledger; what changes nothing leaves no trace."""
    device = devices.device_tagged(tx, agency_id=by.agency_id, tag=tag, lock=True)
    why = note(why, column="why")
    done = change(device)
    if not done.changes:
        return device
    devices.change_device(tx, done.after)
    stored_changes.add_change(tx, done, why=why, worker_id=worker, by=by, now=now)
    about = {"device": tag, "did": done.kind.value, "why": why} | {
        name: list(pair) for name, pair in done.changes.items()
    }
    ledger.append(tx, agency=by.agency, did="change a device", by=by.username, at=now, about=about)
    return done.after
