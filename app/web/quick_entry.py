"""What is typed straight into a cell of the grid: a few short words, in any order."""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from app.domain.alarm_conditions import AlarmCondition
from app.domain.errors import Refused
from app.domain.settings_of_alarms import as_number, units_of

_NUMBER = re.compile(r"\d{1,4}(\.\d{1,3})?", re.ASCII)
_SECONDS = re.compile(r"(\d{1,4}(?:\.\d{1,3})?) ?s\b", re.ASCII)
_ALONE: dict[str, dict[str, Any] | None] = {
    "off": {"state": "off"},
    "nf": {"state": "not-fitted"},
    "np": {"state": "no-policy"},
    "blank": None,
}
_PARTS: dict[str, tuple[str, Any]] = {
    "h": ("priority", "high"),
    "m": ("priority", "medium"),
    "l": ("priority", "low"),
    "lat": ("latching", True),
    "nolat": ("latching", False),
}
_UNITS = {"mmhg": "mm[Hg]", "kpa": "kPa", "°c": "Cel", "c": "Cel", "°f": "[degF]", "f": "[degF]"}


def quick_setting(
    typed: str, alarm: AlarmCondition, held: Mapping[str, Any] | None
) -> dict[str, Any] | None:
    """The setting that it makes of the one held; None: blank. Raises Refused.

    A part that was not typed stays as it was, or blank: nothing is filled in by itself.
    """
    words = typed.strip().lower()
    if words in _ALONE:
        return _of_state(_ALONE[words], held)
    setting = dict(held) if held and held["state"] == "on" else {"state": "on", "limit": None}
    parts = _parts(words, alarm)
    if parts.get("unit") == alarm.unit:
        setting.pop("unit", None)
        parts.pop("unit", None)
    setting |= parts
    if alarm.has_threshold and setting.get("limit") is None:
        raise _refused("an alarm that is on needs its limit: begin with a number")
    return setting


def _of_state(
    wanted: dict[str, Any] | None, held: Mapping[str, Any] | None
) -> dict[str, Any] | None:
    """What already is so keeps its reason."""
    if wanted is None:
        return None
    return dict(held) if held and held["state"] == wanted["state"] else dict(wanted)


def _parts(words: str, alarm: AlarmCondition) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for seconds in _SECONDS.findall(words):
        _keep(found, "delay_s", as_number(Decimal(seconds)))
    for word in _SECONDS.sub(" ", words).split():
        if word in _PARTS:
            _keep(found, *_PARTS[word])
        elif alarm.has_threshold and _NUMBER.fullmatch(word):
            _keep(found, "limit", as_number(Decimal(word)))
        elif _UNITS.get(word) in units_of(alarm):
            _keep(found, "unit", _UNITS[word])
        elif word != "on":
            raise _refused(_not_understood(word, alarm))
    return found


def _keep(found: dict[str, Any], part: str, value: Any) -> None:
    if part in found:
        raise _refused(f"{part.removesuffix('_s')} is given twice")
    found[part] = value


def _not_understood(word: str, alarm: AlarmCondition) -> str:
    begin = "90, " if alarm.has_threshold else "on, "
    return f"“{word}” is not understood; type {begin}off, nf, np, h, m, l, 5s, lat or nolat"


def _refused(reason: str) -> Refused:
    return Refused.because(reason, column="typed")
