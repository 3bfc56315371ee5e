"""Limits that look on but cannot sound, and numbers that look written in another unit."""

from collections.abc import Iterator
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule
from app.domain.settings_of_alarms import On, as_number, show_number

_HIGHEST_SPO2 = Decimal(100)
_KPA_ENDS_AT = Decimal(12)  # an EtCO2 of 12 kPa is 90 mmHg; one of 12 mmHg is 1.6 kPa


def _ask_extremes(rule: Rule, question: Question) -> Iterator[Finding]:
    for key, setting in question.settings.items():
        alarm = ALARM_CONDITIONS[key]
        limit = setting.limit_in(alarm.unit) if isinstance(setting, On) else None
        if limit is not None and question.asks_about(key) and _at_extreme(alarm, limit):
            yield rule.finding(
                question,
                (key,),
                f"{alarm.label} can never sound at {show_number(limit)} {alarm.shown}: "
                "it is off in all but name.",
                measured={"limit": as_number(limit)},
            )


def _at_extreme(alarm: AlarmCondition, limit: Decimal) -> bool:
    if alarm.vital_sign is None:
        return False
    if alarm.side == "low":
        return limit <= 0 and alarm.quantity != "temperature"
    return alarm.quantity == "spo2" and limit >= _HIGHEST_SPO2


def _ask_units(rule: Rule, question: Question) -> Iterator[Finding]:
    for key, setting in question.settings.items():
        alarm = ALARM_CONDITIONS[key]
        if not isinstance(setting, On) or setting.limit is None or not question.asks_about(key):
            continue
        unit = setting.unit or alarm.unit
        other = _meant_unit(alarm, setting.limit, unit)
        if other is not None:
            yield rule.finding(
                question,
                (key,),
                f"{alarm.label} at {show_number(setting.limit)} {unit} reads like {other}.",
                measured={"limit": as_number(setting.limit), "unit": unit, "reads_like": other},
            )


def _meant_unit(alarm: AlarmCondition, limit: Decimal, unit: str | None) -> str | None:
    if alarm.quantity == "etco2":
        if unit == "mm[Hg]" and 0 < limit <= _KPA_ENDS_AT:
            return "kPa"
        if unit == "kPa" and limit > _KPA_ENDS_AT:
            return "mmHg"
    if alarm.quantity == "temperature" and unit == "Cel" and limit > 80:
        return "°F"
    return None


NEVER_SOUNDS = Rule(
    "never-sounds",
    "A limit stands at the end of what can be measured, so the alarm is off in all but name.",
    Severity.OFF_PROTOCOL,
    COMMON_PRACTICE,
    ask=_ask_extremes,
)
UNIT_SLIP = Rule(
    "unit-slip",
    "A limit reads as if it were written in another unit.",
    Severity.OFF_PROTOCOL,
    COMMON_PRACTICE,
    ask=_ask_units,
)
