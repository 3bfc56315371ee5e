"""A limit as people read it: the number as it was written, its unit only where it is not usual."""

from decimal import Decimal

from app.domain.alarm_conditions import AlarmCondition
from app.domain.settings_of_alarms import DeepLine, On, show_number

_SHOWN = {"mm[Hg]": "mmHg", "Cel": "°C", "[degF]": "°F"}


def shown_unit(unit: str) -> str:
    """The unit as people write it, from UCUM."""
    return _SHOWN.get(unit, unit)


def show_limit(setting: On, alarm: AlarmCondition) -> str:
    """Empty for an alarm without a threshold."""
    return "" if setting.limit is None else _written(setting.limit, setting.unit, alarm)


def show_deep(setting: On, deep: DeepLine, alarm: AlarmCondition) -> str:
    return _written(deep.limit, deep.unit or setting.unit, alarm)


def _written(limit: Decimal, unit: str | None, alarm: AlarmCondition) -> str:
    number = show_number(limit)
    return number if unit in (None, alarm.unit) else f"{number} {shown_unit(unit or '')}"
