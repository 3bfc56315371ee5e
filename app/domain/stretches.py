"""A part of the fleet that makes a job list."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from app.domain.known_devices import DeviceStatus

_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Stretch:
    """`start` and `end`: whole days since the oldest reading that counts, both included; a device
    that was never read is older than any. `never`: only those. `overdue`: only those that nobody
    has read within the check interval.
    """

    station: str = ""
    start: int | None = None
    end: int | None = None
    status: DeviceStatus | None = None
    overdue: bool = False
    never: bool = False

    @property
    def chosen(self) -> bool:
        return self != Stretch()

    def read_by(self, now: datetime) -> datetime | None:
        """The last moment of a reading that is old enough; None: any is."""
        return now - self.start * _DAY if self.start else None

    def read_after(self, now: datetime) -> datetime | None:
        """Just before the first moment of a reading that is new enough; None: any is."""
        return None if self.end is None else now - (self.end + 1) * _DAY
