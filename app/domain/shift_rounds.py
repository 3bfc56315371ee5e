"""Are the devices checked every shift? Counted in windows as long as the agency's check time, back
from now: a window is done if a check lies in it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.domain.devices import Device

LOOKED_BACK = timedelta(days=28)


@dataclass(frozen=True)
class DeviceRound:
    """`windows`: done or not, the latest first; none from before the agency's first check."""

    device: Device
    last: datetime | None
    windows: tuple[bool, ...]

    @property
    def overdue(self) -> bool:
        return not self.windows[0]

    @property
    def streak(self) -> int:
        """Checks in time one after another; the window that runs is not held against it."""
        closed = self.windows if self.windows[0] else self.windows[1:]
        return next((n for n, done in enumerate(closed) if not done), len(closed))


@dataclass(frozen=True)
class Rounds:
    """The devices in service; those without a check first, then the longest waiting."""

    devices: tuple[DeviceRound, ...]

    @property
    def overdue(self) -> tuple[DeviceRound, ...]:
        return tuple(one for one in self.devices if one.overdue)

    @property
    def done(self) -> int:
        return sum(sum(one.windows) for one in self.devices)

    @property
    def wanted(self) -> int:
        return sum(len(one.windows) for one in self.devices)


def rounds(
    devices: Iterable[Device],
    checks: Mapping[str, Sequence[datetime]],
    *,
    every: timedelta,
    now: datetime,
) -> Rounds:
    """`checks` by tag, each when the device was looked at."""
    first = min((at for times in checks.values() for at in times), default=now)
    number = max(1, min(LOOKED_BACK // every, -((first - now) // every)))
    found = [_round(one, checks.get(one.tag, ()), number, every, now) for one in devices]
    return Rounds(tuple(sorted(found, key=_first_the_longest)))


def _round(
    device: Device, times: Sequence[datetime], number: int, every: timedelta, now: datetime
) -> DeviceRound:
    done = {(now - at) // every for at in times if at <= now}
    windows = tuple(window in done for window in range(number))
    return DeviceRound(device, max(times, default=None), windows)


def _first_the_longest(one: DeviceRound) -> tuple[bool, float, str]:
    since = 0.0 if one.last is None else one.last.timestamp()
    return one.last is not None, since, one.device.tag
