"""What differs between two settings of one alarm, part by part, each looser or tighter by itself.

Toward fewer alarms is looser: a limit further out, a longer delay, a lower priority, no latching,
no deep line, more latitude. Two limits in different units are the same where one, converted and
rounded to the other's step, equals it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from app.domain.alarm_conditions import AlarmCondition
from app.domain.comparison import Direction
from app.domain.settings_of_alarms import (
    UNIT_STEPS,
    DeepLine,
    Latitude,
    NotFitted,
    Off,
    On,
    Priority,
    Setting,
    convert,
    round_to,
    show_number,
)
from app.domain.written_limits import shown_unit

STATE, LIMIT, DEEP = "state", "limit", "deep line"
PRIORITY, DELAY, LATCHING = "priority", "delay", "latching"
LATITUDE, OFF_BY = "latitude", "may be switched off by"
_FEWER = (Direction.TIGHTER, Direction.OTHER, Direction.LOOSER)
_MAY_SWITCH = ("nobody", "medical-control", "crew")


@dataclass(frozen=True)
class Part:
    """One part as it was and as it is, in words; `of` is the line it belongs to, else ""."""

    name: str
    before: str
    after: str
    lean: Direction
    of: str = ""

    @property
    def label(self) -> str:
        return f"{self.of}, {self.name}" if self.of else self.name

    def __str__(self) -> str:
        return f"{self.label}: {self.before} → {self.after}"


def bare(setting: Setting | None) -> Setting | None:
    """Without its reason and source, which a device does not hold."""
    return None if setting is None else replace(setting, reason="", source="")


def parts_of(alarm: AlarmCondition, was: Setting | None, now: Setting | None) -> tuple[Part, ...]:
    """Empty where only words differ; looser parts first, then tighter ones."""
    found = list(_parts(alarm, was, now))
    order = (Direction.LOOSER, Direction.TIGHTER, Direction.OTHER)
    return tuple(sorted(found, key=lambda part: order.index(part.lean)))


def _parts(alarm: AlarmCondition, was: Setting | None, now: Setting | None) -> Iterator[Part]:
    if isinstance(was, On) and isinstance(now, On):
        yield from _of_two_on(alarm, was, now)
        return
    if _state(was) != _state(now):
        lean = _lean(isinstance(was, On) - isinstance(now, On))
        yield Part(STATE, state_words(was), state_words(now), lean)
    elif isinstance(was, Off) and isinstance(now, Off):
        yield from _of_latitudes(alarm, (was.latitude, None), (now.latitude, None))


def _state(setting: Setting | None) -> str:
    return "blank" if setting is None else setting.state


def state_words(setting: Setting | None) -> str:
    """One word for a setting that is not on."""
    if setting is None:
        return "blank"
    if isinstance(setting, On | Off):
        return setting.state
    return "not fitted" if isinstance(setting, NotFitted) else setting.state.replace("-", " ")


def _lean(toward_fewer_alarms: Decimal | int) -> Direction:
    return _FEWER[(toward_fewer_alarms > 0) - (toward_fewer_alarms < 0) + 1]


@dataclass(frozen=True)
class _Amount:
    """A number with the unit it was written in."""

    number: Decimal
    unit: str | None

    def __str__(self) -> str:
        return f"{show_number(self.number)} {shown_unit(self.unit or '')}".strip()

    def same_as(self, other: "_Amount", alarm: AlarmCondition) -> bool:
        return self._rounds_to(other, alarm) or other._rounds_to(self, alarm)

    def _rounds_to(self, other: "_Amount", alarm: AlarmCondition) -> bool:
        if self.unit == other.unit or self.unit is None or other.unit is None:
            return self.number == other.number
        step = UNIT_STEPS.get(other.unit, alarm.step)
        return round_to(convert(self.number, self.unit, other.unit), step) == other.number

    def beyond(self, other: "_Amount", alarm: AlarmCondition) -> Decimal:
        """Above zero where this one alarms less."""
        further = self.in_unit(alarm.unit) - other.in_unit(alarm.unit)
        return -further if alarm.looser == "down" else further

    def in_unit(self, unit: str | None) -> Decimal:
        if self.unit is None or unit is None:
            return self.number
        return convert(self.number, self.unit, unit)


@dataclass(frozen=True)
class _Line:
    limit: _Amount | None
    priority: Priority | None
    delay_s: Decimal | None


def _rank(priority: Priority | None) -> int:
    return 0 if priority is None else priority.rank


def _of_two_on(alarm: AlarmCondition, was: On, now: On) -> Iterator[Part]:
    lines = [_first_line(alarm, setting) for setting in (was, now)]
    yield from _of_lines(alarm, lines[0], lines[1], "")
    if was.latching != now.latching:
        lean = _lean(bool(was.latching) - bool(now.latching))
        yield Part(LATCHING, _latching(was), _latching(now), lean)
    yield from _of_deep_lines(alarm, _deep_line(alarm, was), _deep_line(alarm, now))
    yield from _of_latitudes(
        alarm, (was.latitude, was.unit or alarm.unit), (now.latitude, now.unit or alarm.unit)
    )


def _first_line(alarm: AlarmCondition, on: On) -> _Line:
    limit = None if on.limit is None else _Amount(on.limit, on.unit or alarm.unit)
    return _Line(limit, on.priority, on.delay_s)


def _deep_line(alarm: AlarmCondition, on: On) -> _Line | None:
    deep: DeepLine | None = on.deep
    if deep is None:
        return None
    unit = deep.unit or on.unit or alarm.unit
    return _Line(_Amount(deep.limit, unit), deep.priority, deep.delay_s)


def _latching(on: On) -> str:
    return "blank" if on.latching is None else "yes" if on.latching else "no"


def _of_deep_lines(alarm: AlarmCondition, was: _Line | None, now: _Line | None) -> Iterator[Part]:
    if was is not None and now is not None:
        yield from _of_lines(alarm, was, now, DEEP)
    elif was is not now:
        old, new = ("none" if line is None else str(line.limit) for line in (was, now))
        yield Part(DEEP, old, new, _lean((now is None) - (was is None)))


def _of_lines(alarm: AlarmCondition, was: _Line, now: _Line, of: str) -> Iterator[Part]:
    yield from _of_limits(alarm, was.limit, now.limit, of)
    if was.priority != now.priority:
        lean = _lean(_rank(now.priority) - _rank(was.priority))
        yield Part(PRIORITY, was.priority or "blank", now.priority or "blank", lean, of)
    if was.delay_s != now.delay_s:
        longer = (now.delay_s or Decimal(0)) - (was.delay_s or Decimal(0))
        yield Part(DELAY, _seconds(was.delay_s), _seconds(now.delay_s), _lean(longer), of)


def _of_limits(
    alarm: AlarmCondition, was: _Amount | None, now: _Amount | None, of: str
) -> Iterator[Part]:
    if was is None or now is None:
        if was is not now:
            old, new = str(was or "blank"), str(now or "blank")
            yield Part(LIMIT, old, new, _lean((now is None) - (was is None)), of)
    elif not now.same_as(was, alarm):
        yield Part(LIMIT, str(was), str(now), _lean(now.beyond(was, alarm)), of)


def _seconds(delay: Decimal | None) -> str:
    return "blank" if delay is None else f"{show_number(delay)} s"


_Room = tuple[Latitude | None, str | None]


def _of_latitudes(alarm: AlarmCondition, was: _Room, now: _Room) -> Iterator[Part]:
    before, after = _ends(alarm, *was), _ends(alarm, *now)
    if not all(map(_same_end, before, after, (alarm, alarm))):
        more = _more_room(alarm, before, after)
        yield Part(LATITUDE, _range(*before), _range(*after), _lean(more))
    old, new = (room.off_by if room else "nobody" for room, _ in (was, now))
    if old != new:
        further = _MAY_SWITCH.index(new) - _MAY_SWITCH.index(old)
        yield Part(OFF_BY, old.replace("-", " "), new.replace("-", " "), _lean(further))


_Ends = tuple[_Amount | None, _Amount | None]


def _ends(alarm: AlarmCondition, room: Latitude | None, unit: str | None) -> _Ends:
    if room is None:
        return None, None
    found = [
        None if end is None else _Amount(end, unit or alarm.unit) for end in (room.start, room.end)
    ]
    return found[0], found[1]


def _same_end(was: _Amount | None, now: _Amount | None, alarm: AlarmCondition) -> bool:
    return was is now if was is None or now is None else now.same_as(was, alarm)


def _range(start: _Amount | None, end: _Amount | None) -> str:
    if start is None and end is None:
        return "none"
    return f"{start or 'the limit'} to {end or 'the limit'}"


def _more_room(alarm: AlarmCondition, was: _Ends, now: _Ends) -> Decimal | int:
    """By the end toward fewer alarms; an end that is not given allows nothing there."""
    place = 0 if alarm.looser == "down" else 1
    old, new = was[place], now[place]
    if old is None or new is None:
        return (old is None) - (new is None)
    return 0 if new.same_as(old, alarm) else new.beyond(old, alarm)
