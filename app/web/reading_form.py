"""The blind form: what is asked, and what was typed → a report. Nothing here knows a signed value.

One alarm is four fields: `<alarm>` the number, `<alarm>.unit`, `<alarm>.found` what was found
instead of a number, `<alarm>.why`. A number outside the plausible range needs `<alarm>.sure`.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    NotRead,
    Reading,
    StateRead,
)
from app.domain.errors import Fault, Refused
from app.domain.new_reports import NewReport
from app.domain.plain_text import line
from app.domain.settings_of_alarms import convert, show_number, units_of
from app.domain.written_limits import shown_unit

NUMBER = re.compile(r"\d{1,4}(?:[.,]\d{1,2})?", re.ASCII)
WHOLE = re.compile(r"\d{1,6}", re.ASCII)
STATES = {
    StateRead.POWER_ON: "Just switched on, nothing touched",
    StateRead.AFTER_CATEGORY: "Just after choosing this preset",
    StateRead.IN_USE: "In use, as a crew left it",
    StateRead.STORED_PRESET: "In the set-up menu, as stored",
}
TRIGGERS = (
    "Yearly reading of all",
    "Monthly sample",
    "After a new revision",
    "After service",
    "After a correction",
    "After an incident",
    "New or loaned device",
)
_INSTEAD: dict[str, Reading] = {
    "off": FoundOff(),
    "not-fitted": FoundNotFitted(),
    "not-read": NotRead(),
}


@dataclass(frozen=True)
class Asked:
    """One alarm on the form. `units` (UCUM → shown) only where a device may show either."""

    alarm: str
    label: str
    shown: str
    units: Mapping[str, str]
    has_number: bool
    whole: bool


def asked(alarm: str) -> Asked:
    condition = ALARM_CONDITIONS[alarm]
    units = _choices(condition)
    return Asked(
        alarm=alarm,
        label=condition.label,
        shown="" if units else condition.shown,
        units=units,
        has_number=condition.has_threshold,
        whole=condition.step == 1 and not units,
    )


def _choices(condition: AlarmCondition) -> dict[str, str]:
    """Cuff and line pressures are shown in one unit by every model that is described."""
    if condition.quantity not in ("etco2", "inspired-co2", "temperature"):
        return {}
    return {unit: shown_unit(unit) for unit in units_of(condition)}


def report_from(
    typed: Mapping[str, str], *, device: str, preset: str, alarms: tuple[str, ...], zone: str
) -> NewReport:
    """Raises Refused with every fault at its field."""
    faults: list[Fault] = []
    rest = bool(typed.get("rest"))
    readings: dict[str, Reading] = {}
    for alarm in alarms:
        try:
            readings[alarm] = _reading(typed, alarm, rest=rest)
        except Refused as refused:
            faults += refused.faults
    state, minutes, read_at = _state(typed, faults), _minutes(typed, faults), None
    try:
        read_at = _read_at(typed, zone)
    except (ValueError, OverflowError):
        faults.append(Fault("this is no date and time", column="read_at"))
    if faults or state is None or read_at is None:
        raise Refused(faults)
    return NewReport(
        device=device,
        preset=preset,
        state_read=state,
        readings=readings,
        read_at=read_at,
        idempotency_key=typed.get("key", ""),
        software=typed.get("software", ""),
        trigger=typed.get("trigger", ""),
        minutes_off=minutes,
    )


def _state(typed: Mapping[str, str], faults: list[Fault]) -> StateRead | None:
    try:
        return StateRead(typed.get("state_read", ""))
    except ValueError:
        faults.append(Fault("say in which state you read it", column="state_read"))
        return None


def _minutes(typed: Mapping[str, str], faults: list[Fault]) -> int | None:
    text = typed.get("minutes_off", "").strip()
    if text and not WHOLE.fullmatch(text):
        faults.append(Fault("write whole minutes, such as 10", column="minutes_off"))
        return None
    return int(text) if text else None


def _read_at(typed: Mapping[str, str], zone: str) -> datetime:
    """As typed, in the agency's zone; else when the form was opened, so that a form sent twice
    tells the same time twice."""
    text = typed.get("read_at", "").strip()
    if not text:
        return datetime.fromisoformat(typed.get("opened_at", "")).astimezone(UTC)
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def _reading(typed: Mapping[str, str], alarm: str, *, rest: bool) -> Reading:
    number = typed.get(alarm, "").strip()
    instead = typed.get(f"{alarm}.found", "")
    if number and instead:
        raise _fault(alarm, "give a number or what you found instead, not both")
    if number:
        return _limit(typed, alarm, number)
    if instead == "could-not-read":
        return CouldNotRead(_why(typed, alarm))
    if instead == "on" and not ALARM_CONDITIONS[alarm].has_threshold:
        return FoundOn()
    if instead in _INSTEAD:
        return _INSTEAD[instead]
    if rest:
        return NotRead()
    raise _fault(alarm, "nothing is entered")


def _why(typed: Mapping[str, str], alarm: str) -> str:
    try:
        return line(typed.get(f"{alarm}.why", ""), column=alarm)
    except Refused as refused:
        raise _fault(alarm, "say why it could not be read") from refused


def _limit(typed: Mapping[str, str], alarm: str, number: str) -> FoundOn:
    condition = ALARM_CONDITIONS[alarm]
    if not NUMBER.fullmatch(number) or not condition.has_threshold:
        raise _fault(alarm, "write a number, such as 90")
    unit = _unit(typed, alarm, condition)
    value = Decimal(number.replace(",", "."))
    _check_plausible(typed, condition, value, unit)
    return FoundOn(value, unit)


def _unit(typed: Mapping[str, str], alarm: str, condition: AlarmCondition) -> str | None:
    units = _choices(condition)
    unit = typed.get(f"{alarm}.unit", "")
    if units and unit not in units:
        raise _fault(alarm, f"say the unit: {' or '.join(units.values())}")
    return unit if units else None


def _check_plausible(
    typed: Mapping[str, str], condition: AlarmCondition, value: Decimal, unit: str | None
) -> None:
    """A device may hold anything, a finger slips more often: so look twice, then it is taken."""
    own = condition.unit or ""
    inside = condition.least <= convert(value, unit or own, own) <= condition.most
    if inside or typed.get(f"{condition.key}.sure"):
        return
    reach = f"{show_number(condition.least)} to {show_number(condition.most)} {condition.shown}"
    raise _fault(condition.key, f"this is outside {reach}: look again, then tick “it is so”")


def _fault(alarm: str, reason: str) -> Refused:
    return Refused.because(reason, column=alarm)
