"""Reports of devices, and how the policy judges them."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from functools import cached_property

from app.domain.agency_choices import AgencyChoices
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
from app.domain.findings import Severity
from app.domain.option_judgement import ANY_PRESET, option_deviations
from app.domain.outer_bounds import OuterBounds
from app.domain.power_pauses import counts
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.rules.life_threats import APNOEAS
from app.domain.settings_of_alarms import On
from app.domain.silence import SPO2_AVERAGING, alarm_of, side_of

EVERY_ALARM = AgencyChoices()
Column = tuple[str, str]
"""A preset and an alarm."""
Verdicts = Mapping[str, tuple[Direction, Severity]]
"""By alarm; only what deviates."""


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
            self.worst if more.worst is None else _worst([self.worst, more.worst]),
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
    def is_astray(self) -> bool:
        """Somebody must act on what it found."""
        return any(severity is not Severity.NOTE for _, severity in self.verdicts.values())

    @property
    def read_by(self) -> str:
        if self.origin is Origin.FORM:
            return self.reader
        if self.origin is Origin.CREW:
            return f"{self.reader} (sent in by crew)"
        if self.origin is Origin.SEEN:
            return f"{self.reader} (sent in by crew; the values were seen before)"
        if self.origin is Origin.SETTLED:
            return self.reader_told
        return f"{self.reader_told or 'somebody not named'} (sent in by {self.reader})"


@dataclass(frozen=True)
class Judgement:
    """Of one report. `offered`: the presets of the device's model in that revision.

    `counts`: nothing in it was left from the last patient, as far as the policy knows the model.
    """

    deviations: tuple[Deviation, ...] = ()
    offered: tuple[str, ...] = ()
    missing: int = 0
    counts: bool = True

    @cached_property
    def verdicts(self) -> Verdicts:
        return {found.alarm: (found.direction, found.severity) for found in self.deviations}

    @cached_property
    def tally(self) -> Tally:
        return tally_of(self.verdicts.values(), missing=self.missing)


@dataclass(frozen=True)
class HowRead:
    """`beside`: what earlier looks of the same reading found."""

    state_read: StateRead
    minutes_off: int | None = None
    beside: Mapping[str, Reading] = field(default_factory=dict)


def judge(
    profile: Profile,
    *,
    model: str,
    preset: str,
    readings: Mapping[str, Reading],
    how: HowRead,
    bounds: OuterBounds = DEFAULT_BOUNDS,
    choices: AgencyChoices = EVERY_ALARM,
) -> Judgement:
    """Raises KeyError if the model has no such preset in this profile."""
    presets = rendered_presets(profile, model)
    if preset == ANY_PRESET:
        return _of_options(profile, model, readings, how)
    rendered = presets[preset]
    averaging = profile.number_option(SPO2_AVERAGING) or Decimal(0)
    deviations = compare_preset(rendered, readings, bounds, averaging, how.beside)
    if how.state_read is StateRead.IN_USE:
        deviations = [found for found in deviations if not _tailored(found, rendered)]
    critical = critical_of(rendered, choices)
    return Judgement(
        deviations=tuple(deviations),
        offered=tuple(presets),
        missing=sum(not was_read(readings.get(alarm, NotRead())) for alarm in critical),
        counts=counts(how.state_read, how.minutes_off, rendered.retention_min),
    )


def _of_options(
    profile: Profile, model: str, readings: Mapping[str, Reading], how: HowRead
) -> Judgement:
    """None of them is critical, and no crew has a latitude."""
    presets = rendered_presets(profile, model)
    retention = next((preset.retention_min for preset in presets.values()), None)
    return Judgement(
        deviations=tuple(option_deviations(profile, model, readings)),
        offered=tuple(presets),
        counts=counts(how.state_read, how.minutes_off, retention),
    )


def stated_alarms(rendered: RenderedPreset) -> list[str]:
    """What the policy sets on or off."""
    return [alarm for alarm, setting in rendered.settings.items() if is_stated(setting)]


def critical_of(rendered: RenderedPreset, choices: AgencyChoices) -> list[str]:
    """What must be read for the preset to be judged; all of it where the policy states nothing
    of what the agency chose."""
    stated = stated_alarms(rendered)
    return [alarm for alarm in stated if choices.is_critical(alarm)] or stated


def covering_alarms(rendered: RenderedPreset, critical: Collection[str]) -> list[str]:
    """Others that are on and guard against the same danger: where one of the critical ones strays,
    they decide how grave that is."""
    sides = {side_of(ALARM_CONDITIONS[alarm]) for alarm in critical}
    alarms = {alarm_of(quantity, side).key for group, side in sides for quantity in group}
    alarms |= set(APNOEAS) if alarms.intersection(APNOEAS) else set()
    return [
        alarm
        for alarm in alarms
        if alarm not in critical and isinstance(rendered.settings.get(alarm), On)
    ]


def _tailored(found: Deviation, rendered: RenderedPreset) -> bool:
    return tailored(found, rendered.unit_of(ALARM_CONDITIONS[base_alarm(found.alarm)]))


def was_read(reading: Reading) -> bool:
    return not isinstance(reading, NotRead | CouldNotRead)


def tally_of(found: Iterable[tuple[Direction, Severity]], *, missing: int) -> Tally:
    """What could not be read is no deviation; it is among the missing."""
    counted = [one for one in found if one[0] is not Direction.UNREAD]
    if not counted:
        return Tally(missing=missing)
    leans = Counter(_LEAN[direction] for direction, _ in counted)
    worst = _worst(severity for _, severity in counted)
    return Tally(leans["looser"], leans["tighter"], leans["other"], missing, worst)


def lean_of(direction: Direction) -> str:
    """looser, tighter or other; what could not be read leans nowhere."""
    return _LEAN[direction]


_LEAN = {
    Direction.LOOSER: "looser",
    Direction.SWITCHED_OFF: "looser",
    Direction.TIGHTER: "tighter",
    Direction.SWITCHED_ON: "tighter",
    Direction.OTHER: "other",
}


def _worst(severities: Iterable[Severity | None]) -> Severity | None:
    found = [severity for severity in severities if severity is not None]
    return min(found, key=lambda severity: severity.weight, default=None)
