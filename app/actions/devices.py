"""Devices that are new on the register."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import datetime

from sqlmodel import Session

from app.domain.device_changes import Changed, ChangeKind, facts_of
from app.domain.device_tags import check_tag
from app.domain.devices import Device, Loan, RegisterStatus
from app.domain.errors import Fault, Refused
from app.domain.new_devices import NewDevice
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import free_line, line, note
from app.storage import device_changes, devices, ledger


def add_device(
    tx: Session,
    *,
    tag: str,
    model: str,
    station: str,
    by: Person,
    now: datetime,
) -> Device:
    return add_devices(tx, new=[NewDevice(tag, model, station)], by=by, now=now)[0]


def add_devices(
    tx: Session, *, new: Sequence[NewDevice], by: Person, now: datetime
) -> list[Device]:
    """All or none. Raises Refused with everything that is wrong, by line and column."""
    check_may(by, Deed.KEEP_REGISTER)
    known = devices.models_of(tx, by.agency_id)
    taken = {tag.casefold() for tag in known}
    faults: list[Fault] = []
    fit: list[Device] = []
    for one in new:
        found, wrong = _fit(one, taken)
        taken.add(one.tag.casefold())
        fit += [] if found is None else [found]
        faults += [replace(fault, line=one.line) for fault in wrong]
    if faults:
        raise Refused(faults)
    added = [_add(tx, one, by=by, now=now) for one in fit]
    for device in added:
        _tell(tx, device, by=by, now=now)
    return added


def _fit(new: NewDevice, taken: Collection[str]) -> tuple[Device | None, list[Fault]]:
    """Tidy; None where anything of it is wrong."""
    faults: list[Fault] = []
    tidy: dict[str, str] = {}
    for column, tidied in _TIDIED.items():
        try:
            tidy[column] = tidied(getattr(new, column), column=column)
        except Refused as refused:
            faults += refused.faults
    if not faults and tidy["tag"].casefold() in taken:
        faults.append(Fault("a device has this tag already", column="tag", value=new.tag))
    if faults:
        return None, faults
    status = RegisterStatus.SPARE if new.spare else RegisterStatus.IN_SERVICE
    loan = None if new.loan is None else tidy_loan(new.loan)
    return Device(id=0, status=status, loan=loan, **tidy), []


def _tag(typed: str, *, column: str) -> str:  # noqa: ARG001 - as the others are called
    check_tag(typed)
    return typed


_TIDIED: dict[str, Callable[..., str]] = {
    "tag": _tag,
    "model": line,
    "station": line,
    "vehicle": free_line,
    "serial": free_line,
    "software": free_line,
    "note": note,
}


def tidy_loan(loan: Loan) -> Loan:
    return replace(loan, owner=line(loan.owner, column="owner"))


def _add(tx: Session, new: Device, *, by: Person, now: datetime) -> Device:
    device = devices.add_device(tx, new, agency_id=by.agency_id, now=now)
    kind = ChangeKind.ADDED if device.loan is None else ChangeKind.BORROWED
    device_changes.add_change(tx, Changed(None, device, kind), by=by, now=now)
    return device


def _tell(tx: Session, device: Device, *, by: Person, now: datetime) -> None:
    told = {name: value for name, value in facts_of(device).items() if value}
    about = {"device" if name == "tag" else name: value for name, value in told.items()}
    ledger.append(tx, agency=by.agency, did="add a device", by=by.username, at=now, about=about)
