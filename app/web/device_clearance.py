"""The director's word over the clearance of one device."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions.clearances import LONGEST_DAYS, override_clearance
from app.actions.clearances import end_override as end
from app.domain.clearances import ClearanceState
from app.domain.errors import Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.lookups.register import DeviceOnRegister, device_on_register
from app.web.dates import typed_day
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction, Writing

router = APIRouter(prefix="/{agency}/devices/{tag}/clearance")


class OverrideEntry(BaseModel):
    to: Annotated[str, Field(max_length=40)] = ""
    until: Annotated[str, Field(max_length=40)] = ""
    reason: Annotated[str, Field(max_length=4000)] = ""

    def state(self) -> ClearanceState:
        if self.to not in {one.value for one in OFFERED}:
            raise Refused.because("choose one", column="to")
        return ClearanceState(self.to)


OFFERED = (ClearanceState.BY_HAND, ClearanceState.CLEARED)


@dataclass(frozen=True)
class ClearancePage:
    found: DeviceOnRegister
    may_override: bool
    typed: OverrideEntry = field(default_factory=OverrideEntry)
    faults: tuple[Fault, ...] = ()
    offered: tuple[ClearanceState, ...] = OFFERED
    longest: int = LONGEST_DAYS


@router.get("")
def page(request: Request, person: Member, tx: Reading, now: Now, tag: str) -> Response:
    check_may(person, Deed.SEE_FLEET)
    return render(request, "register/clearance.html", _page(tx, person, tag, now))


def _page(tx: Transaction, person: Person, tag: str, now: datetime, **typed: Any) -> ClearancePage:
    found = device_on_register(tx, agency_id=person.agency_id, tag=tag, now=now)
    return ClearancePage(found, may(person, Deed.OVERRIDE_CLEARANCE), **typed)


@router.post("")
def override(
    request: Request,
    person: Member,
    now: Now,
    tag: str,
    entry: Annotated[OverrideEntry, Form()],
) -> Response:
    check_may(person, Deed.OVERRIDE_CLEARANCE)
    database = request.app.state.database
    try:
        with database.writing() as tx:
            _override(tx, tag, entry, by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            again = _page(tx, person, tag, now, typed=entry, faults=refused.faults)
        return render(request, "register/clearance.html", again, status=422)
    return done(
        f"/{person.agency}/devices/{tag}", "Your word stands, and shows beside its clearance."
    )


def _override(
    tx: Transaction, tag: str, entry: OverrideEntry, *, by: Person, now: datetime
) -> None:
    until = typed_day(entry.until, column="until")
    if until is None:
        raise Refused.because("write the last day", column="until")
    override_clearance(
        tx, tag=tag, to=entry.state(), reason=entry.reason, until=until, by=by, now=now
    )


@router.post("/end")
def take_back(person: Member, tx: Writing, now: Now, tag: str) -> Response:
    end(tx, tag=tag, by=person, now=now)
    return done(f"/{person.agency}/devices/{tag}", "Your word over its clearance is taken back.")
