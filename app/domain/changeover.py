"""A new revision reaches the devices one by one; until then they hold the one before.

The judgement of a report stays the one against the revision in force when the device was read.
This is the gap to the revision in force today, which stands beside it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum

from app.domain.agency_choices import AgencyChoices
from app.domain.comparison import Deviation, Direction, compare_preset, direction_of
from app.domain.device_reports import Reading
from app.domain.findings import Severity
from app.domain.fleet import Column, was_read
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.silence import SPO2_AVERAGING

CHANGEOVER = AgencyChoices().changeover
LOOKED_BACK = 3
"""Earlier revisions that a device is held against: what is older than those explains nothing."""
Readings = Mapping[str, Reading]


class Reach(StrEnum):
    REACHED = "reached"
    NOT_YET = "not-yet-reached"
    MISSED = "missed"
    UNSAFE = "unsafe"
    OTHERWISE = "otherwise"


@dataclass(frozen=True)
class Gap:
    """What a device is known to hold, beside the revision in force today.

    `differs`: readings that deviate from it. `as_in`: the older revision that every preset which
    deviates holds as a whole; a device on which single limits went back to it holds neither.
    """

    today: int
    began: datetime
    differs: int = 0
    unsafe: bool = False
    as_in: int | None = None
    changeover: timedelta = CHANGEOVER

    def reach(self, now: datetime) -> Reach:
        if not self.differs:
            return Reach.REACHED
        if self.unsafe:
            return Reach.UNSAFE
        if self.as_in is None:
            return Reach.OTHERWISE
        return Reach.NOT_YET if now < self.began + self.changeover else Reach.MISSED

    def words(self, now: datetime) -> str:
        """Empty where the revision in force has reached it."""
        reach = self.reach(now)
        held = "" if self.as_in is None else f"holds revision {self.as_in}"
        return {
            Reach.REACHED: "",
            Reach.NOT_YET: f"not yet reached by revision {self.today}: {held}",
            Reach.MISSED: f"missed by the changeover to revision {self.today}: {held}",
            Reach.UNSAFE: ", ".join(
                word for word in (f"unsafe beside revision {self.today}", held) if word
            ),
            Reach.OTHERWISE: f"differs from revision {self.today}",
        }[reach]


@dataclass(frozen=True)
class InForce:
    """The revision in force today, and those before it that a device may still hold."""

    number: int
    began: datetime
    profile: Profile
    bounds: OuterBounds
    older: Mapping[int, Profile]
    changeover: timedelta = CHANGEOVER

    def gap(self, model: str, readings: Mapping[Column, Reading]) -> Gap:
        """What could not be read, or is of a preset that it does not have, is not judged."""
        presets = rendered_presets(self.profile, model)
        by_preset = {name: found for name, found in _by_preset(readings) if name in presets}
        deviations = {
            name: [one for one in self.deviations(presets[name], found) if was_read(one.found)]
            for name, found in by_preset.items()
        }
        astray = {name: by_preset[name] for name, found in deviations.items() if found}
        told = [one for found in deviations.values() for one in found]
        return Gap(
            self.number,
            self.began,
            differs=len(told),
            unsafe=any(one.severity is Severity.UNSAFE for one in told),
            as_in=self._as_in(model, astray),
            changeover=self.changeover,
        )

    def deviations(self, preset: RenderedPreset, found: Readings) -> list[Deviation]:
        averaging = self.profile.number_option(SPO2_AVERAGING) or Decimal(0)
        return compare_preset(preset, found, self.bounds, averaging)

    def _as_in(self, model: str, astray: Mapping[str, Readings]) -> int | None:
        holding = [
            number
            for number, profile in self.older.items()
            if _holds(rendered_presets(profile, model), astray)
        ]
        return max(holding) if astray and holding else None


def _by_preset(readings: Mapping[Column, Reading]) -> Iterable[tuple[str, Readings]]:
    found: dict[str, dict[str, Reading]] = {}
    for (preset, alarm), reading in readings.items():
        found.setdefault(preset, {})[alarm] = reading
    return found.items()


def _holds(presets: Mapping[str, RenderedPreset], found: Mapping[str, Readings]) -> bool:
    return all(
        name in presets
        and all(
            direction_of(presets[name], alarm, reading) in (None, Direction.UNREAD)
            for alarm, reading in readings.items()
        )
        for name, readings in found.items()
    )
