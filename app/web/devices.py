"""One device: what it is known to hold, and each of its locked reports beside the policy."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.domain.devices import Device
from app.domain.errors import NotFound
from app.domain.finding_life import StoredFinding
from app.domain.fleet import StoredReport
from app.domain.known_devices import DeviceStatus, Mark
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.quarantines import Quarantine
from app.domain.reading_sessions import ReadingSession
from app.domain.tide_marks import Shape, shape_of
from app.lookups import findings as finding_lookups
from app.lookups import fleet
from app.lookups.judged import ReportPage
from app.lookups.policy_standing import PolicyStanding, policy_standing
from app.lookups.quarantines import device_hold
from app.lookups.readings import reading_of_report
from app.lookups.register import DeviceOnRegister, device_on_register
from app.lookups.report_inputs import FilePlace, file_place
from app.web.compared import ComparedReport, compared, label_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter()


@dataclass(frozen=True)
class PresetShown:
    """`today`: the same report beside the revision in force today, if another one judged it."""

    preset: str
    latest: ComparedReport | None
    today: ComparedReport | None = None


@dataclass(frozen=True)
class DeviceShown:
    device: Device
    status: DeviceStatus
    shape: Shape
    why: str
    oldest_read_at: datetime | None
    in_force: int | None
    gap: str
    presets: list[PresetShown]
    reports: list[ComparedReport]
    findings: tuple[StoredFinding, ...]
    register: DeviceOnRegister
    quarantine: Quarantine | None
    standing: PolicyStanding
    may_read: bool
    may_change: bool
    now: datetime

    def accepted(self, finding: StoredFinding) -> bool:
        return finding.accepted(self.now) is not None

    @property
    def other_software(self) -> str:
        """What the latest report tells, where the register says otherwise."""
        told = self.reports[0].report.software if self.reports else ""
        return told if told != self.device.software else ""

    def label(self, alarm: str) -> str:
        return label_of(alarm)

    def findings_of(self, preset: str) -> dict[str, StoredFinding]:
        return {found.alarm: found for found in self.findings if found.preset == preset}


@router.get("/{agency}/devices/{tag}")
def device(request: Request, person: Member, tag: str, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = fleet.device(tx, agency_id=person.agency_id, tag=tag, now=now)
    register = device_on_register(tx, agency_id=person.agency_id, tag=tag, now=now)
    held = device_hold(tx, agency_id=person.agency_id, tag=tag).standing
    page = _device_shown(found, register, held, person, now)
    return render(request, "fleet/device.html", page)


def _device_shown(
    found: fleet.DevicePage,
    register: DeviceOnRegister,
    held: Quarantine | None,
    person: Person,
    now: datetime,
) -> DeviceShown:
    mark = Mark(found.device) if found.now is None else found.now.mark(found.device)
    return DeviceShown(
        device=found.device,
        status=found.status,
        shape=shape_of(mark, found.status),
        why=_why(mark, found.status),
        oldest_read_at=mark.oldest_read_at,
        in_force=found.in_force,
        gap="" if found.gap is None else found.gap.words(now),
        presets=[
            PresetShown(one.preset, _compared(one.latest), _compared(one.today))
            for one in found.presets
        ],
        reports=[compared(one) for one in found.reports],
        findings=found.findings,
        register=register,
        quarantine=held,
        standing=found.standing,
        may_read=may(person, Deed.READ_DEVICE) and not found.device.retired,
        may_change=may(person, Deed.CHANGE_DEVICE),
        now=now,
    )


def _compared(page: ReportPage | None) -> ComparedReport | None:
    return None if page is None else compared(page)


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
    """`findings`: those of this device that are not closed, by alarm of this preset.

    `standing`: beside the limits of the revision that judged it.
    """

    report: ComparedReport
    raw: StoredReport
    findings: Mapping[str, StoredFinding]
    may_read: bool
    bounds: str
    reading: ReadingSession | None
    standing: PolicyStanding
    place: FilePlace | None


@router.get("/{agency}/devices/{tag}/reports/{number}")
def report(
    request: Request, person: Member, tag: str, number: int, tx: Reading, now: Now
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = fleet.report(tx, agency_id=person.agency_id, report_id=number)
    if found.report.device != tag:
        raise NotFound("There is no such report.")
    page = ReportShown(
        report=compared(found),
        raw=found.report,
        findings=_open_findings(person, found.report, tx, now),
        may_read=may(person, Deed.READ_DEVICE),
        bounds=found.bounds,
        reading=reading_of_report(tx, agency_id=person.agency_id, report_id=number),
        standing=policy_standing(
            tx, agency_id=person.agency_id, number=found.report.revision, now=now
        ),
        place=file_place(tx, report_id=number),
    )
    return render(request, "fleet/report.html", page)


def _open_findings(
    person: Person, of: StoredReport, tx: Transaction, now: datetime
) -> dict[str, StoredFinding]:
    found = finding_lookups.findings(tx, agency_id=person.agency_id, now=now, device=of.device)
    return {page.finding.alarm: page.finding for page in found if page.finding.preset == of.preset}
