"""One alarm's difference between the signed setting and what was found.

Direction: switched before looser or tighter, looser before tighter where a reading is both,
those before other. Severity: unsafe where the setting found opens a silent gap at a danger
bound or breaks life-threat-off; otherwise off-protocol; unread is a note. An alarm that was not
read covers no other one (`app.domain.found_settings`).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from functools import cached_property

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOn,
    NotRead,
    Reading,
)
from app.domain.findings import Severity
from app.domain.found_settings import as_found, as_signed
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Option, Settings
from app.domain.rendering import RenderedPreset
from app.domain.rules.life_threats import ARRESTS, threats
from app.domain.settings_of_alarms import (
    NoPolicy,
    Off,
    On,
    Priority,
    Setting,
)
from app.domain.silence import Silence, Watch, side_of, silences

DEEP = ".deep"
Readings = Mapping[str, Reading]
NOTHING: Readings = {}
_NOBODY, _NOT_READ = Off(), NotRead()


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
    readings: Readings,
    bounds: OuterBounds = DEFAULT_BOUNDS,
    spo2_averaging_s: Decimal = Decimal(0),
    beside: Readings = NOTHING,
) -> list[Deviation]:
    """Everything in which the readings of one preset deviate from what was signed.

    `beside`: what else the same reading found at an earlier look. It may guard what deviates now,
    and is not itself held against anything.
    """
    directions = {
        alarm: direction
        for alarm, reading in readings.items()
        if (direction := direction_of(preset, alarm, reading)) is not None
    }
    watch = Watch(preset.settings, bounds, None, spo2_averaging_s)
    judge = _Judge(preset, readings, watch, beside)
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
    readings: Readings
    signed: Watch
    beside: Readings

    def severity(self, alarm: str, direction: Direction) -> Severity:
        if direction is Direction.UNREAD:
            return Severity.NOTE
        if direction in (Direction.TIGHTER, Direction.SWITCHED_ON):
            return Severity.OFF_PROTOCOL
        key = base_alarm(alarm)
        unsafe = self._opens_silence(key) or self._threatens_life(key)
        return Severity.UNSAFE if unsafe else Severity.OFF_PROTOCOL

    @cached_property
    def _found(self) -> Settings:
        """What the device is known to hold; a line that nobody read guards nobody."""
        return self._unread | {
            alarm: as_found(
                ALARM_CONDITIONS[alarm],
                setting,
                *self._lines(alarm),
                self.preset.unit_of(ALARM_CONDITIONS[alarm]),
            )
            for alarm, setting in self._touched
        }

    @cached_property
    def _before(self) -> Settings:
        """Of what was signed as much as was read."""
        return self._unread | {
            alarm: as_signed(setting, *self._lines(alarm)) for alarm, setting in self._touched
        }

    @cached_property
    def _unread(self) -> dict[str, Setting]:
        """As if nobody had read any of it."""
        return {
            alarm: _NOBODY if isinstance(setting, On) else setting
            for alarm, setting in self.signed.settings.items()
        }

    @cached_property
    def _touched(self) -> list[tuple[str, Setting]]:
        told = {base_alarm(alarm) for alarm in (*self.readings, *self.beside)}
        known = self.signed.settings
        return [(alarm, known[alarm]) for alarm in told if alarm in known]

    def _lines(self, alarm: str) -> tuple[Reading, Reading]:
        return self._line(alarm), self._line(alarm + DEEP)

    def _line(self, alarm: str) -> Reading:
        found = self.readings.get(alarm, _NOT_READ)
        unread = isinstance(found, NotRead | CouldNotRead)
        return self.beside.get(alarm, found) if unread else found

    def _opens_silence(self, key: str) -> bool:
        group, side = side_of(ALARM_CONDITIONS[key])
        now, before = (
            [
                silence
                for silence in silences(
                    replace(self.signed, settings=settings), group, side, self.preset.ages
                )
                if _danger(silence)
            ]
            for settings in (self._found, self._before)
        )
        return any(not _within(silence, before) for silence in now)

    def _threatens_life(self, key: str) -> bool:
        before = {alarms for alarms, _ in threats(self._before)}
        broken = [alarms for alarms, _ in threats(self._found) if alarms not in before]
        return any(key in alarms for alarms in broken) and not self._combined(key)

    def _combined(self, key: str) -> bool:
        """One combined VF/VT alarm counts for both: the other is on, this one is not fitted."""
        fibrillation, tachycardia = ARRESTS[1:]
        other = {fibrillation: tachycardia, tachycardia: fibrillation}.get(key)
        found = self._line(other or "")
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


def is_stated(setting: Setting | None) -> bool:
    """Whether the alarm belongs to the critical set of a file audit: it is set on or off."""
    return isinstance(setting, On | Off)
