"""Shift checks, sent in by the phones that kept them, and which devices still want one."""

from datetime import datetime
from secrets import SystemRandom
from typing import Annotated

from fastapi import APIRouter, Header
from pydantic import BaseModel, Field

from app.actions.shift_checks import take_check
from app.api.access import Member, Now, Reading, Writing, problems
from app.domain.permissions import Deed, check_may
from app.exchange.shift_check_json import ShiftCheckFile, new_check
from app.lookups.shift_checks import check_brought, checks_page

router = APIRouter(tags=["crew"])
REFUSALS = problems(
    _401="Nobody is signed in: keep the check, it is not lost.",
    _403="The person may not, or somebody else locked it.",
    _404="No such agency or device.",
    _409="Another check has this key or this number of the phone, or the device is retired.",
    _422="Something is missing or wrong: each is named. Nothing was stored.",
)


class CheckShape(BaseModel):
    id: int
    device: str
    read_at: datetime = Field(description="Corrected by the server's clock.")
    received_at: datetime
    clock_ahead_s: float | None = Field(description="How far the phone's clock was ahead.")
    result: str = Field(
        description="unsafe, look-again, differs, amiss, in-use, seen, partly or holds"
    )
    look_again: int = Field(description="How many alarms are to be looked at once more.")
    reading: int
    found: list[str] = Field(description="What was found besides limits.")
    unread: int


class RoundShape(BaseModel):
    device: str
    last_check: datetime | None
    overdue: bool
    in_a_row: int = Field(description="Checks in time one after another.")


class RoundsShape(BaseModel):
    every_hours: int
    done: int = Field(description="Checks made in time, of those wanted in the last 28 days.")
    wanted: int
    devices: list[RoundShape]


@router.post(
    "/{agency}/checks", status_code=201, summary="Send in a shift check", responses=REFUSALS
)
def add_check(
    person: Member,
    file: ShiftCheckFile,
    tx: Writing,
    now: Now,
    idempotency_key: Annotated[
        str,
        Header(min_length=8, max_length=100, description="Made when it is locked, kept for good."),
    ],
) -> CheckShape:
    """Stored, and only then compared. The same check again, by its key, changes nothing and is
    answered with the first one, and what is known of it by now. It counts for the device as sent
    in by crew, and never clears it."""
    check_may(person, Deed.READ_DEVICE)
    new = new_check(file, key=idempotency_key)
    taken = take_check(tx, new=new, dice=SystemRandom(), by=person, now=now)
    return _shape(tx, person.agency_id, taken.id, now)


def _shape(tx: Writing, agency_id: int, number: int, now: datetime) -> CheckShape:
    brought = check_brought(tx, agency_id=agency_id, number=number, now=now)
    check = brought.check
    queued = check.queued
    ahead = None if queued is None else queued.clock.skew(check.received_at).total_seconds()
    return CheckShape(
        id=check.id,
        device=check.device,
        read_at=check.read_at,
        received_at=check.received_at,
        clock_ahead_s=ahead,
        result=brought.result.value,
        look_again=brought.look_again,
        reading=check.reading,
        found=[one.what for one in check.found],
        unread=check.unread,
    )


@router.get("/{agency}/checks", summary="Which devices want their shift check", responses=REFUSALS)
def overdue(person: Member, tx: Reading, now: Now) -> RoundsShape:
    """Every device in service, those first that nobody has checked for longest."""
    check_may(person, Deed.SEE_FLEET)
    found = checks_page(tx, agency_id=person.agency_id, now=now)
    return RoundsShape(
        every_hours=found.hours,
        done=found.rounds.done,
        wanted=found.rounds.wanted,
        devices=[
            RoundShape(
                device=one.device.tag,
                last_check=one.last,
                overdue=one.overdue,
                in_a_row=one.streak,
            )
            for one in found.rounds.devices
        ],
    )
