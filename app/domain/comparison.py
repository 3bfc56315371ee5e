"""One alarm's difference between the signed setting and what was found.

Direction: switched before looser or tighter, looser before tighter where a reading is both,
those before other. Severity: unsafe where the setting found opens a silent gap at a danger
bound or breaks life-threat-off; otherwise off-protocol; unread is a note.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    NotRead,
    Reading,
)
from app.domain.findings import Severity
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Option, Settings
from app.domain.rendering import RenderedPreset
from app.domain.rules.life_threats import ARRESTS, threats
from app.domain.settings_of_alarms import (
    DeepLine,
    NoPolicy,
    Off,
    On,
    Priority,
    Setting,
    convert,
)
from app.domain.silence import Silence, Watch, side_of, silences

DEEP = ".deep"


class Direction(StrEnum):
    LOOSER = "looser"
    TIGHTER = "tighter"
    SWITCHED_OFF = "switched-off"
    SWITCHED_ON = "switched-on"
    OTHER = "other"
    UNREAD = "unread"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


@dataclass(frozen=True)
class Deviation:
    """`alarm` is an alarm condition's key, that with `.deep` for its deep line, or an option's."""

    alarm: str
    signed: Setting | Option | None
    found: Reading
    direction: Direction
    severity: Severity


def base_alarm(alarm: str) -> str:
    return alarm.removesuffix(DEEP)


def compare_preset(
    preset: RenderedPreset,
    readings: Mapping[str, Reading],
    bounds: OuterBounds = DEFAULT_BOUNDS,
    spo2_averaging_s: Decimal = Decimal(0),
) -> list[Deviation]:
    """Everything in which the readings of one preset deviate from what was signed."""
    directions = {
        alarm: direction
        for alarm, reading in readings.items()
        if (direction := direction_of(preset, alarm, reading)) is not None
    }
    judge = _Judge(preset, readings, Watch(preset.settings, bounds, None, spo2_averaging_s))
    return [
        Deviation(
            alarm,
            preset.settings.get(base_alarm(alarm)),
            readings[alarm],
            direction,
            judge.severity(alarm, direction),
        )
        for alarm, direction in directions.items()
    ]


def direction_of(preset: RenderedPreset, alarm: str, reading: Reading) -> Direction | None:
    """None where the reading conforms, or where the policy says nothing."""
    setting = preset.settings.get(base_alarm(alarm))
    if setting is None or isinstance(setting, NoPolicy) or isinstance(reading, NotRead):
        return None
    if isinstance(reading, CouldNotRead):
        return Direction.UNREAD
    signed_on = isinstance(setting, On) and (not alarm.endswith(DEEP) or setting.deep is not None)
    if not isinstance(reading, FoundOn):
        return Direction.SWITCHED_OFF if signed_on else None
    if not signed_on or not isinstance(setting, On):
        return Direction.SWITCHED_ON
    return _of_two_on(preset, alarm, setting, reading)


def _of_two_on(preset: RenderedPreset, alarm: str, setting: On, found: FoundOn) -> Direction | None:
    condition = ALARM_CONDITIONS[base_alarm(alarm)]
    signs = list(_leanings(preset, alarm, condition, setting, found))
    for direction in (Direction.LOOSER, Direction.TIGHTER, Direction.OTHER):
        if direction in signs:
            return direction
    return None


def _leanings(
    preset: RenderedPreset, alarm: str, condition: AlarmCondition, setting: On, found: FoundOn
) -> Iterator[Direction]:
    deep = setting.deep if alarm.endswith(DEEP) else None
    values = preset.deep_values if deep else preset.values
    if found.limit is not None and condition.has_threshold:
        yield from _limit_leaning(values(condition.key, found.unit), condition, found)
    priority, delay = (deep or setting).priority, (deep or setting).delay_s
    if found.delay_s is not None and delay is not None:
        yield from _leaning(found.delay_s - delay)
    if found.priority is not None and priority is not None:
        yield from _leaning(Decimal(found.priority.rank - priority.rank))
    if deep is None and found.latching is not None and setting.latching is not None:
        yield from _leaning(Decimal(setting.latching - found.latching))


def _limit_leaning(
    signed: frozenset[Decimal], condition: AlarmCondition, found: FoundOn
) -> Iterator[Direction]:
    if found.limit is None or found.limit in signed:
        return
    if not signed:
        yield Direction.OTHER
        return
    nearest = min(signed, key=lambda value: abs(value - found.limit))  # type: ignore[operator]
    beyond = found.limit - nearest
    yield from _leaning(-beyond if condition.looser == "down" else beyond)


def _leaning(toward_fewer_alarms: Decimal) -> Iterator[Direction]:
    if toward_fewer_alarms:
        yield Direction.LOOSER if toward_fewer_alarms > 0 else Direction.TIGHTER


@dataclass(frozen=True)
class _Judge:
    """Weighs a deviation with everything else that was found on the same preset."""

    preset: RenderedPreset
    readings: Mapping[str, Reading]
    signed: Watch

    def severity(self, alarm: str, direction: Direction) -> Severity:
        if direction is Direction.UNREAD:
            return Severity.NOTE
        if direction in (Direction.TIGHTER, Direction.SWITCHED_ON):
            return Severity.OFF_PROTOCOL
        key = base_alarm(alarm)
        unsafe = self._opens_silence(key) or self._threatens_life(key)
        return Severity.UNSAFE if unsafe else Severity.OFF_PROTOCOL

    def _found_settings(self) -> Settings:
        """What the device is taken to hold: as found, and as signed where nothing was read."""
        held = dict(self.signed.settings)
        for alarm in dict.fromkeys(map(base_alarm, self.readings)):
            setting = held.get(alarm)
            if setting is not None:
                held[alarm] = as_setting(
                    ALARM_CONDITIONS[alarm],
                    setting,
                    self.readings.get(alarm, NotRead()),
                    self.readings.get(alarm + DEEP, NotRead()),
                    self.preset.unit_of(ALARM_CONDITIONS[alarm]),
                )
        return held

    def _opens_silence(self, key: str) -> bool:
        group, side = side_of(ALARM_CONDITIONS[key])
        found = replace(self.signed, settings=self._found_settings())
        now, before = (
            [s for s in silences(watch, group, side, self.preset.ages) if _danger(s)]
            for watch in (found, self.signed)
        )
        return any(not _within(silence, before) for silence in now)

    def _threatens_life(self, key: str) -> bool:
        found = self._found_settings()
        before = {alarms for alarms, _ in threats(self.signed.settings)}
        broken = [alarms for alarms, _ in threats(found) if alarms not in before]
        return any(key in alarms for alarms in broken) and not self._combined(key)

    def _combined(self, key: str) -> bool:
        """One combined VF/VT alarm counts for both: the other is on, this one is not fitted."""
        fibrillation, tachycardia = ARRESTS[1:]
        other = {fibrillation: tachycardia, tachycardia: fibrillation}.get(key)
        found = self.readings.get(other or "")
        return (
            isinstance(self.readings.get(key), FoundNotFitted)
            and isinstance(found, FoundOn)
            and found.priority in (None, Priority.HIGH)
        )


def _danger(silence: Silence) -> bool:
    return silence.bound.grade == "danger"


def _within(silence: Silence, signed: list[Silence]) -> bool:
    """Whether the signed policy is itself silent at all of these ages and values."""
    return any(
        other.ages.start <= silence.ages.start
        and silence.ages.stop <= other.ages.stop
        and other.width >= silence.width
        for other in signed
    )


def as_setting(
    condition: AlarmCondition, signed: Setting, found: Reading, deep: Reading, unit: str | None
) -> Setting:
    """The setting that a reading amounts to; what was not looked at is taken as signed."""
    if isinstance(found, FoundOff | FoundNotFitted):
        return _deep_line_alone(condition, signed, deep, unit)
    base = signed if isinstance(signed, On) else On(limit=None)
    if isinstance(found, FoundOn):
        base = _overlaid(condition, base, found, unit)
    elif not isinstance(signed, On):
        return signed
    return replace(base, deep=_deep_found(condition, base.deep, deep, unit))


def _deep_line_alone(
    condition: AlarmCondition, signed: Setting, found: Reading, unit: str | None
) -> Setting:
    """A further line that was itself read as on still sounds where the first one is off."""
    before = signed.deep if isinstance(signed, On) else None
    deep = _deep_found(condition, before, found, unit) if isinstance(found, FoundOn) else None
    return Off() if deep is None else On(deep.limit, deep.priority, deep.delay_s, unit=deep.unit)


def _overlaid(condition: AlarmCondition, base: On, found: FoundOn, unit: str | None) -> On:
    limit, written, deep = base.limit, base.unit, base.deep
    if found.limit is not None:
        limit, written = _in_own_unit(found.limit, found.unit or unit, condition), None
    if deep is not None:  # it may have been written in the unit that the limit gives up here
        deep = replace(deep, unit=deep.unit or base.unit)
    return replace(
        base,
        limit=limit,
        unit=written,
        deep=deep,
        priority=found.priority or base.priority,
        delay_s=base.delay_s if found.delay_s is None else found.delay_s,
        latching=base.latching if found.latching is None else found.latching,
    )


def _in_own_unit(value: Decimal, unit: str | None, condition: AlarmCondition) -> Decimal:
    if unit is None or condition.unit is None:
        return value
    return convert(value, unit, condition.unit)


def _deep_found(
    condition: AlarmCondition, signed: DeepLine | None, found: Reading, unit: str | None
) -> DeepLine | None:
    if isinstance(found, FoundOff | FoundNotFitted):
        return None
    if isinstance(found, FoundOn) and found.limit is not None:
        limit = _in_own_unit(found.limit, found.unit or unit, condition)
        before = signed or DeepLine(limit)
        delay = before.delay_s if found.delay_s is None else found.delay_s
        return DeepLine(limit, found.priority or before.priority, delay, condition.unit)
    return signed


def is_stated(setting: Setting | None) -> bool:
    """Whether the alarm belongs to the critical set of a file audit: it is set on or off."""
    return isinstance(setting, On | Off)
