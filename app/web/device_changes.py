"""What happened to a device: one small form for each, all on one page."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions import device_changes as actions
from app.domain.devices import Device
from app.domain.errors import Fault, NotFound, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.lookups import register
from app.lookups.register import DeviceOnRegister
from app.web.dates import typed_loan
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/devices/{tag}/change")
Word = Annotated[str, Field(max_length=300)]


class ChangeEntry(BaseModel):
    """As typed into any of the forms."""

    station: Word = ""
    vehicle: Word = ""
    software: Word = ""
    serial: Word = ""
    worker: Word = ""
    spare: Word = ""
    owner: Word = ""
    loan_from: Word = ""
    loan_until: Word = ""
    remark: Annotated[str, Field(max_length=4000)] = ""
    why: Annotated[str, Field(max_length=4000)] = ""


Entry = Annotated[ChangeEntry, Form()]


@dataclass(frozen=True)
class ChangePage:
    """`form`: the one that was sent and refused; the others show what stands."""

    found: DeviceOnRegister
    known: register.Places
    workers: list[Person]
    me: str
    may_keep: bool
    form: str = ""
    typed: ChangeEntry = field(default_factory=ChangeEntry)
    faults: tuple[Fault, ...] = ()

    @property
    def device(self) -> Device:
        return self.found.device

    def wrong(self, form: str) -> tuple[Fault, ...]:
        return self.faults if form == self.form else ()

    def value(self, form: str, name: str) -> str:
        """What was typed into this form, or else what stands."""
        if form == self.form:
            return str(getattr(self.typed, name))
        return _standing(self.device).get(name, "")


def _standing(device: Device) -> dict[str, str]:
    loan = device.loan
    until = "" if loan is None or loan.until is None else loan.until.isoformat()
    return {
        "station": device.station,
        "vehicle": device.vehicle,
        "software": device.software,
        "serial": device.serial,
        "remark": device.note,
        "owner": "" if loan is None else loan.owner,
        "loan_from": "" if loan is None else loan.since.isoformat(),
        "loan_until": until,
    }


@router.get("")
def page(request: Request, person: Member, tx: Reading, now: Now, tag: str) -> Response:
    check_may(person, Deed.CHANGE_DEVICE)
    return render(request, "register/change.html", _page(tx, person, tag, now))


def _page(tx: Transaction, person: Person, tag: str, now: datetime, **typed: Any) -> ChangePage:
    return ChangePage(
        register.device_on_register(tx, agency_id=person.agency_id, tag=tag, now=now),
        register.places(tx, agency_id=person.agency_id),
        register.workers(tx, agency_id=person.agency_id),
        person.username,
        may(person, Deed.KEEP_REGISTER),
        **typed,
    )


def _move(tx: Transaction, entry: ChangeEntry, told: dict[str, Any]) -> None:
    actions.move_device(tx, station=entry.station, vehicle=entry.vehicle, **told)


def _software(tx: Transaction, entry: ChangeEntry, told: dict[str, Any]) -> None:
    actions.change_software(tx, software=entry.software, **told)


def _away(tx: Transaction, entry: ChangeEntry, told: dict[str, Any]) -> None:  # noqa: ARG001
    actions.send_to_service(tx, **told)


def _back(tx: Transaction, entry: ChangeEntry, told: dict[str, Any]) -> None:
    actions.take_back_from_service(
        tx, software=entry.software, worker=entry.worker, spare=bool(entry.spare), **told
    )


def _use(tx: Transaction, entry: ChangeEntry, told: dict[str, Any]) -> None:
    actions.use_device_as(tx, spare=bool(entry.spare), **told)


def _loan(tx: Transaction, entry: ChangeEntry, told: dict[str, Any]) -> None:
    loan = typed_loan(entry.owner, entry.loan_from, entry.loan_until)
    actions.change_loan(tx, loan=loan, **told)


def _retire(tx: Transaction, entry: ChangeEntry, told: dict[str, Any]) -> None:  # noqa: ARG001
    actions.retire_device(tx, **told)


def _bring_back(tx: Transaction, entry: ChangeEntry, told: dict[str, Any]) -> None:  # noqa: ARG001
    actions.bring_device_back(tx, **told)


def _correct(tx: Transaction, entry: ChangeEntry, told: dict[str, Any]) -> None:
    actions.correct_device(tx, serial=entry.serial, remark=entry.remark, **told)


Change = Callable[[Transaction, ChangeEntry, dict[str, Any]], None]
FORMS: dict[str, Change] = {
    "move": _move,
    "software": _software,
    "away": _away,
    "back": _back,
    "use": _use,
    "loan": _loan,
    "retire": _retire,
    "return": _bring_back,
    "correct": _correct,
}
_KEEPS = frozenset({"loan", "retire", "return", "correct"})


@router.post("/{form}")
def change(
    request: Request, person: Member, now: Now, tag: str, form: str, entry: Entry
) -> Response:
    check_may(person, Deed.KEEP_REGISTER if form in _KEEPS else Deed.CHANGE_DEVICE)
    database = request.app.state.database
    told = {"tag": tag, "why": entry.why, "by": person, "now": now}
    try:
        with database.writing() as tx:
            _change_of(form)(tx, entry, told)
    except Refused as refused:
        with database.reading() as tx:
            again = _page(tx, person, tag, now, form=form, typed=entry, faults=refused.faults)
        return render(request, "register/change.html", again, status=422)
    return done(f"/{person.agency}/devices/{tag}", "Kept in its history.")


def _change_of(form: str) -> Change:
    if form not in FORMS:
        raise NotFound("There is no such change.")
    return FORMS[form]
