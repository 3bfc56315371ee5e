"""The signed and the found side of a deviation, as one value each and as a sentence.

Where the limits differ each side is the limit; where only delay, priority or latching does,
it names that part.
"""

from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.audit import DeviceDeviation
from app.domain.comparison import DEEP, Deviation, Direction, base_alarm
from app.domain.device_reports import CouldNotRead, FoundOn, FoundText
from app.domain.option_comparison import found_option
from app.domain.options import OPTIONS, breach
from app.domain.profiles import Option
from app.domain.settings_of_alarms import DeepLine, On, as_number, show_number
from app.domain.written_limits import shown_unit
from app.exchange.option_words import option_words

Plain = int | float | str
"""Units as people write them, where that is not UCUM."""


def signed_value(found: DeviceDeviation) -> Plain | None:
    """The signed limit as rendered, in the unit of the reading; the value of an option."""
    setting, reading = found.deviation.signed, found.deviation.found
    if setting is None:
        return None
    if isinstance(setting, Option):
        return _option_value(setting)
    if not isinstance(setting, On):
        return setting.state
    if found.deviation.alarm.endswith(DEEP) and setting.deep is None:
        return "off"
    limit = _signed_limit(found)
    if isinstance(reading, FoundOn) and not _limit_differs(found):
        return _parts(_line(found, setting), reading) or "on"
    return "on" if limit is None else as_number(limit)


def _option_value(option: Option) -> Plain:
    if isinstance(option.value, bool):
        return "on" if option.value else "off"
    return as_number(option.value) if isinstance(option.value, Decimal) else option.value


def found_value(found: DeviceDeviation) -> Plain:
    reading = found.deviation.found
    if isinstance(reading, CouldNotRead):
        return f"could-not-read: {reading.why}"
    if isinstance(reading, FoundText):
        return reading.text
    if not isinstance(reading, FoundOn):
        return reading.state
    setting = found.deviation.signed
    if isinstance(setting, On) and not _limit_differs(found):
        return _parts(reading, _line(found, setting)) or "on"
    return reading.state if reading.limit is None else as_number(reading.limit)


def _line(found: DeviceDeviation, setting: On) -> On | DeepLine:
    deep = setting.deep if found.deviation.alarm.endswith(DEEP) else None
    return deep or setting


def _signed_values(found: DeviceDeviation) -> frozenset[Decimal]:
    if found.rendered is None:
        return frozenset()
    alarm, reading = found.deviation.alarm, found.deviation.found
    unit = reading.unit if isinstance(reading, FoundOn) else None
    values = found.rendered.deep_values if alarm.endswith(DEEP) else found.rendered.values
    return values(base_alarm(alarm), unit)


def _signed_limit(found: DeviceDeviation) -> Decimal | None:
    """Of the values that would conform, the one nearest to what was found."""
    values = _signed_values(found)
    reading = found.deviation.found
    near = reading.limit if isinstance(reading, FoundOn) else None
    if near is None:
        return min(values, default=None)
    return min(values, key=lambda value: abs(value - near), default=None)


def _limit_differs(found: DeviceDeviation) -> bool:
    reading = found.deviation.found
    limit = reading.limit if isinstance(reading, FoundOn) else None
    return limit is not None and limit not in _signed_values(found)


def _parts(line: On | DeepLine | FoundOn, other: On | DeepLine | FoundOn) -> str:
    """The parts of a line in which it differs from the other one, in words."""
    told = []
    if line.priority and other.priority and line.priority != other.priority:
        told.append(f"{line.priority} priority")
    if line.delay_s is not None and other.delay_s is not None and line.delay_s != other.delay_s:
        told.append(f"delay {show_number(line.delay_s)} s")
    latching, before = _latching(line), _latching(other)
    if None not in (latching, before) and latching != before:
        told.append("latching" if latching else "not latching")
    return ", ".join(told)


def _latching(line: On | DeepLine | FoundOn) -> bool | None:
    return None if isinstance(line, DeepLine) else line.latching


def consequence(found: DeviceDeviation) -> str:
    """What the deviation means for a patient, before any comparison of numbers."""
    deviation = found.deviation
    condition = ALARM_CONDITIONS.get(base_alarm(deviation.alarm))
    if deviation.direction is Direction.UNREAD:
        what = condition.label if condition else OPTIONS[deviation.alarm].label
        return f"{what} could not be read."
    if condition is None:
        return _of_option(deviation)
    name = condition.vital_sign.label if condition.vital_sign else condition.label
    return f"{name} {_effect(found, condition.side)}."


def _of_option(deviation: Deviation) -> str:
    key, signed, read = deviation.alarm, deviation.signed, deviation.found
    silenced = breach(key, found_option(read))
    differs = f"{OPTIONS[key].label} is {option_words(key, read)}"
    differs += f" instead of {option_words(key, signed)}."
    return f"{silenced[0].upper()}{silenced[1:]}. {differs}" if silenced else differs


def _effect(found: DeviceDeviation, side: str) -> str:
    deviation = found.deviation
    signed, read = signed_value(found), found_value(found)
    condition = ALARM_CONDITIONS[base_alarm(deviation.alarm)]
    deep = deviation.alarm.endswith(DEEP)
    if deviation.direction is Direction.SWITCHED_OFF and deep:
        return f"sounds no further {side} alarm at the deep line"
    if deviation.direction is Direction.SWITCHED_OFF:
        far = "however far it falls" if side == "low" else "however far it rises"
        return f"sounds no {side} alarm, {far}" if condition.vital_sign else "sounds no alarm"
    if deviation.direction is Direction.SWITCHED_ON:
        return "sounds an alarm that the policy has off"
    if isinstance(signed, str) or isinstance(read, str):
        return f"alarms with {read} instead of {signed}"
    shown = _shown_unit(found, condition)
    if deviation.direction is Direction.LOOSER and not limit_is_looser(condition, signed, read):
        return f"{_other_parts(found)}, although it sounds already at {read} {shown}"
    if condition.vital_sign is None:
        change = "only" if deviation.direction is Direction.LOOSER else "already"
        return f"sounds {change} after {read} {shown} instead of {signed}"
    moves = "fall" if side == "low" else "rise"
    if deviation.direction is Direction.LOOSER:
        heard = "before the deep line sounds" if deep else "unannounced"
        return f"can {moves} from {signed} to {read} {shown} {heard}"
    return f"sounds already at {read} {shown} instead of {signed}: noise"


def limit_is_looser(condition: AlarmCondition, signed: float | None, found: float) -> bool:
    """Whether the limit itself moved toward fewer alarms; delay and priority do not count."""
    if signed is None:
        return True
    return found < signed if condition.looser == "down" else found > signed


def _other_parts(found: DeviceDeviation) -> str:
    reading, setting = found.deviation.found, found.deviation.signed
    if not isinstance(reading, FoundOn) or not isinstance(setting, On):
        return "alarms otherwise than signed"
    line = _line(found, setting)
    return f"alarms with {_parts(reading, line)} instead of {_parts(line, reading)}"


def _shown_unit(found: DeviceDeviation, condition: AlarmCondition) -> str:
    """The unit of the reading, else the one that the model shows, as people write it."""
    reading = found.deviation.found
    unit = reading.unit if isinstance(reading, FoundOn) else None
    if unit is None and found.rendered is not None:
        unit = found.rendered.unit_of(condition)
    return condition.shown if unit is None else shown_unit(unit)
