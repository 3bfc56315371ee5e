"""Limits that contradict each other, or that nobody can have meant."""

from collections.abc import Iterator
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition, limits_of
from app.domain.findings import Finding, Severity
from app.domain.rules.extremes import never_sounds, reads_like, written_lines
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule
from app.domain.settings_of_alarms import On, as_number, lines_of, show_number
from app.domain.vital_signs import VITAL_SIGNS


def _ask_order(rule: Rule, question: Question) -> Iterator[Finding]:
    for vital in VITAL_SIGNS:
        low, high = limits_of(vital)
        yield from _crossed(rule, question, low, high)
    for alarm in ALARM_CONDITIONS.values():
        yield from _deep_line_too_near(rule, question, alarm)


def _crossed(
    rule: Rule, question: Question, low: AlarmCondition, high: AlarmCondition
) -> Iterator[Finding]:
    below, above = _limit(question, low), _limit(question, high)
    if below is None or above is None or below < above:
        return
    if not question.asks_about(low.key, high.key):
        return
    vital = VITAL_SIGNS[low.quantity]
    yield rule.finding(
        question,
        (low.key, high.key),
        f"{vital.label} sounds at every value: below {show_number(below)} "
        f"and above {show_number(above)} {vital.shown} leave none between.",
        measured={"low": as_number(below), "high": as_number(above)},
    )


def _deep_line_too_near(rule: Rule, question: Question, alarm: AlarmCondition) -> Iterator[Finding]:
    on = question.on(alarm.key)
    if on is None or on.deep is None or not question.asks_about(alarm.key):
        return
    (limit, _), (deep, _) = lines_of(on, alarm)
    beyond = deep < limit if alarm.looser == "down" else deep > limit
    if not beyond:
        yield rule.finding(
            question,
            (alarm.key,),
            f"the deep line of {alarm.label}, {show_number(deep)}, must lie beyond its limit, "
            f"{show_number(limit)} {alarm.shown}.",
            measured={"limit": as_number(limit), "deep": as_number(deep)},
        )


def _limit(question: Question, alarm: AlarmCondition) -> Decimal | None:
    on = question.on(alarm.key)
    return None if on is None else on.limit_in(alarm.unit)


def _ask_plausible(rule: Rule, question: Question) -> Iterator[Finding]:
    for key, setting in question.settings.items():
        alarm = ALARM_CONDITIONS[key]
        if isinstance(setting, On) and alarm.has_threshold and question.asks_about(key):
            lines = zip(lines_of(setting, alarm), written_lines(setting, alarm), strict=True)
            for (limit, _), written in lines:
                outside = not alarm.least <= limit <= alarm.most
                if outside and not _told_elsewhere(alarm, limit, *written):
                    yield _implausible(rule, question, alarm, limit)


def _told_elsewhere(
    alarm: AlarmCondition, limit: Decimal, written: Decimal, unit: str | None
) -> bool:
    """By a rule that says why."""
    return never_sounds(alarm, limit) or reads_like(alarm, written, unit) is not None


def _implausible(rule: Rule, question: Question, alarm: AlarmCondition, limit: Decimal) -> Finding:
    reach = f"{show_number(alarm.least)} to {show_number(alarm.most)} {alarm.shown}"
    return rule.finding(
        question,
        (alarm.key,),
        f"{alarm.label} at {show_number(limit)} cannot be meant; plausible is {reach}.",
        measured={
            "limit": as_number(limit),
            "least": as_number(alarm.least),
            "most": as_number(alarm.most),
        },
    )


LIMIT_ORDER = Rule(
    "limit-order",
    "A low limit is not below its high limit, or a deep line not beyond its limit.",
    Severity.UNSAFE,
    COMMON_PRACTICE,
    ask=_ask_order,
)
LIMIT_IMPLAUSIBLE = Rule(
    "limit-implausible",
    "A limit lies outside what the vital sign can plausibly be.",
    Severity.OFF_PROTOCOL,
    COMMON_PRACTICE,
    ask=_ask_plausible,
)
