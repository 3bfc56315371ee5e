"""What is known of the devices: judged reports, and the latest of them on each preset."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.audit import tailored
from app.domain.comparison import (
    Deviation,
    Direction,
    base_alarm,
    compare_preset,
    is_stated,
)
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import CouldNotRead, NotRead, Origin, Reading, StateRead
from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.outer_bounds import OuterBounds
from app.domain.power_pauses import counts
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.silence import SPO2_AVERAGING

Column = tuple[str, str]
"""A preset and an alarm."""
Verdicts = Mapping[str, tuple[Direction, Severity]]
"""By alarm; only what deviates."""


class DeviceStatus(StrEnum):
    HOLDS = "holds"
    DIFFERS = "differs"
    UNSAFE = "unsafe"
    NOT_JUDGED = "not-judged"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


@dataclass(frozen=True)
class Tally:
    """Deviations by what they mean for a patient, switched ones included.

    `missing`: alarms of the critical set that were not read, or could not be.
    """

    looser: int = 0
    tighter: int = 0
    other: int = 0
    missing: int = 0
    worst: Severity | None = None

    def __add__(self, more: "Tally") -> "Tally":
        return Tally(
            self.looser + more.looser,
            self.tighter + more.tighter,
            self.other + more.other,
            self.missing + more.missing,
            _worst([self.worst, more.worst]),
        )


@dataclass(frozen=True)
class StoredReport:
    """`revision` is the number it was judged by; None: nothing was in force when it was read.

    `reader` sent it in; `reader_told` is who read the device, where a file or a program tells.
    """

    id: int
    device: str
    model: str
    preset: str
    state_read: StateRead
    read_at: datetime
    received_at: datetime
    reader_id: int
    reader: str
    software: str
    trigger: str
    minutes_off: int | None
    revision: int | None
    readings: Mapping[str, Reading]
    verdicts: Verdicts
    origin: Origin
    reader_told: str
    device_clock: str

    @property
    def read_by(self) -> str:
        if self.origin is Origin.FORM:
            return self.reader
        return f"{self.reader_told or 'somebody not named'} (sent in by {self.reader})"


@dataclass(frozen=True)
class StateNow:
    """The latest report of one preset in one state, in short."""

    report: int
    read_at: datetime
    tally: Tally


@dataclass(frozen=True)
class PresetNow:
    """One preset by the state it was read in, which are judged apart.

    What a device holds after choosing a category says nothing of what it holds at power-on, so a
    good reading of one state never hides a bad one of the other.
    """

    states: Mapping[StateRead, StateNow]

    @property
    def telling(self) -> StateNow:
        """The worst of them; among equals the latest."""
        return max(self.states.values(), key=lambda state: (-_weight(state.tally), state.read_at))

    @property
    def report(self) -> int:
        return self.telling.report

    @property
    def tally(self) -> Tally:
        return self.telling.tally

    @property
    def read_at(self) -> datetime:
        return max(state.read_at for state in self.states.values())


@dataclass(frozen=True)
class DeviceNow:
    """What a device is known to hold; `offered`: how many presets its model has, 0 if unknown.

    `readings` are those of the telling report of each preset.
    `revision` is the number that its latest report was judged by.
    """

    presets: Mapping[str, PresetNow]
    readings: Mapping[Column, Reading]
    offered: int
    revision: int | None

    @property
    def tally(self) -> Tally:
        return sum((preset.tally for preset in self.presets.values()), Tally())

    @property
    def oldest_read_at(self) -> datetime:
        return min(preset.read_at for preset in self.presets.values())

    @property
    def latest_read_at(self) -> datetime:
        return max(preset.read_at for preset in self.presets.values())

    def mark(self, device: Device) -> "Mark":
        return Mark(
            device,
            self.tally,
            len(self.presets),
            self.offered,
            self.oldest_read_at,
            self.latest_read_at,
            self.revision,
        )


@dataclass(frozen=True)
class Mark:
    """A device on the wall; nothing but the device is known before its first report."""

    device: Device
    tally: Tally | None = None
    presets_read: int = 0
    presets_offered: int = 0
    oldest_read_at: datetime | None = None
    latest_read_at: datetime | None = None
    revision: int | None = None

    def status(self, *, overdue_before: datetime) -> DeviceStatus:
        """What differed differs until a newer reading; what held does not hold for ever."""
        if self.tally is None or self.oldest_read_at is None:
            return DeviceStatus.NOT_JUDGED
        if self.tally.worst is Severity.UNSAFE:
            return DeviceStatus.UNSAFE
        if self.tally.worst is not None:
            return DeviceStatus.DIFFERS
        everything = self.presets_read >= self.presets_offered and not self.tally.missing
        if self.revision is None or not everything or self.oldest_read_at < overdue_before:
            return DeviceStatus.NOT_JUDGED
        return DeviceStatus.HOLDS


@dataclass(frozen=True)
class Judgement:
    """Of one report. `offered`: the presets of the device's model in that revision.

    `counts`: nothing in it was left from the last patient, as far as the policy knows the model.
    """

    deviations: tuple[Deviation, ...] = ()
    offered: tuple[str, ...] = ()
    missing: int = 0
    counts: bool = True

    @property
    def verdicts(self) -> Verdicts:
        return {found.alarm: (found.direction, found.severity) for found in self.deviations}

    @property
    def tally(self) -> Tally:
        return tally_of(self.verdicts.values(), missing=self.missing)


def judge(
    profile: Profile,
    *,
    model: str,
    preset: str,
    state_read: StateRead,
    readings: Mapping[str, Reading],
    minutes_off: int | None = None,
    bounds: OuterBounds = DEFAULT_BOUNDS,
) -> Judgement:
    """Raises KeyError if the model has no such preset in this profile."""
    presets = rendered_presets(profile, model)
    rendered = presets[preset]
    averaging = profile.number_option(SPO2_AVERAGING) or Decimal(0)
    deviations = compare_preset(rendered, readings, bounds, averaging)
    if state_read is StateRead.IN_USE:
        deviations = [found for found in deviations if not _tailored(found, rendered)]
    stated = [alarm for alarm, setting in rendered.settings.items() if is_stated(setting)]
    return Judgement(
        deviations=tuple(deviations),
        offered=tuple(presets),
        missing=sum(not was_read(readings.get(alarm, NotRead())) for alarm in stated),
        counts=counts(state_read, minutes_off, rendered.retention_min),
    )


def _tailored(found: Deviation, rendered: RenderedPreset) -> bool:
    return tailored(found, rendered.unit_of(ALARM_CONDITIONS[base_alarm(found.alarm)]))


def was_read(reading: Reading) -> bool:
    return not isinstance(reading, NotRead | CouldNotRead)


def tally_of(found: Iterable[tuple[Direction, Severity]], *, missing: int) -> Tally:
    """What could not be read is no deviation; it is among the missing."""
    counted = [one for one in found if one[0] is not Direction.UNREAD]
    leans = Counter(_LEAN[direction] for direction, _ in counted)
    worst = _worst(severity for _, severity in counted)
    return Tally(leans["looser"], leans["tighter"], leans["other"], missing, worst)


def known_after(
    known: DeviceNow | None,
    report: StoredReport,
    judgement: Judgement,
    readings_of: Callable[[int], Mapping[str, Reading]],
) -> DeviceNow | None:
    """None if the report tells nothing new: it does not count, or a later one is known.

    `readings_of` an earlier report, asked for where that one is still the worse.
    """
    presets = {} if known is None else dict(known.presets)
    before = presets[report.preset].states if report.preset in presets else {}
    same = before.get(report.state_read)
    told = report.state_read.counts and judgement.counts
    if not told or (same and same.read_at > report.read_at):
        return None
    latest = known is None or report.read_at >= known.latest_read_at
    state = StateNow(report.id, report.read_at, judgement.tally)
    preset = PresetNow({**before, report.state_read: state})
    presets[report.preset] = preset
    telling = report.readings if preset.report == report.id else readings_of(preset.report)
    readings = (
        {} if known is None else {c: r for c, r in known.readings.items() if c[0] != report.preset}
    )
    readings |= {(report.preset, alarm): reading for alarm, reading in telling.items()}
    return DeviceNow(
        presets=presets,
        readings=readings,
        offered=len(judgement.offered) if latest or known is None else known.offered,
        revision=report.revision if latest or known is None else known.revision,
    )


_LEAN = {
    Direction.LOOSER: "looser",
    Direction.SWITCHED_OFF: "looser",
    Direction.TIGHTER: "tighter",
    Direction.SWITCHED_ON: "tighter",
    Direction.OTHER: "other",
}


def _weight(tally: Tally) -> int:
    return len(Severity) if tally.worst is None else tally.worst.weight


def _worst(severities: Iterable[Severity | None]) -> Severity | None:
    found = [severity for severity in severities if severity is not None]
    return min(found, key=lambda severity: severity.weight, default=None)
