"""One device: what it is known to hold, reading it blind, and a locked report beside the policy."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from secrets import token_urlsafe
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from app.actions.reports import record_report
from app.domain.devices import Device
from app.domain.errors import Conflict, Fault, NotFound, Refused
from app.domain.finding_life import StoredFinding
from app.domain.fleet import DeviceStatus, Mark, StoredReport
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.tide_wall import Shape, shape_of
from app.lookups import findings as finding_lookups
from app.lookups import fleet
from app.web.compared import ComparedReport, compared
from app.web.reading_form import STATES, TRIGGERS, Asked, asked, report_from
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()


@dataclass(frozen=True)
class PresetShown:
    preset: str
    latest: ComparedReport | None


@dataclass(frozen=True)
class DeviceShown:
    device: Device
    status: DeviceStatus
    shape: Shape
    why: str
    oldest_read_at: datetime | None
    in_force: int | None
    presets: list[PresetShown]
    reports: list[ComparedReport]
    findings: tuple[StoredFinding, ...]
    may_read: bool


@router.get("/{agency}/devices/{tag}")
def device(request: Request, person: Member, tag: str, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = fleet.device(tx, agency_id=person.agency_id, tag=tag, now=now)
    return render(request, "fleet/device.html", _device_shown(found, person))


def _device_shown(found: fleet.DevicePage, person: Person) -> DeviceShown:
    mark = Mark(found.device) if found.now is None else found.now.mark(found.device)
    return DeviceShown(
        device=found.device,
        status=found.status,
        shape=shape_of(mark, found.status),
        why=_why(mark, found.status),
        oldest_read_at=mark.oldest_read_at,
        in_force=found.in_force,
        presets=[
            PresetShown(one.preset, None if one.latest is None else compared(one.latest))
            for one in found.presets
        ],
        reports=[compared(one) for one in found.reports],
        findings=found.findings,
        may_read=may(person, Deed.READ_DEVICE),
    )


def _why(mark: Mark, status: DeviceStatus) -> str:
    """What the status stands on, or what is missing for a better one."""
    if mark.tally is None:
        return "It was never read in a state that counts: just switched on, or just after a choice."
    read = f"{mark.presets_read} of {mark.presets_offered} presets read"
    if status is DeviceStatus.HOLDS:
        return f"{read}; every alarm of the policy was read and conforms."
    if status in (DeviceStatus.DIFFERS, DeviceStatus.UNSAFE):
        return f"{read}."
    if mark.revision is None:
        return "No policy was in force when it was read."
    if mark.presets_read < mark.presets_offered:
        return f"Only {read}."
    if mark.tally.missing:
        return f"{mark.tally.missing} alarms of the policy were not read, or could not be."
    return "Its oldest reading is past the check interval: nothing is known of it any more."


@dataclass(frozen=True)
class ReportShown:
    """`findings`: those of this device that are not closed, by alarm of this preset."""

    report: ComparedReport
    raw: StoredReport
    findings: Mapping[str, StoredFinding]
    may_read: bool


@router.get("/{agency}/devices/{tag}/reports/{number}")
def report(request: Request, person: Member, tag: str, number: int, tx: Reading) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = fleet.report(tx, agency_id=person.agency_id, report_id=number)
    if found.report.device != tag:
        raise NotFound("There is no such report.")
    page = ReportShown(
        report=compared(found),
        raw=found.report,
        findings=_open_findings(request, person, found.report, tx),
        may_read=may(person, Deed.READ_DEVICE),
    )
    return render(request, "fleet/report.html", page)


def _open_findings(
    request: Request, person: Person, of: StoredReport, tx: Any
) -> dict[str, StoredFinding]:
    now = request.app.state.clock()
    found = finding_lookups.findings(tx, agency_id=person.agency_id, now=now, device=of.device)
    return {page.finding.alarm: page.finding for page in found if page.finding.preset == of.preset}


@dataclass(frozen=True)
class BlindForm:
    """`preset` empty: one is still to be chosen. `stored` is a report that was sent before."""

    device: Device
    presets: list[str]
    preset: str
    asked: list[Asked]
    typed: Mapping[str, str]
    faults: tuple[Fault, ...] = ()
    message: str = ""
    stored: int | None = None
    states: Mapping[str, str] = field(
        default_factory=lambda: {k.value: v for k, v in STATES.items()}
    )
    triggers: tuple[str, ...] = TRIGGERS

    def fault(self, column: str) -> str:
        return next((fault.reason for fault in self.faults if fault.column == column), "")

    def value(self, name: str) -> str:
        return self.typed.get(name, "")

    @property
    def faulty(self) -> list[Asked]:
        return [one for one in self.asked if self.fault(one.alarm)]

    @property
    def other_faults(self) -> list[Fault]:
        shown = {one.alarm for one in self.asked} | {"state_read", "minutes_off", "read_at"}
        return [fault for fault in self.faults if fault.column not in shown]


async def _typed(request: Request) -> dict[str, str]:
    """What is no text is left out: this form has no files."""
    form = await request.form()
    return {name: value for name, value in form.items() if isinstance(value, str)}


Typed = Annotated[dict[str, str], Depends(_typed)]


@router.get("/{agency}/devices/{tag}/read")
def read_page(
    request: Request, person: Member, tag: str, tx: Reading, now: Now, preset: str = ""
) -> Response:
    check_may(person, Deed.READ_DEVICE)
    form = fleet.reading_form(tx, agency_id=person.agency_id, tag=tag, now=now)
    fresh = {"key": token_urlsafe(16), "opened_at": now.isoformat()}
    return render(request, "fleet/read.html", _blind_form(form, preset, fresh))


@router.post("/{agency}/devices/{tag}/read")
def lock(request: Request, person: Member, tag: str, now: Now, typed: Typed) -> Response:
    check_may(person, Deed.READ_DEVICE)
    state = request.app.state
    preset = typed.get("preset", "")
    with state.database.reading() as tx:
        form = fleet.reading_form(tx, agency_id=person.agency_id, tag=tag, now=now)
    page = _blind_form(form, preset, typed)
    if not page.preset:
        raise Refused.because("choose one of the presets of this device", column="preset")
    try:
        new = report_from(
            typed,
            device=tag,
            preset=preset,
            alarms=tuple(one.alarm for one in page.asked),
            zone=state.agencies.of(person.agency).time_zone,
        )
        with state.database.writing() as tx:
            stored = record_report(tx, report=new, by=person, now=now)
    except Refused as refused:
        again = _blind_form(form, preset, typed, faults=refused.faults)
        return render(request, "fleet/read.html", again, status=422)
    except Conflict as conflict:
        return render(request, "fleet/read.html", _stored_before(page, conflict), status=409)
    return RedirectResponse(f"/{person.agency}/devices/{tag}/reports/{stored.id}", status_code=303)


def _stored_before(page: BlindForm, conflict: Conflict) -> BlindForm:
    """Nothing typed is lost; a new key lets it be stored as a reading of its own."""
    earlier = conflict.theirs
    number = earlier.id if isinstance(earlier, StoredReport) else None
    typed = {**page.typed, "key": token_urlsafe(16)}
    return replace(page, typed=typed, message=conflict.message, stored=number)


def _blind_form(
    form: fleet.ReadingForm,
    preset: str,
    typed: Mapping[str, str],
    faults: tuple[Fault, ...] = (),
) -> BlindForm:
    """The only preset of a device needs no choosing; one that it does not have is not chosen."""
    offered = {one.preset: one.alarms for one in form.presets}
    if len(offered) == 1:
        preset = preset or next(iter(offered))
    alarms = offered.get(preset, ())
    return BlindForm(
        device=form.device,
        presets=list(offered),
        preset=preset if preset in offered else "",
        asked=[asked(alarm) for alarm in alarms],
        typed=typed,
        faults=faults,
    )
