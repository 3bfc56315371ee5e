"""Options that silence a device as a whole, or leave a pressure alarm without fresh values."""

from collections.abc import Iterator
from decimal import Decimal

from app.domain.findings import Finding, Severity
from app.domain.options import breach
from app.domain.profiles import Profile
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule
from app.domain.settings_of_alarms import show_number

NIBP_INTERVAL = "nibp-interval-min"
FRESH_FOR_MIN = 10


def _ask_breach(rule: Rule, profile: Profile) -> Iterator[Finding]:
    for key, option in profile.options.items():
        why = breach(key, option.value)
        if why is not None:
            measured: dict[str, object] = {"option": key, "value": str(option.value)}
            yield Finding(
                rule.key,
                rule.severity,
                None,
                (),
                None,
                f"{why[0].upper()}{why[1:]}.",
                rule.source,
                measured,
            )


def _ask_stale(rule: Rule, question: Question) -> Iterator[Finding]:
    option = question.profile.options.get(NIBP_INTERVAL)
    alarms = tuple(key for key in question.settings if key.startswith("nibp-") and question.on(key))
    if option is None or not alarms or not question.asks_about(*alarms):
        return
    interval = option.value
    number = interval if isinstance(interval, Decimal) else None
    if interval == "manual" or (number is not None and number > FRESH_FOR_MIN):
        told = "by hand only" if number is None else f"every {show_number(number)} min"
        yield rule.finding(
            question,
            alarms,
            f"pressure is measured {told}, so its alarms speak of the past.",
            measured={"interval_min": None if number is None else float(number)},
        )


BOUND_BREACH = Rule(
    "bound-breach",
    "An option silences the device as a whole: all alarms or the audio off, or an endless pause.",
    Severity.UNSAFE,
    COMMON_PRACTICE,
    ask_profile=_ask_breach,
)
NIBP_STALE = Rule(
    "nibp-stale",
    "A non-invasive pressure alarm is on while pressure is measured by hand, or less often than "
    "every 10 minutes.",
    Severity.NOTE,
    COMMON_PRACTICE,
    ask=_ask_stale,
)
