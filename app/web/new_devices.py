"""Adding devices: one by a form, or many from a list."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

from app.actions.devices import add_devices
from app.domain.errors import Fault, Refused
from app.domain.new_devices import NewDevice
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.register_csv import MOST_DEVICES, OPTIONAL, REQUIRED, read_devices
from app.exchange.stored_profiles import stored_profile
from app.lookups import register
from app.lookups.register import Places
from app.lookups.revisions import in_force
from app.web.dates import typed_loan
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}")
Word = Annotated[str, Field(max_length=300)]


class DeviceEntry(BaseModel):
    tag: Word = ""
    model: Word = ""
    station: Word = ""
    vehicle: Word = ""
    serial: Word = ""
    software: Word = ""
    owner: Word = ""
    loan_from: Word = ""
    loan_until: Word = ""
    spare: Word = ""
    note: Annotated[str, Field(max_length=4000)] = ""

    def device(self) -> NewDevice:
        return NewDevice(
            self.tag.strip(),
            self.model,
            self.station,
            self.vehicle,
            self.serial,
            self.software,
            bool(self.spare),
            typed_loan(self.owner, self.loan_from, self.loan_until),
            self.note,
        )


@dataclass(frozen=True)
class AddDevicePage:
    models: list[str]
    known: Places
    typed: DeviceEntry = field(default_factory=DeviceEntry)
    faults: tuple[Fault, ...] = ()


@router.get("/fleet/add")
def add_page(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.KEEP_REGISTER)
    return render(request, "fleet/add.html", _page(tx, person, now, DeviceEntry(), ()))


@router.post("/fleet/add")
def add(
    request: Request, person: Member, now: Now, entry: Annotated[DeviceEntry, Form()]
) -> Response:
    check_may(person, Deed.KEEP_REGISTER)
    database = request.app.state.database
    try:
        with database.writing() as tx:
            (device,) = add_devices(tx, new=[entry.device()], by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            page = _page(tx, person, now, entry, refused.faults)
        return render(request, "fleet/add.html", page, status=422)
    return RedirectResponse(f"/{person.agency}/devices/{device.tag}", status_code=303)


def _page(
    tx: Transaction, person: Person, now: datetime, typed: DeviceEntry, faults: tuple[Fault, ...]
) -> AddDevicePage:
    """Models and stations that are known are offered; others can be written."""
    revision = in_force(tx, agency_id=person.agency_id, at=now)
    known = register.places(tx, agency_id=person.agency_id)
    signed = set() if revision is None else set(stored_profile(revision.document).models)
    return AddDevicePage(sorted(signed | set(known.models)), known, typed, faults)


@dataclass(frozen=True)
class ManyPage:
    listed: str = ",".join((*REQUIRED, *OPTIONAL)) + "\n"
    faults: tuple[Fault, ...] = ()
    required: tuple[str, ...] = REQUIRED
    optional: tuple[str, ...] = OPTIONAL
    most: int = MOST_DEVICES


@router.get("/register/many")
def many_page(request: Request, person: Member) -> Response:
    check_may(person, Deed.KEEP_REGISTER)
    return render(request, "register/many.html", ManyPage())


@router.post("/register/many")
def many(
    request: Request,
    person: Member,
    now: Now,
    listed: Annotated[str, Form(max_length=500_000)] = "",
) -> Response:
    check_may(person, Deed.KEEP_REGISTER)
    try:
        new = read_devices(listed)
        with request.app.state.database.writing() as tx:
            added = add_devices(tx, new=new, by=person, now=now)
    except Refused as refused:
        page = ManyPage(listed, refused.faults)
        return render(request, "register/many.html", page, status=422)
    word = "device was" if len(added) == 1 else "devices were"
    return done(f"/{person.agency}/register", f"{len(added)} {word} added. Nobody has read them.")
