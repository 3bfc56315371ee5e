"""A file of readings held against one signed profile.

Only `power-on` and `after-category` say what a device holds for the next patient, and the first
of them not after so short a pause that the device kept what a crew had changed; a reading in
use within the latitude is tailoring, not a deviation. Of several readings of an alarm the latest
counts. The critical set is every alarm that the profile sets on or off.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import (
    DEEP,
    Deviation,
    Direction,
    base_alarm,
    compare_preset,
    is_stated,
)
from app.domain.device_reports import FoundOff, FoundOn, Reading, StateRead, Told
from app.domain.hints import hints
from app.domain.intervals import Interval, hypergeometric_bounds, wilson
from app.domain.option_judgement import ANY_PRESET, option_deviations
from app.domain.power_pauses import counts, pause_words
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import UNIT_STEPS, Latitude, On, convert, round_to
from app.domain.silence import SPO2_AVERAGING


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading of one alarm, or with preset `*` of one option."""

    line: int
    device: str
    read_at: datetime
    state_read: StateRead
    preset: str
    alarm: str
    reading: Reading
    model: str | None = None
    told: Told = field(default_factory=Told)


@dataclass(frozen=True)
class DeviceDeviation:
    device: str
    preset: str
    deviation: Deviation
    read_at: datetime
    state_read: StateRead
    rendered: RenderedPreset | None
    hint: str | None = None


@dataclass(frozen=True)
class Conformity:
    """How many of the devices in the file hold, differ, or were not read enough to say.

    `share` bounds the share of devices that hold, with 95 % confidence.
    """

    holds: int
    differs: int
    not_judged: int
    fleet: int | None
    share: Interval


@dataclass(frozen=True)
class Audit:
    fingerprint: str
    readings: int
    deviations: tuple[DeviceDeviation, ...]
    conformity: Conformity
    not_judged: Mapping[str, str]  # device → how much was read
    pauses: Mapping[str, str]  # device → what to know of the pauses before it was switched on


def audit(profile: Profile, rows: Iterable[ReadingRow], fleet: int | None = None) -> Audit:
    """Raises ValueError where the fleet is smaller than the devices read."""
    by_device: dict[str, list[ReadingRow]] = defaultdict(list)
    readings = 0
    for row in rows:
        readings += 1
        by_device[row.device].append(row)
    verdicts = [_Device(profile, device, found).judge() for device, found in by_device.items()]
    differs = sum(verdict.differs for verdict in verdicts)
    unjudged = {v.device: v.missing for v in verdicts if v.missing and not v.differs}
    holds = len(verdicts) - differs - len(unjudged)
    conformity = Conformity(
        holds, differs, len(unjudged), fleet, _share(holds, holds + differs, fleet)
    )
    return Audit(
        fingerprint=profile.fingerprint,
        readings=readings,
        deviations=tuple(found for verdict in verdicts for found in verdict.deviations),
        conformity=conformity,
        not_judged=unjudged,
        pauses={verdict.device: verdict.pauses for verdict in verdicts if verdict.pauses},
    )


def _share(holds: int, judged: int, fleet: int | None) -> Interval:
    return wilson(holds, judged) if fleet is None else hypergeometric_bounds(holds, judged, fleet)


@dataclass(frozen=True)
class _Verdict:
    device: str
    deviations: tuple[DeviceDeviation, ...]
    differs: bool
    missing: str  # empty: everything critical was read
    pauses: str


class _Device:
    def __init__(self, profile: Profile, device: str, rows: list[ReadingRow]) -> None:
        self.profile = profile
        self.device = device
        self.rows = rows
        self.model = next((row.model for row in rows if row.model), None)
        self.presets = rendered_presets(profile, self.model)
        self.averaging = profile.number_option(SPO2_AVERAGING) or Decimal(0)
        known = profile.models.get(self.model or "")
        self.retention = None if known is None else known.retention_min

    def judge(self) -> _Verdict:
        held = [row for row in self.rows if self._counts(row)]
        hasty = [row for row in self.rows if row.state_read.counts and not self._counts(row)]
        straying = self._straying(held) + self._option_deviations(held)
        used = self._deviations([r for r in self.rows if r.state_read is StateRead.IN_USE])
        stored = [row for row in self.rows if row.state_read is StateRead.STORED_PRESET]
        use = [found for found in used if not self._tailored(found)]
        differs = any(f.deviation.direction is not Direction.UNREAD for f in straying)
        told = (*straying, *use, *self._deviations(hasty), *self._deviations(stored))
        return _Verdict(self.device, told, differs, self._missing(held), self._pauses())

    def _counts(self, row: ReadingRow) -> bool:
        return counts(row.state_read, row.told.minutes_off, self.retention)

    def _pauses(self) -> str:
        told = {(row.state_read, row.told.minutes_off): None for row in self.rows}
        words = {pause_words(*one, self.retention): None for one in told}
        return "; ".join(word for word in words if word)

    def _tailored(self, found: DeviceDeviation) -> bool:
        condition = ALARM_CONDITIONS[base_alarm(found.deviation.alarm)]
        shown = found.rendered.unit_of(condition) if found.rendered else None
        return tailored(found.deviation, shown)

    def _missing(self, held: list[ReadingRow]) -> str:
        last = {(row.preset, row.alarm): row for row in sorted(held, key=lambda row: row.read_at)}
        read = {place for place, row in last.items() if row.reading.state != "could-not-read"}
        lacking = [name for name, preset in self.presets.items() if not _whole(preset, read)]
        whole = len(self.presets) - len(lacking)
        return f"{whole} of {len(self.presets)} presets read" if lacking else ""

    def _straying(self, held: list[ReadingRow]) -> list[DeviceDeviation]:
        """By state: what a device holds after choosing a category says nothing of power-on."""
        states = dict.fromkeys(row.state_read for row in held)
        found = [
            one
            for state in states
            for one in self._deviations([row for row in held if row.state_read is state])
        ]
        return list({(one.preset, one.deviation): one for one in found}.values())

    def _deviations(self, rows: list[ReadingRow]) -> list[DeviceDeviation]:
        found = []
        for name, preset in self.presets.items():
            for layer in _latest([row for row in rows if row.preset == name]):
                found += self._of_preset(name, preset, layer)
        return found

    def _of_preset(
        self, name: str, preset: RenderedPreset, layer: dict[str, ReadingRow]
    ) -> list[DeviceDeviation]:
        readings = {alarm: row.reading for alarm, row in layer.items()}
        deviations = compare_preset(preset, readings, spo2_averaging_s=self.averaging)
        hinted = hints(preset, deviations, self.presets)
        return [
            DeviceDeviation(
                self.device,
                name,
                deviation,
                layer[deviation.alarm].read_at,
                layer[deviation.alarm].state_read,
                preset,
                hinted.get(deviation.alarm),
            )
            for deviation in deviations
        ]

    def _option_deviations(self, rows: list[ReadingRow]) -> list[DeviceDeviation]:
        found = []
        for layer in _latest([row for row in rows if row.preset == ANY_PRESET]):
            readings = {key: row.reading for key, row in layer.items()}
            for one in option_deviations(self.profile, self.model, readings):
                row = layer[one.alarm]
                found.append(
                    DeviceDeviation(self.device, ANY_PRESET, one, row.read_at, row.state_read, None)
                )
        return found


def _whole(preset: RenderedPreset, read: set[tuple[str, str]]) -> bool:
    return all(
        (preset.preset, alarm) in read
        for alarm, setting in preset.settings.items()
        if is_stated(setting)
    )


def _latest(rows: Iterable[ReadingRow]) -> list[dict[str, ReadingRow]]:
    """The latest reading of every alarm; equally late ones make further layers."""
    newest: dict[str, list[ReadingRow]] = {}
    for row in rows:
        kept = newest.get(row.alarm)
        if kept is None or row.read_at > kept[0].read_at:
            newest[row.alarm] = [row]
        elif row.read_at == kept[0].read_at:
            kept.append(row)
    depth = max(map(len, newest.values()), default=0)
    return [
        {alarm: kept[layer] for alarm, kept in newest.items() if layer < len(kept)}
        for layer in range(depth)
    ]


def tailored(deviation: Deviation, shown: str | None = None) -> bool:
    """Whether a reading in use stays within what the policy lets a crew change for one patient:
    the limit, or off. `shown` is the unit of a reading that names none."""
    signed, found = deviation.signed, deviation.found
    if not isinstance(signed, On) or signed.latitude is None or deviation.alarm.endswith(DEEP):
        return False
    if isinstance(found, FoundOff):
        return signed.latitude.off_by == "crew"
    if not isinstance(found, FoundOn) or found.limit is None or not _else_as_signed(signed, found):
        return False
    condition = ALARM_CONDITIONS[deviation.alarm]
    unit = found.unit or shown or condition.unit
    latitude = _in_unit(signed.latitude, signed.unit or condition.unit, unit, condition.step)
    start, end = latitude.start, latitude.end
    return start is not None and end is not None and start <= found.limit <= end


def _else_as_signed(signed: On, found: FoundOn) -> bool:
    pairs = (
        (signed.priority, found.priority),
        (signed.delay_s, found.delay_s),
        (signed.latching, found.latching),
    )
    return all(None in pair or pair[0] == pair[1] for pair in pairs)


def _in_unit(latitude: Latitude, written: str | None, unit: str | None, step: Decimal) -> Latitude:
    """In another unit than the policy is written in, the ends are rounded to that unit's step."""
    if written is None or unit is None or written == unit:
        return latitude
    start, end = (
        None
        if value is None
        else round_to(convert(value, written, unit), UNIT_STEPS.get(unit, step))
        for value in (latitude.start, latitude.end)
    )
    return Latitude(start, end, latitude.off_by)
