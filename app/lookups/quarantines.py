from dataclasses import dataclass

from sqlmodel import Session

from app.domain.devices import Device
from app.domain.quarantines import Quarantine
from app.storage import quarantines as stored
from app.storage.devices import device_tagged


@dataclass(frozen=True)
class DeviceHold:
    """`standing` None: it is not in quarantine now. `past`: the latest first."""

    device: Device
    standing: Quarantine | None
    past: tuple[Quarantine, ...]


def device_hold(tx: Session, *, agency_id: int, tag: str) -> DeviceHold:
    device = device_tagged(tx, agency_id=agency_id, tag=tag)
    held = stored.quarantines_of(tx, device.id)
    return DeviceHold(
        device,
        next((one for one in held if one.stands), None),
        tuple(one for one in held if not one.stands),
    )


def quarantined(tx: Session, *, agency_id: int) -> frozenset[str]:
    """Tags of the devices that nobody may touch."""
    return stored.standing_on(tx, agency_id)
