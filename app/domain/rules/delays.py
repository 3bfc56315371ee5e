"""Delays, averaging included: how long a danger lasts before anything sounds."""

from collections.abc import Iterator
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import Question, Rule, in_words
from app.domain.settings_of_alarms import On, as_number, show_number
from app.domain.silence import LONGEST_COVERING_DELAY_S

NOTE_ABOVE_S = 15


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    """One finding a severity: a policy that waits 20 s everywhere is one thing to think about."""
    long: dict[Severity, dict[str, Decimal]] = {}
    for key, setting in question.settings.items():
        if not isinstance(setting, On) or not question.asks_about(key):
            continue
        if setting.deep is not None and setting.deep.delay_s == 0:
            continue
        delay = (setting.delay_s or Decimal(0)) + _averaging(question, key)
        if delay > NOTE_ABOVE_S:
            unsafe = delay > LONGEST_COVERING_DELAY_S
            long.setdefault(Severity.UNSAFE if unsafe else Severity.NOTE, {})[key] = delay
    for severity, delays in long.items():
        yield _long(rule, question, severity, delays)


def _averaging(question: Question, key: str) -> Decimal:
    is_spo2 = ALARM_CONDITIONS[key].quantity == "spo2"
    return question.watch.spo2_averaging_s if is_spo2 else Decimal(0)


def _long(
    rule: Rule, question: Question, severity: Severity, delays: dict[str, Decimal]
) -> Finding:
    longest = max(delays.values())
    labels = in_words([ALARM_CONDITIONS[key].label for key in delays])
    told = f"{labels} can last {'' if len(delays) == 1 else 'up to '}{show_number(longest)} s"
    averaging = max(_averaging(question, key) for key in delays)
    if averaging:
        told += f", {show_number(averaging)} s of SpO₂ averaging included,"
    told += " before anything sounds"
    return rule.finding(
        question,
        tuple(delays),
        told + (": too long to guard anyone." if severity is Severity.UNSAFE else "."),
        severity=severity,
        measured={
            "delay_s": as_number(longest),
            "delays_s": {key: as_number(delay) for key, delay in delays.items()},
            "note_above_s": NOTE_ABOVE_S,
            "unsafe_above_s": LONGEST_COVERING_DELAY_S,
        },
    )


DELAY_LONG = Rule(
    "delay-long",
    "An alarm waits longer than 15 s (a note) or 30 s (unsafe), averaging included, "
    "and has no deep line without a delay.",
    Severity.UNSAFE,
    "judgement, from studies of graded delays (Pater 2020)",
    ask=_ask,
)
