"""Limits that run against age: rates fall as children grow, systolic pressure rises."""

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from app.domain.ages import days, years
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.rules.rule import Rule, in_words
from app.domain.settings_of_alarms import On, as_number, show_number

_FROM = days(28)  # in the first weeks the heart rate still rises (Fleming 2011)
_GROWN = years(18)  # where the sources end; the old may well have limits of their own
_FALLING = ("heart-rate", "pulse-rate", "respiratory-rate", "airway-respiratory-rate")
_RISING = ("nibp-systolic-low", "ibp-systolic-low")
_ALARMS = {
    **{f"{vital}-{side}": -1 for vital in _FALLING for side in ("low", "high")},
    **dict.fromkeys(_RISING, 1),
}

_Steps = dict[str, tuple[Decimal, Decimal]]


def _ask(rule: Rule, profile: Profile) -> Iterator[Finding]:
    wrong: dict[tuple[str, str], _Steps] = {}
    growing = _growing(profile)
    for key, way in _ALARMS.items():
        stated = [
            (category, limit)
            for category in growing
            if (limit := _limit(profile, category, key)) is not None
        ]
        for (younger, before), (elder, after) in pairwise(stated):
            if (after - before) * way < 0:
                wrong.setdefault((younger.key, elder.key), {})[key] = (before, after)
    for younger in growing:
        for elder in growing:
            steps = wrong.get((younger.key, elder.key))
            if steps:
                yield _finding(rule, younger, elder, steps)


def _growing(profile: Profile) -> list[PatientCategory]:
    """From the youngest: those that lie mostly beyond the first weeks, up to the first adults."""
    found = [
        category
        for category in profile.categories
        if category.span.start.days + category.span.stop.days >= 2 * _FROM.days
        and category.span.start <= _GROWN
    ]
    return sorted(found, key=lambda category: category.span.start)


def _limit(profile: Profile, category: PatientCategory, key: str) -> Decimal | None:
    setting = profile.of_category(category.key).get(key)
    return setting.limit_in(ALARM_CONDITIONS[key].unit) if isinstance(setting, On) else None


def _finding(
    rule: Rule, younger: PatientCategory, elder: PatientCategory, steps: _Steps
) -> Finding:
    told = [
        f"{ALARM_CONDITIONS[key].label} {'rises' if after > before else 'falls'} "
        f"from {show_number(before)} to {show_number(after)}"
        for key, (before, after) in steps.items()
    ]
    return Finding(
        rule.key,
        rule.severity,
        elder.key,
        tuple(steps),
        elder.span,
        f"{elder.label}: limits run against age after {younger.label}: {in_words(told)}.",
        rule.source,
        {key: [as_number(limit) for limit in limits] for key, limits in steps.items()},
    )


AGE_TREND = Rule(
    "age-trend",
    "From 28 days to adulthood, a limit of heart or respiratory rate rises with age, "
    "or a low limit of systolic pressure falls.",
    Severity.NOTE,
    "Fleming 2011 (rates); AHA PALS (systolic pressure)",
    ask_profile=_ask,
)
