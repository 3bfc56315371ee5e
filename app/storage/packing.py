"""Readings as int16 in steps, little-endian, one a column of a layout.

What does not fit (a unit of its own, a value off the step, what was noted besides) lies in the
extras, a JSON object keyed by column, so that nothing found on a device is rounded or lost.
"""

import json
import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS
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
from app.domain.settings_of_alarms import Priority, show_number

NOT_READ, COULD_NOT_READ, NOT_FITTED, OFF, ON_WITHOUT_LIMIT, AS_WRITTEN, AS_TEXT = range(
    -32768, -32761
)
_PLAIN: dict[int, Reading] = {NOT_READ: NotRead(), NOT_FITTED: FoundNotFitted(), OFF: FoundOff()}
_MOST = 32767
_DEEP = ".deep"


@dataclass(frozen=True)
class Packed:
    vals: bytes
    extras: str


def pack(columns: Sequence[Column], readings: Mapping[Column, Reading]) -> Packed:
    """A column without a reading was not read."""
    codes, extras = [], {}
    for column in columns:
        code, extra = _packed(column[1], readings.get(column, NotRead()))
        codes.append(code)
        if extra:
            extras[_key(column)] = extra
    text = json.dumps(extras, sort_keys=True, ensure_ascii=False)
    return Packed(struct.pack(f"<{len(codes)}h", *codes), text)


def unpack(columns: Sequence[Column], packed: Packed) -> dict[Column, Reading]:
    codes = struct.unpack(f"<{len(columns)}h", packed.vals)
    extras: dict[str, dict[str, Any]] = json.loads(packed.extras)
    return {
        column: _unpacked(column[1], code, extras.get(_key(column), {}))
        for column, code in zip(columns, codes, strict=True)
    }


def _key(column: Column) -> str:
    preset, alarm = column
    return f"{alarm}@{preset}"


def _packed(alarm: str, reading: Reading) -> tuple[int, dict[str, Any]]:
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
    steps = found.limit / _step(alarm)
    if found.unit is None and steps == int(steps) and AS_TEXT < steps <= _MOST:
        return int(steps), extra
    return AS_WRITTEN, {"limit": str(found.limit), **extra}


def _unpacked(alarm: str, code: int, extra: Mapping[str, Any]) -> Reading:
    if code == COULD_NOT_READ:
        return CouldNotRead(extra["why"])
    if code == AS_TEXT:
        return FoundText(extra["text"])
    return _PLAIN.get(code) or _unpacked_on(alarm, code, extra)


def _unpacked_on(alarm: str, code: int, extra: Mapping[str, Any]) -> FoundOn:
    if code == ON_WITHOUT_LIMIT:
        limit = None
    elif code == AS_WRITTEN:
        limit = Decimal(extra["limit"])
    else:
        limit = code * _step(alarm)
    return FoundOn(
        limit=limit,
        unit=extra.get("unit"),
        priority=Priority(extra["priority"]) if "priority" in extra else None,
        delay_s=Decimal(extra["delay_s"]) if "delay_s" in extra else None,
        latching=extra.get("latching"),
    )


def _step(alarm: str) -> Decimal:
    """One where the column is no alarm but an option."""
    condition = ALARM_CONDITIONS.get(alarm.removesuffix(_DEEP))
    return Decimal(1) if condition is None else condition.step
