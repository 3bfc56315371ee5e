"""Where the label on a device leads: what should be on it, and what it is last known to hold."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.domain.agencies import Agency
from app.domain.clearances import Clearance
from app.domain.comparison import base_alarm
from app.domain.devices import Device
from app.domain.known_devices import DeviceStatus
from app.domain.permissions import Deed, may
from app.domain.shift_checks import ShiftCheck
from app.domain.waivers import Waiver
from app.lookups import fleet
from app.lookups.clearances import clearance_of_device
from app.lookups.limits import PolicyShown, policy_to_show
from app.lookups.quarantines import device_hold
from app.lookups.shift_checks import latest_check
from app.web.by_hand import HandSet, hand_sets
from app.web.compared import compared
from app.web.crew_codes import check_crew
from app.web.limits_pages import LimitsPage, Ruler
from app.web.render import render
from app.web.sessions import MaybePerson
from app.web.shown_values import note_shown
from app.web.transactions import Now, Reading
from app.web.zipped import zipped

router = APIRouter()
_STATUS = {
    DeviceStatus.HOLDS: "It held the policy when it was last read.",
    DeviceStatus.DIFFERS: "It does not hold the policy.",
    DeviceStatus.UNSAFE: "Unsafe: a danger could pass without an alarm.",
    DeviceStatus.NOT_JUDGED: "It is not known what this device holds.",
}

_SHORT = {
    DeviceStatus.DIFFERS: "it differed",
    DeviceStatus.UNSAFE: "it was unsafe",
    DeviceStatus.NOT_JUDGED: "not all of it is known",
}


@dataclass(frozen=True)
class Difference:
    """What it means for a patient, before any number; `preset` is the device's own name for it."""

    preset: str
    sentence: str
    unsafe: bool
    waivers: tuple[Waiver, ...]


@dataclass(frozen=True)
class LabelPage:
    """`policy` is in force; `withdrawn`, where none is, was the last. `read_at` None: it was never
    read. `read_by_policy`: the revision it was held against. `astray_since`: when the oldest of its
    open findings was opened."""

    owner: Agency
    device: Device
    policy: PolicyShown | None
    withdrawn: PolicyShown | None
    status: DeviceStatus
    verdict: str
    read_at: datetime | None
    read_by_policy: int | None
    differences: list[Difference]
    hand_sets: list[HandSet]
    clearance: Clearance
    quarantined: bool
    may_read: bool
    gap: str
    checked: ShiftCheck | None
    astray_since: datetime | None

    @property
    def unsafe(self) -> int:
        return sum(one.unsafe for one in self.differences)

    @property
    def has_values(self) -> bool:
        """Something of a value is known, so it stands on a page of its own."""
        return bool(self.differences) or any(one.lines or one.rounded for one in self.hand_sets)

    @property
    def apart(self) -> bool:
        """It was held against another revision than the one in force."""
        if self.policy is None or self.read_at is None:
            return False
        return self.policy.number != self.read_by_policy

    @property
    def verified_words(self) -> str:
        """What it is verified to hold."""
        if self.read_by_policy is None:
            return "Nothing verified: no policy was in force when it was read"
        if self.status is DeviceStatus.HOLDS:
            return f"Verified to hold revision {self.read_by_policy}"
        against = f"held against revision {self.read_by_policy}"
        return f"Not verified: {against}, and {_SHORT[self.status]}"

    @property
    def agency(self) -> str:
        return self.owner.key

    @property
    def look_up(self) -> LimitsPage | None:
        """By age on this very page, with the numbers of its model where the policy knows it."""
        if self.policy is None:
            return None
        categories, models = self.policy.profile.categories, self.policy.profile.models
        model = self.device.model if self.device.model in models else ""
        return LimitsPage(self.owner, self.policy, Ruler.of(categories, None), model=model)


@router.get("/{agency}/d/{tag}")
def label(
    request: Request, person: MaybePerson, tx: Reading, now: Now, agency: str, tag: str
) -> Response:
    """How much is astray, and no value: a shift check begun here must be blind."""
    page = _page(request, person, tx, now, agency, tag)
    return _shown(request, "limits/device.html", page)


@router.get("/{agency}/d/{tag}/values")
def values(
    request: Request, person: MaybePerson, tx: Reading, now: Now, agency: str, tag: str
) -> Response:
    """What differs, and what to set by hand: for whoever treats somebody now. A shift check from
    this phone is not blind for a while."""
    page = _page(request, person, tx, now, agency, tag)
    answer = _shown(request, "limits/device_values.html", page)
    note_shown(answer, request, page.owner, page.device.tag, now)
    return answer


def _shown(request: Request, template: str, page: LabelPage) -> Response:
    owner = page.owner
    answer = render(request, template, page, agency_name=owner.name, zone=owner.time_zone)
    return zipped(request, answer)


def _page(
    request: Request, person: MaybePerson, tx: Reading, now: Now, agency: str, tag: str
) -> LabelPage:
    owner = request.app.state.agencies.of(agency)
    check_crew(request, tx, owner)
    found = fleet.device(tx, agency_id=owner.id, tag=tag, now=now)
    known = found.now
    last = policy_to_show(tx, agency_id=owner.id, now=now)
    policy = None if last is None or last.withdrawn_at is not None else last
    return LabelPage(
        owner=owner,
        device=found.device,
        policy=policy,
        withdrawn=None if policy else last,
        status=found.status,
        verdict=_STATUS[found.status],
        read_at=None if known is None else known.oldest_read_at,
        read_by_policy=None if known is None else known.revision,
        differences=list(_differences(found, policy)),
        hand_sets=hand_sets(policy.by_hand_on(found.device.model)) if policy else [],
        clearance=clearance_of_device(
            tx, agency_id=owner.id, device=found.device, known=known, now=now
        ),
        quarantined=device_hold(tx, agency_id=owner.id, tag=tag).standing is not None,
        may_read=person is None or may(person, Deed.READ_DEVICE),
        gap="" if found.gap is None else found.gap.words(now),
        checked=latest_check(tx, agency_id=owner.id, tag=tag),
        astray_since=min((one.opened_at for one in found.findings), default=None),
    )


def _differences(found: fleet.DevicePage, policy: PolicyShown | None) -> Iterator[Difference]:
    for one in found.presets:
        if one.latest is None:
            continue
        report = compared(one.latest)
        rendered = one.latest.rendered
        carried = report.report.preset if rendered is None else rendered.carries
        for line in report.deviating:
            waived = policy.waived(carried, base_alarm(line.alarm)) if policy else ()
            yield Difference(report.preset, line.sentence, line.severity == "unsafe", waived)
