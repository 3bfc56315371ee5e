"""Options that silence a device as a whole, or leave a pressure alarm without fresh values."""

from collections.abc import Iterator
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.options import breach
from app.domain.profiles import Profile
from app.domain.rules.rule import COMMON_PRACTICE, Rule
from app.domain.settings_of_alarms import On, as_number, show_number

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


def _ask_stale(rule: Rule, profile: Profile) -> Iterator[Finding]:
    """The interval is one for the whole device, and so is the finding."""
    option = profile.options.get(NIBP_INTERVAL)
    alarms = _pressure_alarms(profile)
    if option is None or not alarms:
        return
    number = option.value if isinstance(option.value, Decimal) else None
    if option.value == "manual":
        told = "until somebody measures: it is taken by hand only"
    elif number is not None and number > FRESH_FOR_MIN:
        told = f"for {show_number(number)} min: it is measured no more often"
    else:
        return
    measured: dict[str, object] = {"interval_min": None if number is None else as_number(number)}
    yield Finding(
        rule.key,
        rule.severity,
        None,
        alarms,
        None,
        f"Non-invasive pressure can be dangerous unannounced {told}.",
        rule.source,
        measured,
    )


def _pressure_alarms(profile: Profile) -> tuple[str, ...]:
    """Those that are on in some category, or under some circumstance."""
    overlays = [circumstance.settings for circumstance in profile.circumstances]
    on = {
        key
        for settings in (*profile.settings.values(), *overlays)
        for key, setting in settings.items()
        if isinstance(setting, On)
    }
    return tuple(key for key in ALARM_CONDITIONS if key.startswith("nibp-") and key in on)


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
    ask_profile=_ask_stale,
)
