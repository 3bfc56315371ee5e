"""Limits that run against age: rates fall as children grow, systolic pressure rises."""

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from app.domain.ages import days
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.rules.rule import Rule
from app.domain.settings_of_alarms import On, as_number, show_number

_FROM = days(28)  # in the first weeks the heart rate still rises (Fleming 2011)
_FALLING = ("heart-rate", "pulse-rate", "respiratory-rate", "airway-respiratory-rate")
_RISING = ("nibp-systolic-low", "ibp-systolic-low")
_ALARMS = {
    **{f"{vital}-{side}": -1 for vital in _FALLING for side in ("low", "high")},
    **dict.fromkeys(_RISING, 1),
}


def _ask(rule: Rule, profile: Profile) -> Iterator[Finding]:
    older = sorted(
        (category for category in profile.categories if category.span.start >= _FROM),
        key=lambda category: category.span.start,
    )
    for key, way in _ALARMS.items():
        stated = [
            (category, limit)
            for category in older
            if (limit := _limit(profile, category, key)) is not None
        ]
        for (younger, before), (elder, after) in pairwise(stated):
            if (after - before) * way < 0:
                label, word = ALARM_CONDITIONS[key].label, "falls" if way > 0 else "rises"
                yield Finding(
                    rule.key,
                    rule.severity,
                    elder.key,
                    (key,),
                    elder.span,
                    f"{elder.label}: {label} {word} with age, from {show_number(before)} "
                    f"({younger.label}) to {show_number(after)}.",
                    rule.source,
                    {"younger": as_number(before), "elder": as_number(after)},
                )


def _limit(profile: Profile, category: PatientCategory, key: str) -> Decimal | None:
    setting = profile.of_category(category.key).get(key)
    return setting.limit_in(ALARM_CONDITIONS[key].unit) if isinstance(setting, On) else None


AGE_TREND = Rule(
    "age-trend",
    "From 28 days on a limit of heart or respiratory rate rises with age, or a low limit of "
    "systolic pressure falls.",
    Severity.NOTE,
    "Fleming 2011 (rates); AHA PALS (systolic pressure)",
    ask_profile=_ask,
)
