"""Where the label on a device leads: what should be on it, and what it is last known to hold."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.domain.clearances import Clearance
from app.domain.comparison import base_alarm
from app.domain.devices import Device
from app.domain.known_devices import DeviceStatus
from app.domain.permissions import Deed, may
from app.domain.waivers import Waiver
from app.lookups import fleet
from app.lookups.clearances import clearance_of_device
from app.lookups.limits import PolicyInForce, policy_in_force
from app.lookups.quarantines import device_hold
from app.web.by_hand import HandSet, hand_sets
from app.web.compared import compared
from app.web.render import render
from app.web.sessions import MaybePerson
from app.web.transactions import Now, Reading

router = APIRouter()
_STATUS = {
    DeviceStatus.HOLDS: "It held the policy when it was last read.",
    DeviceStatus.DIFFERS: "It does not hold the policy.",
    DeviceStatus.UNSAFE: "Unsafe: a danger could pass without an alarm.",
    DeviceStatus.NOT_JUDGED: "It is not known what this device holds.",
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
    """`read_at` None: it was never read. `read_by_policy`: the revision it was held against."""

    agency: str
    device: Device
    policy: PolicyInForce | None
    status: DeviceStatus
    verdict: str
    read_at: datetime | None
    read_by_policy: int | None
    differences: list[Difference]
    hand_sets: list[HandSet]
    clearance: Clearance
    quarantined: bool
    may_read: bool


@router.get("/{agency}/d/{tag}")
def label(
    request: Request, person: MaybePerson, tx: Reading, now: Now, agency: str, tag: str
) -> Response:
    owner = request.app.state.agencies.of(agency)
    found = fleet.device(tx, agency_id=owner.id, tag=tag, now=now)
    known = found.now
    policy = policy_in_force(tx, agency_id=owner.id, now=now)
    page = LabelPage(
        agency=owner.key,
        device=found.device,
        policy=policy,
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
    )
    return render(request, "limits/device.html", page, agency_name=owner.name, zone=owner.time_zone)


def _differences(found: fleet.DevicePage, policy: PolicyInForce | None) -> Iterator[Difference]:
    for one in found.presets:
        if one.latest is None:
            continue
        report = compared(one.latest)
        rendered = one.latest.rendered
        carried = report.report.preset if rendered is None else rendered.carries
        for line in report.deviating:
            waived = policy.waived(carried, base_alarm(line.alarm)) if policy else ()
            yield Difference(report.preset, line.sentence, line.severity == "unsafe", waived)
