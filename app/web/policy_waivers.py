"""An unsafe finding waived, or its waiver withdrawn, before the revision is signed."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions.waivers import waive_finding, withdraw_waiver
from app.domain.errors import Fault, NotFound, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.rules import check
from app.domain.waivers import UnsafeFinding
from app.lookups.policy import open_revision
from app.web.notices import done
from app.web.policy_desk import Desk, desk_of
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction, Writing

router = APIRouter(prefix="/{agency}/policy/{number}/waivers")


class WaiverEntry(BaseModel):
    """As typed; `finding` is the key of what was shown."""

    finding: Annotated[str, Field(max_length=64)] = ""
    reason: Annotated[str, Field(max_length=8000)] = ""
    until: Annotated[str, Field(max_length=20)] = ""

    def day(self) -> date:
        try:
            return date.fromisoformat(self.until.strip())
        except ValueError:
            raise Refused.because("give a day, such as 2027-03-01", column="until") from None


@dataclass(frozen=True)
class WaivePage:
    base: str
    number: int
    waived: UnsafeFinding
    desk: Desk
    entry: WaiverEntry
    faults: tuple[Fault, ...] = ()


@router.get("/{finding}")
def waive_page(
    request: Request, person: Member, tx: Reading, now: Now, number: int, finding: str
) -> Response:
    page = _page(tx, person, now, number, WaiverEntry(finding=finding))
    return render(request, "policy/waive.html", page)


def _page(
    tx: Transaction,
    person: Person,
    now: Now,
    number: int,
    entry: WaiverEntry,
    faults: tuple[Fault, ...] = (),
) -> WaivePage:
    check_may(person, Deed.WAIVE_FINDING)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    desk = desk_of(found, check(found.profile, bounds=found.bounds), person)
    if entry.finding not in desk.unsafe:
        raise NotFound("This is no longer found: somebody edited the revision since.")
    unsafe = desk.unsafe[entry.finding]
    return WaivePage(base_of(person, number), number, unsafe, desk, entry, faults)


@router.post("")
def waive(
    request: Request, person: Member, now: Now, number: int, entry: Annotated[WaiverEntry, Form()]
) -> Response:
    check_may(person, Deed.WAIVE_FINDING)
    database = request.app.state.database
    try:
        with database.writing() as tx:
            waiver = waive_finding(
                tx,
                number=number,
                finding=entry.finding,
                reason=entry.reason,
                until=entry.day(),
                by=person,
                now=now,
            )
    except Refused as refused:
        with database.reading() as tx:
            page = _page(tx, person, now, number, entry, refused.faults)
        return render(request, "policy/waive.html", page, status=refused.status)
    return done(f"{base_of(person, number)}#findings", f"{waiver.words}.")


@router.post("/withdraw")
def withdraw(
    person: Member,
    tx: Writing,
    now: Now,
    number: int,
    finding: Annotated[str, Form(max_length=64)] = "",
) -> Response:
    withdraw_waiver(tx, number=number, finding=finding, by=person, now=now)
    return done(f"{base_of(person, number)}#findings", "The waiver is withdrawn.")
