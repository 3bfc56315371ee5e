"""Readings as int16 in steps, little-endian, one a column of a layout.

What does not fit (a unit of its own, a value off the step, what was noted besides) lies in the
extras, a JSON object keyed by column, so that nothing found on a device is rounded or lost.
A limit read without a unit is in whatever unit the device shows, so the step is the finest of
the units in which the alarm may be written: 0.1 for pressures, in mmHg and kPa alike.
"""

import json
import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.comparison import base_alarm
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    FoundText,
    NotRead,
    Reading,
)
from app.domain.fleet import Column
from app.domain.settings_of_alarms import UNIT_STEPS, Priority, show_number, units_of

NOT_READ, COULD_NOT_READ, NOT_FITTED, OFF, ON_WITHOUT_LIMIT, AS_WRITTEN, AS_TEXT = range(
    -32768, -32761
)
LEAST, MOST = AS_TEXT + 1, 32767
"""The codes that are numbers."""
NO_EXTRAS = "{}"
_PLAIN: dict[int, Reading] = {NOT_READ: NotRead(), NOT_FITTED: FoundNotFitted(), OFF: FoundOff()}
Extra = Mapping[str, Any]


@dataclass(frozen=True)
class Packed:
    vals: bytes
    extras: str


def pack(columns: Sequence[Column], readings: Mapping[Column, Reading]) -> Packed:
    """A column without a reading was not read."""
    codes, extras = [], {}
    for column in columns:
        code, extra = packed_reading(column[1], readings.get(column, NotRead()))
        codes.append(code)
        if extra:
            extras[key_of(column)] = extra
    text = json.dumps(extras, sort_keys=True, ensure_ascii=False)
    return Packed(struct.pack(f"<{len(codes)}h", *codes), text)


def unpack(columns: Sequence[Column], packed: Packed) -> dict[Column, Reading]:
    codes = struct.unpack(f"<{len(columns)}h", packed.vals)
    extras: dict[str, Extra] = json.loads(packed.extras)
    return {
        column: reading_of(column[1], code, extras.get(key_of(column), {}))
        for column, code in zip(columns, codes, strict=True)
    }


def key_of(column: Column) -> str:
    """Under which a column's extra is kept."""
    preset, alarm = column
    return f"{alarm}@{preset}"


def packed_reading(alarm: str, reading: Reading) -> tuple[int, dict[str, Any]]:
    if isinstance(reading, FoundOn):
        return _packed_on(alarm, reading)
    if isinstance(reading, CouldNotRead):
        return COULD_NOT_READ, {"why": reading.why}
    if isinstance(reading, FoundText):
        return AS_TEXT, {"text": reading.text}
    return next(code for code, plain in _PLAIN.items() if plain == reading), {}


def _packed_on(alarm: str, found: FoundOn) -> tuple[int, dict[str, Any]]:
    besides = {
        "unit": found.unit,
        "priority": None if found.priority is None else found.priority.value,
        "delay_s": None if found.delay_s is None else show_number(found.delay_s),
        "latching": found.latching,
    }
    extra = {name: value for name, value in besides.items() if value is not None}
    if found.limit is None:
        return ON_WITHOUT_LIMIT, extra
    steps = found.limit / step_of(alarm)
    if found.unit is None and steps == int(steps) and LEAST <= steps <= MOST:
        return int(steps), extra
    return AS_WRITTEN, {"limit": str(found.limit), **extra}


def reading_of(alarm: str, code: int, extra: Extra) -> Reading:
    if code == COULD_NOT_READ:
        return CouldNotRead(extra["why"])
    if code == AS_TEXT:
        return FoundText(extra["text"])
    return _PLAIN.get(code) or _found_on(alarm, code, extra)


def _found_on(alarm: str, code: int, extra: Extra) -> FoundOn:
    if code == ON_WITHOUT_LIMIT:
        limit = None
    elif code == AS_WRITTEN:
        limit = Decimal(extra["limit"])
    else:
        limit = code * step_of(alarm)
    return FoundOn(
        limit=limit,
        unit=extra.get("unit"),
        priority=Priority(extra["priority"]) if "priority" in extra else None,
        delay_s=Decimal(extra["delay_s"]) if "delay_s" in extra else None,
        latching=extra.get("latching"),
    )


def step_of(alarm: str) -> Decimal:
    """One where the column is no alarm but an option."""
    return _STEPS.get(base_alarm(alarm), Decimal(1))


def _finest_step(condition: AlarmCondition) -> Decimal:
    units = units_of(condition)
    return min([condition.step, *(UNIT_STEPS[unit] for unit in units if unit in UNIT_STEPS)])


_STEPS = {key: _finest_step(condition) for key, condition in ALARM_CONDITIONS.items()}
