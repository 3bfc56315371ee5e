"""All findings of one device, and the step that several of them take together."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.actions.device_findings import TOGETHER, Moved, move_findings_of, taking
from app.domain.errors import Fault, NotNow, Refused
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import LIFE, Audible, FindingStatus, Step
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.lookups.findings import findings
from app.lookups.readings import reading_start
from app.web.finding_pages import StepEntry
from app.web.findings import FindingShown, shown
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction
from app.web.typed import typed_in

router = APIRouter(prefix="/{agency}/devices/{tag}/findings")


@dataclass(frozen=True)
class Together:
    """One step, and the findings whose next one it is."""

    to: FindingStatus
    step: Step
    findings: tuple[FindingShown, ...]


@dataclass(frozen=True)
class DeviceFindingsPage:
    """`corrected`: presets that somebody else is to read now."""

    device: str
    findings: tuple[FindingShown, ...]
    together: tuple[Together, ...]
    corrected: tuple[str, ...]
    may_work: bool
    may_read: bool
    typed: Mapping[str, str] = field(default_factory=lambda: defaultdict(str))
    faults: tuple[Fault, ...] = ()
    message: str = ""
    causes: tuple[CauseCode, ...] = tuple(CauseCode)
    answers: tuple[Audible, ...] = tuple(Audible)


@router.get("")
def device_findings(request: Request, person: Member, tag: str, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_FLEET)
    page = _page(request, tx, person, tag, now, None)
    return render(request, "findings/device.html", page)


def _page(
    request: Request,
    tx: Transaction,
    person: Person,
    tag: str,
    now: datetime,
    refusal: Refused | NotNow | None,
) -> DeviceFindingsPage:
    device = reading_start(tx, agency_id=person.agency_id, tag=tag, now=now).device
    listed = findings(tx, agency_id=person.agency_id, now=now, device=device.tag)
    found = tuple(shown(one, now) for one in listed)
    return DeviceFindingsPage(
        device.tag,
        found,
        tuple(one for one in (_together(found, to) for to in TOGETHER) if one.findings),
        _corrected(found),
        may(person, Deed.WORK_FINDING),
        may(person, Deed.READ_DEVICE),
        defaultdict(str, typed_in(request)),
        refusal.faults if isinstance(refusal, Refused) else (),
        refusal.message if isinstance(refusal, NotNow) else "",
    )


def _together(found: tuple[FindingShown, ...], to: FindingStatus) -> Together:
    ready = {one.id for one in taking([one.finding for one in found], to)}
    step = next(steps[to] for steps in LIFE.values() if to in steps)
    return Together(to, step, tuple(one for one in found if one.finding.id in ready))


def _corrected(found: tuple[FindingShown, ...]) -> tuple[str, ...]:
    wanted = [one.finding for one in found if one.finding.status is FindingStatus.CORRECTED]
    return tuple(dict.fromkeys(one.preset for one in wanted))


@router.post("")
def move(
    request: Request, person: Member, tag: str, now: Now, entry: Annotated[StepEntry, Form()]
) -> Response:
    database = request.app.state.database
    try:
        with database.writing() as tx:
            moved = move_findings_of(
                tx,
                device=tag,
                to=entry.to,
                by=person,
                now=now,
                note=entry.note,
                details=entry.details(),
            )
    except (Refused, NotNow) as refusal:
        with database.reading() as tx:
            page = _page(request, tx, person, tag, now, refusal)
        return render(request, "findings/device.html", page, status=refusal.status)
    return done(f"/{person.agency}/devices/{tag}/findings", _told(moved, entry.to))


def _told(moved: Moved, to: FindingStatus) -> str:
    many = len(moved.findings)
    words = f"{many} finding{'' if many == 1 else 's'} {'is' if many == 1 else 'are'} {to.value}."
    return " ".join([words, *(f"Not finding {one.finding}: {one.why}" for one in moved.left)])
