"""Limits that look on but cannot sound, and numbers that look written in another unit."""

from collections.abc import Iterator
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule
from app.domain.settings_of_alarms import (
    On,
    as_number,
    convert,
    lines_of,
    show_number,
    units_of,
)
from app.domain.vital_signs import MMHG_PER_KPA
from app.domain.written_limits import shown_unit

_HIGHEST_SPO2 = Decimal(100)
# Expired CO2 in mmHg: 6 mmHg as a low limit and 12 as a high one are nobody's, 6 and 12 kPa
# somebody's; 10 mmHg as a low limit is what resuscitation asks for. Everywhere else the plausible
# range alone tells the units apart.
_USUAL = {
    "etco2-low": (Decimal(7), Decimal(50)),
    "etco2-high": (Decimal(13), 12 * MMHG_PER_KPA),
}


def never_sounds(alarm: AlarmCondition, limit: Decimal) -> bool:
    """Whether nothing can be measured beyond a limit, given in the alarm's own unit."""
    if alarm.vital_sign is None or alarm.quantity == "temperature":
        return False
    return (
        limit <= 0 if alarm.side == "low" else alarm.quantity == "spo2" and limit == _HIGHEST_SPO2
    )


def reads_like(alarm: AlarmCondition, limit: Decimal, unit: str | None) -> str | None:
    """The other unit in which a limit makes sense that makes none in its own; None: it does."""
    if unit is None or alarm.unit is None or _usual(alarm, limit, unit):
        return None
    others = (other for other in units_of(alarm) if other != unit)
    return next((other for other in others if _usual(alarm, limit, other)), None)


def _usual(alarm: AlarmCondition, limit: Decimal, unit: str) -> bool:
    least, most = _USUAL.get(alarm.key, (alarm.least, alarm.most))
    return least <= convert(limit, unit, alarm.unit or unit) <= most


def _ask_extremes(rule: Rule, question: Question) -> Iterator[Finding]:
    for key, setting in question.settings.items():
        if not isinstance(setting, On) or not question.asks_about(key):
            continue
        alarm = ALARM_CONDITIONS[key]
        for limit, _ in lines_of(setting, alarm):
            if never_sounds(alarm, limit):
                yield rule.finding(
                    question,
                    (key,),
                    f"{alarm.label} can never sound at {show_number(limit)} {alarm.shown}: "
                    "that limit is off in all but name.",
                    measured={"limit": as_number(limit)},
                )


def _ask_units(rule: Rule, question: Question) -> Iterator[Finding]:
    for key, setting in question.settings.items():
        if isinstance(setting, On) and question.asks_about(key):
            alarm = ALARM_CONDITIONS[key]
            for limit, unit in written_lines(setting, alarm):
                other = reads_like(alarm, limit, unit)
                if unit is not None and other is not None:
                    yield _slip(rule, question, alarm, (limit, unit, other))


def written_lines(on: On, alarm: AlarmCondition) -> Iterator[tuple[Decimal, str | None]]:
    """Limit and deep line as written, each with its unit."""
    if on.limit is not None:
        yield on.limit, on.unit or alarm.unit
    if on.deep is not None:
        yield on.deep.limit, on.deep.unit or on.unit or alarm.unit


def _slip(
    rule: Rule, question: Question, alarm: AlarmCondition, slip: tuple[Decimal, str, str]
) -> Finding:
    limit, unit, other = slip
    meant = convert(limit, other, unit)
    noisy = limit > meant if alarm.side == "low" else limit < meant
    effect = "would always sound" if noisy else "would hardly ever sound"
    return rule.finding(
        question,
        (alarm.key,),
        f"{alarm.label} {effect} at {show_number(limit)} {shown_unit(unit)}; "
        f"the number reads like {shown_unit(other)}.",
        measured={"limit": as_number(limit), "unit": unit, "reads_like": other},
    )


NEVER_SOUNDS = Rule(
    "never-sounds",
    "A limit stands at the end of what can be measured, so the alarm is off in all but name.",
    Severity.OFF_PROTOCOL,
    COMMON_PRACTICE,
    ask=_ask_extremes,
)
UNIT_SLIP = Rule(
    "unit-slip",
    "A limit makes no sense in its own unit and makes sense in another: kPa and mmHg, °C and °F.",
    Severity.OFF_PROTOCOL,
    COMMON_PRACTICE,
    ask=_ask_units,
)
