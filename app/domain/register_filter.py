"""Narrowing the register down to what somebody looks for."""

from dataclasses import dataclass
from datetime import datetime

from app.domain.clearances import Clearance
from app.domain.known_devices import DeviceStatus, Mark


@dataclass(frozen=True)
class Registered:
    """`overdue`: past the check interval, or never read. `held`: as on the wall."""

    mark: Mark
    held: DeviceStatus
    clearance: Clearance
    overdue: bool

    @property
    def oldest_read_at(self) -> datetime | None:
        return self.mark.oldest_read_at


@dataclass(frozen=True)
class Wanted:
    """Empty narrows nothing, but that retired devices show only where they are asked for."""

    station: str = ""
    model: str = ""
    status: str = ""
    clearance: str = ""
    overdue: bool = False
