"""A device that nobody may touch: who has it, where its log is kept, and when it is free again."""

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions.quarantines import (
    Passed,
    go_on_without_log,
    hand_over,
    keep_log,
    release_device,
)
from app.domain.errors import Fault, MarchstoneError, NotNow, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.quarantines import ORDER
from app.lookups.quarantines import DeviceHold, device_hold
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.signing import zone_of
from app.web.transactions import Now, Reading
from app.web.typed import typed_in

router = APIRouter(prefix="/{agency}/devices/{tag}/quarantine")
Text = Annotated[str, Form(max_length=8000)]


@dataclass(frozen=True)
class QuarantinePage:
    found: DeviceHold
    person: Person
    local_now: str
    typed: Mapping[str, str] = field(default_factory=lambda: defaultdict(str))
    faults: tuple[Fault, ...] = ()
    message: str = ""
    order: str = ORDER

    @property
    def may_work(self) -> bool:
        return may(self.person, Deed.WORK_FINDING)

    @property
    def may_release(self) -> bool:
        return may(self.person, Deed.RELEASE_DEVICE)

    @property
    def may_skip_log(self) -> bool:
        return may(self.person, Deed.SKIP_LOG)


@router.get("")
def held(request: Request, person: Member, tag: str, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_FLEET)
    page = _page(request, tx, person, tag, now)
    return render(request, "findings/quarantine.html", page)


def _page(
    request: Request,
    tx: Any,
    person: Person,
    tag: str,
    now: datetime,
    refusal: MarchstoneError | None = None,
) -> QuarantinePage:
    zone = ZoneInfo(zone_of(request, person))
    return QuarantinePage(
        found=device_hold(tx, agency_id=person.agency_id, tag=tag),
        person=person,
        local_now=f"{now.astimezone(zone):%Y-%m-%dT%H:%M}",
        typed=defaultdict(str, typed_in(request)),
        faults=refusal.faults if isinstance(refusal, Refused) else (),
        message=refusal.message if isinstance(refusal, NotNow) else "",
    )


def _acted(
    request: Request,
    person: Person,
    tag: str,
    now: datetime,
    act: Callable[[Any], object],
    *,
    notice: str,
) -> Response:
    database = request.app.state.database
    try:
        with database.writing() as tx:
            act(tx)
    except (Refused, NotNow) as refusal:
        with database.reading() as tx:
            page = _page(request, tx, person, tag, now, refusal)
        return render(request, "findings/quarantine.html", page, status=refusal.status)
    return done(f"/{person.agency}/devices/{tag}/quarantine", notice)


class CustodyEntry(BaseModel):
    """As typed; `at` is a local time of the agency, such as 2026-03-01T08:00."""

    given_by: Annotated[str, Field(max_length=300)] = ""
    taken_by: Annotated[str, Field(max_length=300)] = ""
    at: Annotated[str, Field(max_length=30)] = ""
    place: Annotated[str, Field(max_length=300)] = ""
    seal: Annotated[str, Field(max_length=300)] = ""
    note: Annotated[str, Field(max_length=8000)] = ""

    def passed(self, zone: str) -> Passed:
        """Raises Refused."""
        try:
            local = datetime.fromisoformat(self.at)
        except ValueError:
            raise Refused.because("give a day and a time", column="at") from None
        at = local.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
        return Passed(self.given_by, self.taken_by, at, self.place, self.seal, self.note)


@router.post("/custody")
def custody(
    request: Request, person: Member, tag: str, now: Now, entry: Annotated[CustodyEntry, Form()]
) -> Response:
    def act(tx: Any) -> None:
        passed = entry.passed(zone_of(request, person))
        hand_over(tx, device=tag, passed=passed, by=person, now=now)

    notice = f"{tag} changed hands; it is written down."
    return _acted(request, person, tag, now, act, notice=notice)


@router.post("/log")
def log(
    request: Request,
    person: Member,
    tag: str,
    now: Now,
    fingerprint: Text = "",
    place: Text = "",
) -> Response:
    def act(tx: Any) -> None:
        keep_log(tx, device=tag, fingerprint=fingerprint, place=place, by=person, now=now)

    return _acted(request, person, tag, now, act, notice=f"The log of {tag} is kept.")


@router.post("/without-log")
def without_log(request: Request, person: Member, tag: str, now: Now, why: Text = "") -> Response:
    def act(tx: Any) -> None:
        go_on_without_log(tx, device=tag, reason=why, by=person, now=now)

    return _acted(request, person, tag, now, act, notice=f"{tag} may be corrected without its log.")


@router.post("/release")
def release(request: Request, person: Member, tag: str, now: Now, reason: Text = "") -> Response:
    def act(tx: Any) -> None:
        release_device(tx, device=tag, reason=reason, by=person, now=now)

    return _acted(request, person, tag, now, act, notice=f"{tag} is released from quarantine.")
