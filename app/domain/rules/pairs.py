"""Limits that make no sense beside each other."""

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule
from app.domain.settings_of_alarms import as_number, show_number

_SAME = (("heart-rate", "pulse-rate"), ("respiratory-rate", "airway-respiratory-rate"))


def _limit(question: Question, key: str) -> Decimal | None:
    on = question.on(key)
    return None if on is None else on.limit_in(ALARM_CONDITIONS[key].unit)


def _ask_pressures(rule: Rule, question: Question) -> Iterator[Finding]:
    for method in ("nibp", "ibp"):
        for side in ("low", "high"):
            keys = [f"{method}-{part}-{side}" for part in ("systolic", "mean", "diastolic")]
            stated = [(key, limit) for key in keys if (limit := _limit(question, key)) is not None]
            for (upper, above), (lower, below) in pairwise(stated):
                if above <= below and question.asks_about(upper, lower):
                    yield _crossed(rule, question, (upper, above), (lower, below))


def _crossed(
    rule: Rule, question: Question, upper: tuple[str, Decimal], lower: tuple[str, Decimal]
) -> Finding:
    names = [ALARM_CONDITIONS[key].label for key, _ in (upper, lower)]
    return rule.finding(
        question,
        (upper[0], lower[0]),
        f"{names[0]} at {show_number(upper[1])} is not above {names[1]} at "
        f"{show_number(lower[1])} mmHg.",
        measured={upper[0]: as_number(upper[1]), lower[0]: as_number(lower[1])},
    )


def _ask_pairs(rule: Rule, question: Question) -> Iterator[Finding]:
    for first, second in _SAME:
        for side in ("low", "high"):
            yield from _unequal(rule, question, f"{first}-{side}", f"{second}-{side}")
    rates = ("respiratory-rate-low", "airway-respiratory-rate-low")
    for apnoea, rate in zip(("apnoea", "airway-apnoea"), rates, strict=True):
        yield from _overtaken(rule, question, apnoea, rate)


def _unequal(rule: Rule, question: Question, first: str, second: str) -> Iterator[Finding]:
    one, other = _limit(question, first), _limit(question, second)
    if one is None or other is None or one == other or not question.asks_about(first, second):
        return
    names = [ALARM_CONDITIONS[key].label for key in (first, second)]
    yield rule.finding(
        question,
        (first, second),
        f"{names[0]} at {show_number(one)} and {names[1]} at {show_number(other)} guard the "
        "same danger with different limits.",
        severity=Severity.NOTE,
        measured={first: as_number(one), second: as_number(other)},
    )


def _overtaken(rule: Rule, question: Question, apnoea: str, rate: str) -> Iterator[Finding]:
    """Breathing at the low limit of the rate already pauses longer than the apnoea time."""
    seconds, least = _limit(question, apnoea), _limit(question, rate)
    if seconds is None or least is None or not question.asks_about(apnoea, rate):
        return
    if least > 0 and seconds < 60 / least:
        label = ALARM_CONDITIONS[apnoea].label
        yield rule.finding(
            question,
            (apnoea, rate),
            f"{label} after {show_number(seconds)} s sounds although breathing at the low limit "
            f"of {show_number(least)} /min pauses longer between breaths.",
            measured={apnoea: as_number(seconds), rate: as_number(least)},
        )


PRESSURE_ORDER = Rule(
    "pressure-order",
    "A systolic limit is not above the mean one, or a mean one not above the diastolic one.",
    Severity.OFF_PROTOCOL,
    COMMON_PRACTICE,
    ask=_ask_pressures,
)
PAIR_CONFLICT = Rule(
    "pair-conflict",
    "Two alarms that guard the same danger contradict each other.",
    Severity.OFF_PROTOCOL,
    COMMON_PRACTICE,
    ask=_ask_pairs,
)
