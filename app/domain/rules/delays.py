"""Delays, averaging included: how long a danger lasts before anything sounds."""

from collections.abc import Iterator
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.rules.rule import Question, Rule
from app.domain.settings_of_alarms import On, as_number, show_number
from app.domain.silence import LONGEST_COVERING_DELAY_S

NOTE_ABOVE_S = 15


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    for key, setting in question.settings.items():
        if not isinstance(setting, On) or not question.asks_about(key):
            continue
        if setting.deep is not None and setting.deep.delay_s == 0:
            continue
        delay = (setting.delay_s or Decimal(0)) + _averaging(question, key)
        if delay > NOTE_ABOVE_S:
            yield _long(rule, question, key, delay)


def _averaging(question: Question, key: str) -> Decimal:
    is_spo2 = ALARM_CONDITIONS[key].quantity == "spo2"
    return question.watch.spo2_averaging_s if is_spo2 else Decimal(0)


def _long(rule: Rule, question: Question, key: str, delay: Decimal) -> Finding:
    unsafe = delay > LONGEST_COVERING_DELAY_S
    seconds = show_number(delay)
    return rule.finding(
        question,
        (key,),
        f"{ALARM_CONDITIONS[key].label} can last {seconds} s before it sounds"
        + (", too long to guard anyone." if unsafe else "."),
        severity=Severity.UNSAFE if unsafe else Severity.NOTE,
        measured={
            "delay_s": as_number(delay),
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
