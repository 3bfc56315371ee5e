"""What somebody must act on: the list, and one finding with its life."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from app.actions.findings import move_finding
from app.domain.errors import Fault, MarchstoneError, NotNow, Refused
from app.domain.finding_life import LIFE, FindingStatus, Stamp, Step, StoredFinding
from app.domain.findings import Severity
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.lookups import findings as lookups
from app.web.compared import ComparedLine, ComparedReport, compared
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()
NOT_CLOSED = "not-closed"
LIVES = {
    FindingStatus.CONTAINED: "What keeps patients away from it",
    FindingStatus.CORRECTED: "What was set",
    FindingStatus.VERIFIED: "Another person’s reading",
    FindingStatus.CLOSED: "Done",
}


@dataclass(frozen=True)
class FindingShown:
    finding: StoredFinding
    where: str
    line: ComparedLine
    overdue: bool


@dataclass(frozen=True)
class Chosen:
    status: str = NOT_CLOSED
    severity: str = ""
    station: str = ""
    device: str = ""


@dataclass(frozen=True)
class FindingsPage:
    findings: list[FindingShown]
    chosen: Chosen
    stations: list[str]
    statuses: tuple[str, ...] = (NOT_CLOSED, *FindingStatus)
    severities: tuple[str, ...] = (Severity.UNSAFE, Severity.OFF_PROTOCOL)


@dataclass(frozen=True)
class Stage:
    """One step of the life: `stamp` None while it is still to come."""

    status: FindingStatus
    stamp: Stamp | None
    about: str


@dataclass(frozen=True)
class FindingPage:
    finding: StoredFinding
    latest: ComparedReport
    line: ComparedLine
    overdue: bool
    stages: list[Stage]
    steps: dict[FindingStatus, Step]
    may_work: bool
    may_read: bool
    note: str = ""
    faults: tuple[Fault, ...] = ()
    message: str = ""


@router.get("/{agency}/findings")
def findings(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    status: str = NOT_CLOSED,
    severity: str = "",
    station: str = "",
    device: str = "",
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    chosen = Chosen(status, severity, station, device.strip())
    found = lookups.findings(
        tx,
        agency_id=person.agency_id,
        now=now,
        statuses=_statuses(status),
        severities=_severities(severity),
        device=chosen.device or None,
    )
    page = FindingsPage(
        findings=[_shown(one) for one in found if station in ("", one.finding.station)],
        chosen=chosen,
        stations=sorted({one.finding.station for one in found} | ({station} - {""})),
    )
    return render(request, "findings/list.html", page)


def _statuses(typed: str) -> tuple[FindingStatus, ...]:
    return (FindingStatus(typed),) if typed in tuple(FindingStatus) else lookups.NOT_CLOSED


def _severities(typed: str) -> tuple[Severity, ...]:
    return (Severity(typed),) if typed in tuple(Severity) else tuple(Severity)


def _shown(page: lookups.FindingPage) -> FindingShown:
    latest = compared(page.latest)
    line = latest.line(page.finding.alarm)
    return FindingShown(page.finding, latest.where, line, page.overdue)


@router.get("/{agency}/findings/{number}")
def finding(request: Request, person: Member, number: int, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = lookups.finding(tx, agency_id=person.agency_id, finding_id=number, now=now)
    return render(request, "findings/one.html", _page(found, person))


@router.post("/{agency}/findings/{number}")
def move(
    request: Request,
    person: Member,
    number: int,
    now: Now,
    to: Annotated[FindingStatus, Form()],
    note: Annotated[str, Form()] = "",
) -> Response:
    database = request.app.state.database
    try:
        with database.writing() as tx:
            move_finding(tx, finding_id=number, to=to, by=person, now=now, note=note)
    except (Refused, NotNow) as refusal:
        with database.reading() as tx:
            found = lookups.finding(tx, agency_id=person.agency_id, finding_id=number, now=now)
        page = _page(found, person, note=note, refusal=refusal)
        return render(request, "findings/one.html", page, status=refusal.status)
    return RedirectResponse(f"/{person.agency}/findings/{number}", status_code=303)


def _page(
    found: lookups.FindingPage,
    person: Person,
    *,
    note: str = "",
    refusal: MarchstoneError | None = None,
) -> FindingPage:
    latest = compared(found.latest)
    one = found.finding
    return FindingPage(
        finding=one,
        latest=latest,
        line=latest.line(one.alarm),
        overdue=found.overdue,
        stages=[Stage(status, getattr(one, status), about) for status, about in LIVES.items()],
        steps=LIFE[one.status],
        may_work=may(person, Deed.WORK_FINDING),
        may_read=may(person, Deed.READ_DEVICE),
        note=note,
        faults=refusal.faults if isinstance(refusal, Refused) else (),
        message=refusal.message if isinstance(refusal, NotNow) else "",
    )
