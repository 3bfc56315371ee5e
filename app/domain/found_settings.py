"""What a device is known to hold of one alarm, for judging what a deviation leaves unguarded.

A line of an alarm is its limit or its deep line. One that was not read guards nobody: it may be
off. So where only one of two alarms was read that cover each other, what was found on it is judged
as if it stood alone: whoever reads that high heart rate sounds above 200 must not take comfort
from a pulse rate alarm at which nobody looked. The same line is left out of what was signed, so
only what was read, and differs, opens a gap. Earlier reports do not count here: a report is judged
by itself, so the order in which they arrive never changes a judgement.

Of a line that was read, what was left empty (its delay, its priority) is taken as signed.
"""

from dataclasses import replace
from decimal import Decimal

from app.domain.alarm_conditions import AlarmCondition
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    NotRead,
    Reading,
)
from app.domain.settings_of_alarms import DeepLine, Off, On, Setting, convert


def as_signed(signed: Setting, found: Reading, deep: Reading) -> Setting:
    """The signed setting without the lines that were not read."""
    if not isinstance(signed, On):
        return signed
    line = None if _unread(deep) else signed.deep
    return _alone(line, signed.unit) if _unread(found) else replace(signed, deep=line)


def as_found(
    condition: AlarmCondition, signed: Setting, found: Reading, deep: Reading, unit: str | None
) -> Setting:
    """The setting that the readings of its lines amount to."""
    known = as_signed(signed, found, deep)
    if isinstance(found, FoundOn):
        base = known if isinstance(known, On) else On(limit=None)
        base = _overlaid(condition, base, found, unit)
        return replace(base, deep=_deep_found(condition, base.deep, deep, unit))
    if _unread(found) and not isinstance(signed, On):
        return signed
    before = signed.deep if isinstance(signed, On) and not _unread(deep) else None
    line = _deep_found(condition, before, deep, unit)
    return _alone(line, signed.unit if isinstance(signed, On) else None)


def _unread(found: Reading) -> bool:
    return isinstance(found, NotRead | CouldNotRead)


def _alone(line: DeepLine | None, unit: str | None) -> Setting:
    """A further line that was itself read as on sounds where the first one does not."""
    if line is None:
        return Off()
    return On(line.limit, line.priority, line.delay_s, unit=line.unit or unit)


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
