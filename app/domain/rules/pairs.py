"""Limits that make no sense beside each other."""

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule, in_words
from app.domain.settings_of_alarms import as_number, show_number
from app.domain.vital_signs import VITAL_SIGNS

_SAME = (("heart-rate", "pulse-rate"), ("respiratory-rate", "airway-respiratory-rate"))


def _limit(question: Question, key: str) -> Decimal | None:
    on = question.on(key)
    return None if on is None else on.limit_in(ALARM_CONDITIONS[key].unit)


def _ask_pressures(rule: Rule, question: Question) -> Iterator[Finding]:
    for method in ("nibp", "ibp"):
        for side in ("low", "high"):
            keys = [f"{method}-{part}-{side}" for part in ("systolic", "mean", "diastolic")]
            stated = [(key, limit) for key in keys if (limit := _limit(question, key)) is not None]
            for upper, lower in pairwise(stated):
                if upper[1] <= lower[1] and question.asks_about(upper[0], lower[0]):
                    yield _crossed(rule, question, upper, lower)


def _crossed(
    rule: Rule, question: Question, upper: tuple[str, Decimal], lower: tuple[str, Decimal]
) -> Finding:
    """Systolic pressure lies above the mean, and that above diastolic, so one alarm is idle."""
    falling = upper[0].endswith("-low")
    (idle, late), (first, early) = (upper, lower) if falling else (lower, upper)
    return rule.finding(
        question,
        (upper[0], lower[0]),
        f"{ALARM_CONDITIONS[idle].label} at {show_number(late)} mmHg can never be the first to "
        f"sound: {ALARM_CONDITIONS[first].label} at {show_number(early)} mmHg always is.",
        measured={upper[0]: as_number(upper[1]), lower[0]: as_number(lower[1])},
    )


def _ask_pairs(rule: Rule, question: Question) -> Iterator[Finding]:
    for first, second in _SAME:
        yield from _unequal(rule, question, first, second)
    rates = ("respiratory-rate-low", "airway-respiratory-rate-low")
    for apnoea, rate in zip(("apnoea", "airway-apnoea"), rates, strict=True):
        yield from _overtaken(rule, question, apnoea, rate)


def _unequal(rule: Rule, question: Question, first: str, second: str) -> Iterator[Finding]:
    unequal: dict[str, Decimal] = {}
    told = []
    for side in ("low", "high"):
        keys = f"{first}-{side}", f"{second}-{side}"
        one, other = (_limit(question, key) for key in keys)
        if one is None or other is None or one == other or not question.asks_about(*keys):
            continue
        unequal |= {keys[0]: one, keys[1]: other}
        told.append(f"{side} {show_number(one)} and {show_number(other)}")
    if unequal:
        yield rule.finding(
            question,
            tuple(unequal),
            f"{VITAL_SIGNS[first].label} and {VITAL_SIGNS[second].label} guard the same danger "
            f"with different limits: {in_words(told)} {VITAL_SIGNS[first].shown}.",
            severity=Severity.NOTE,
            measured={key: as_number(limit) for key, limit in unequal.items()},
        )


def _overtaken(rule: Rule, question: Question, apnoea: str, rate: str) -> Iterator[Finding]:
    """Breathing at the low limit of the rate already pauses longer than the apnoea time."""
    seconds, least = _limit(question, apnoea), _limit(question, rate)
    if seconds is None or least is None or not question.asks_about(apnoea, rate):
        return
    if 0 < seconds * least < 60:
        yield rule.finding(
            question,
            (apnoea, rate),
            f"{ALARM_CONDITIONS[apnoea].label} would sound again and again in a patient who "
            f"breathes {show_number(least)} /min, which {ALARM_CONDITIONS[rate].label} allows: "
            f"breaths are then more than {show_number(seconds)} s apart.",
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
