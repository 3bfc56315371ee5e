"""One cell of the policy's grid as it is typed into a form, and as the document holds it."""

import re
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, Field

from app.domain.alarm_conditions import AlarmCondition
from app.domain.errors import Fault, Refused
from app.domain.settings_of_alarms import as_number, show_number

_NUMBER = re.compile(r"\d{1,4}(\.\d{1,3})?", re.ASCII)
_BLANK = "blank"
Short = Annotated[str, Field(max_length=60)]
Words = Annotated[str, Field(max_length=4000)]


class CellEntry(BaseModel):
    """All text, as typed; "" where nothing is. `state` "blank" says that nothing is set."""

    state: Short = ""
    limit: Short = ""
    unit: Short = ""
    priority: Short = ""
    delay_s: Short = ""
    latching: Short = ""
    deep_limit: Short = ""
    deep_priority: Short = ""
    deep_delay_s: Short = ""
    latitude_from: Short = ""
    latitude_to: Short = ""
    off_by: Short = ""
    reason: Words = ""
    source: Words = ""
    edit_version: int = 0
    age: Short = ""


def entry_of(setting: dict[str, Any] | None, *, edit_version: int, age: str) -> CellEntry:
    """A blank gives an empty form: a value that nobody typed would be signed unread."""
    if setting is None:
        return CellEntry(edit_version=edit_version, age=age)
    deep, latitude = setting.get("deep") or {}, setting.get("latitude") or {}
    plain = {key: setting.get(key) for key in ("limit", "delay_s")}
    plain |= {f"deep_{key}": deep.get(key) for key in ("limit", "delay_s")}
    plain |= {f"latitude_{key}": latitude.get(key) for key in ("from", "to")}
    latching = setting.get("latching")
    return CellEntry(
        state=setting["state"],
        unit=setting.get("unit") or "",
        priority=setting.get("priority") or "",
        latching="" if latching is None else ("yes" if latching else "no"),
        deep_priority=deep.get("priority") or "",
        off_by=latitude.get("off_by", ""),
        reason=setting.get("reason", ""),
        source=setting.get("source", ""),
        edit_version=edit_version,
        age=age,
        **{key: _written(value) for key, value in plain.items()},
    )


def _written(value: float | None) -> str:
    return "" if value is None else show_number(Decimal(repr(value)))


def setting_of(entry: CellEntry, alarm: AlarmCondition) -> dict[str, Any] | None:
    """None: left blank. Raises Refused with the field as column."""
    if entry.state == _BLANK:
        return None
    if not entry.state:
        raise Refused.because("choose one", column="state")
    faults: list[Fault] = []
    setting: dict[str, Any] = {"state": entry.state}
    if entry.state == "on":
        setting |= _on(entry, alarm, faults)
    if entry.state in ("on", "off"):
        setting |= _latitude(entry, faults)
    setting |= {key: text for key in ("reason", "source") if (text := getattr(entry, key).strip())}
    if faults:
        raise Refused(faults)
    return setting


def _on(entry: CellEntry, alarm: AlarmCondition, faults: list[Fault]) -> dict[str, Any]:
    found: dict[str, Any] = {"limit": None}
    if alarm.has_threshold:
        found["limit"] = _number(entry, "limit", faults)
        if not entry.limit.strip():
            faults.append(Fault("an alarm that is on needs its limit", column="limit"))
        if entry.unit and entry.unit != alarm.unit:
            found["unit"] = entry.unit
    found |= _kept(priority=entry.priority or None, delay_s=_number(entry, "delay_s", faults))
    found |= _kept(latching={"yes": True, "no": False}.get(entry.latching))
    deep = _kept(
        limit=_number(entry, "deep_limit", faults),
        priority=entry.deep_priority or None,
        delay_s=_number(entry, "deep_delay_s", faults),
    )
    if deep and "limit" not in deep:
        faults.append(Fault("a deep line needs its limit", column="deep_limit"))
    return found | _kept(deep=deep or None)


def _latitude(entry: CellEntry, faults: list[Fault]) -> dict[str, Any]:
    reach = _kept(
        **{
            "from": _number(entry, "latitude_from", faults),
            "to": _number(entry, "latitude_to", faults),
        }
    )
    off_by = entry.off_by or "nobody"
    if not reach and off_by == "nobody":
        return {}
    return {"latitude": {**reach, "off_by": off_by}}


def _kept(**parts: Any) -> dict[str, Any]:
    return {key: part for key, part in parts.items() if part is not None}


def _number(entry: CellEntry, name: str, faults: list[Fault]) -> int | float | None:
    typed: str = getattr(entry, name).strip()
    if not typed:
        return None
    if _NUMBER.fullmatch(typed) is None:
        faults.append(Fault("write a number such as 90 or 37.5", column=name, value=typed))
        return None
    return as_number(Decimal(typed))


_FIELDS = {
    "deep / limit": "deep_limit",
    "deep / priority": "deep_priority",
    "deep / delay_s": "deep_delay_s",
    "latitude / from": "latitude_from",
    "latitude / to": "latitude_to",
    "latitude / off_by": "off_by",
}


def beside_fields(refused: Refused) -> tuple[Fault, ...]:
    """Faults of the document, told at the field where they were typed."""
    told = []
    for fault in refused.faults:
        steps = str(fault.column or "").split(" / ")
        field = _FIELDS.get(" / ".join(steps[-2:]), steps[-1])
        told.append(Fault(fault.reason, column="latitude_from" if field == "latitude" else field))
    return tuple(told)
