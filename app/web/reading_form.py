"""The blind forms: what is asked, and what was typed. Nothing here knows a signed value.

One alarm is four fields: `<alarm>` the number, `<alarm>.unit`, `<alarm>.found` what was found
instead of a number, `<alarm>.why`. What the device cannot show needs `<alarm>.sure`. Of some alarms
`<alarm>.priority`, `<alarm>.delay` and `<alarm>.latching` are asked as well.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TypeVar

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import DEEP, base_alarm
from app.domain.device_models import DeviceModel
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    NotRead,
    Reading,
    StateRead,
)
from app.domain.double_reading import NextLook
from app.domain.errors import Fault, Refused
from app.domain.plain_text import line
from app.domain.reading_grids import ReadingGrid, can_be_off, reading_grid, units_to_choose
from app.domain.reading_sessions import NewReading
from app.domain.settings_of_alarms import Priority
from app.domain.triggers import Trigger
from app.domain.written_limits import shown_unit

NUMBER = re.compile(r"\d{1,4}(?:[.,]\d{1,2})?", re.ASCII)
WHOLE = re.compile(r"\d{1,6}", re.ASCII)
STATES = {
    StateRead.POWER_ON: "Just switched on, nothing touched",
    StateRead.AFTER_CATEGORY: "Just after choosing this preset",
    StateRead.IN_USE: "In use, as a crew left it",
    StateRead.STORED_PRESET: "In the set-up menu, as stored",
}
Chosen = TypeVar("Chosen", StateRead, Trigger)
_AGAIN = "look again, then tick “it is so”"


@dataclass(frozen=True)
class Asked:
    """One alarm on the form. `grids` by UCUM unit: several where a device may show either."""

    alarm: str
    label: str
    grids: Mapping[str, ReadingGrid]
    can_be_off: bool
    model: str
    closely: bool = False

    @property
    def latches(self) -> bool:
        """Whether that is asked: a deep line has none of its own."""
        return self.closely and not self.alarm.endswith(DEEP)

    @property
    def has_number(self) -> bool:
        return bool(self.grids)

    @property
    def chooses_unit(self) -> bool:
        return len(self.grids) > 1

    @property
    def grid(self) -> ReadingGrid:
        """The only one."""
        return next(iter(self.grids.values()))

    @property
    def shown(self) -> str:
        return "" if not self.grids or self.chooses_unit else shown_unit(self.grid.unit)

    @property
    def whole(self) -> bool:
        return all(grid.step % 1 == 0 and grid.start % 1 == 0 for grid in self.grids.values())


def asked(alarm: str, model: DeviceModel | None, *, closely: bool = False) -> Asked:
    condition = ALARM_CONDITIONS[base_alarm(alarm)]
    units = units_to_choose(condition) or (condition.unit or "",)
    return Asked(
        alarm=alarm,
        label=f"{condition.label}, deep line" if alarm.endswith(DEEP) else condition.label,
        grids={unit: reading_grid(condition, model, unit) for unit in units}
        if condition.has_threshold
        else {},
        can_be_off=can_be_off(alarm, model),
        model="" if model is None else model.key,
        closely=closely,
    )


def asked_of(look: NextLook, model: DeviceModel | None) -> list[Asked]:
    return [asked(alarm, model, closely=alarm in look.closely) for alarm in look.asked]


def start_from(typed: Mapping[str, str], *, device: str) -> NewReading:
    """Raises Refused with every fault at its field."""
    faults: list[Fault] = []
    state = _choice(StateRead, typed, "state_read", "say in which state you read it", faults)
    trigger = _choice(Trigger, typed, "trigger", "say why it is read", faults)
    if not typed.get("preset"):
        faults.append(Fault("choose one of the presets of this device", column="preset"))
    software = typed.get("software", "").strip()
    if not software:
        faults.append(Fault("write what the device shows", column="software"))
    minutes = minutes_from(typed, faults)
    if faults or state is None or trigger is None:
        raise Refused(faults)
    return NewReading(
        device=device,
        preset=typed.get("preset", ""),
        state_read=state,
        trigger=trigger,
        software=software,
        key=typed.get("key", ""),
        minutes_off=minutes,
        device_clock=typed.get("device_clock", ""),
    )


def _choice(
    choices: type[Chosen], typed: Mapping[str, str], name: str, reason: str, faults: list[Fault]
) -> Chosen | None:
    try:
        return choices(typed.get(name, ""))
    except ValueError:
        faults.append(Fault(reason, column=name))
        return None


def minutes_from(typed: Mapping[str, str], faults: list[Fault]) -> int | None:
    text = typed.get("minutes_off", "").strip()
    if text and not WHOLE.fullmatch(text):
        faults.append(Fault("write whole minutes, such as 10", column="minutes_off"))
        return None
    return int(text) if text else None


def readings_from(typed: Mapping[str, str], wanted: Sequence[Asked]) -> dict[str, Reading]:
    """Raises Refused with every fault at its alarm."""
    faults: list[Fault] = []
    readings: dict[str, Reading] = {}
    for one in wanted:
        try:
            readings[one.alarm] = _reading(typed, one)
        except Refused as refused:
            faults += refused.faults
    if faults:
        raise Refused(faults)
    return readings


def _reading(typed: Mapping[str, str], one: Asked) -> Reading:
    number = typed.get(one.alarm, "").strip()
    instead = typed.get(f"{one.alarm}.found", "")
    if number and instead:
        raise _fault(one, "give a number or what you found instead, not both")
    if number:
        return _closely(typed, one, _limit(typed, one, number))
    if instead == "on" and not one.has_number:
        return _closely(typed, one, FoundOn())
    if instead:
        return _instead(typed, one, instead)
    if typed.get("rest"):
        return NotRead()
    raise _fault(one, "nothing is entered")


UNSEEN = "unseen"
"""The device does not show it, or the reader did not look: then it is not compared."""
PRIORITIES = tuple(priority.value for priority in Priority)
LATCHING = {"yes": True, "no": False}
SECONDS = re.compile(r"\d{1,3}(?:[.,]\d)?", re.ASCII)


def _closely(typed: Mapping[str, str], one: Asked, found: FoundOn) -> FoundOn:
    if not one.closely:
        return found
    priority = _word(typed, one, "priority", PRIORITIES)
    latching = _word(typed, one, "latching", tuple(LATCHING)) if one.latches else None
    return replace(
        found,
        priority=None if priority is None else Priority(priority),
        delay_s=_delay(typed, one),
        latching=None if latching is None else LATCHING[latching],
    )


def _word(typed: Mapping[str, str], one: Asked, part: str, choices: tuple[str, ...]) -> str | None:
    told = typed.get(f"{one.alarm}.{part}", "")
    if told == UNSEEN or (not told and typed.get("rest")):
        return None
    if told not in choices:
        raise _fault(one, f"say its {part}, or that the device does not show it")
    return told


def _delay(typed: Mapping[str, str], one: Asked) -> Decimal | None:
    told = typed.get(f"{one.alarm}.delay", "").strip()
    unseen = typed.get(f"{one.alarm}.delay.unseen") or typed.get("rest")
    if not told and unseen:
        return None
    if not SECONDS.fullmatch(told):
        raise _fault(one, "write its delay in seconds, such as 10, or that it is not shown")
    return Decimal(told.replace(",", "."))


def _instead(typed: Mapping[str, str], one: Asked, instead: str) -> Reading:
    if instead == "could-not-read":
        return CouldNotRead(_why(typed, one))
    if instead == "not-fitted":
        return FoundNotFitted()
    if instead != "off":
        raise _fault(one, "nothing is entered")
    if not one.can_be_off and not _is_sure(typed, one):
        raise _fault(one, f"a {one.model} cannot switch this off: {_AGAIN}")
    return FoundOff()


def _why(typed: Mapping[str, str], one: Asked) -> str:
    try:
        return line(typed.get(f"{one.alarm}.why", ""), column=one.alarm)
    except Refused as refused:
        raise _fault(one, "say why it could not be read") from refused


def _limit(typed: Mapping[str, str], one: Asked, number: str) -> FoundOn:
    if not NUMBER.fullmatch(number) or not one.has_number:
        raise _fault(one, "write a number, such as 25")
    grid = _grid(typed, one)
    value = Decimal(number.replace(",", "."))
    reason = grid.why_not(value)
    if reason and not _is_sure(typed, one):
        raise _fault(one, f"{reason}; {_AGAIN}")
    return FoundOn(value, grid.unit if one.chooses_unit else None)


def _grid(typed: Mapping[str, str], one: Asked) -> ReadingGrid:
    if not one.chooses_unit:
        return one.grid
    unit = typed.get(f"{one.alarm}.unit", "")
    if unit not in one.grids:
        raise _fault(one, f"say the unit: {' or '.join(map(shown_unit, one.grids))}")
    return one.grids[unit]


def _is_sure(typed: Mapping[str, str], one: Asked) -> bool:
    """A device may hold anything, a finger slips more often: so look twice, then it is taken."""
    return bool(typed.get(f"{one.alarm}.sure"))


def _fault(one: Asked, reason: str) -> Refused:
    return Refused.because(reason, column=one.alarm)
