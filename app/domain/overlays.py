"""What a circumstance changes in each category it applies to, told as the redline tells it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.findings import Finding
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Circumstance, Profile
from app.domain.redline import Change, redline
from app.domain.settings_of_alarms import Setting


@dataclass(frozen=True)
class OverlaidCategory:
    """`change` None: the circumstance says here what the category says anyway."""

    category: PatientCategory
    ordinary: Setting | None
    change: Change | None


@dataclass(frozen=True)
class OverlaidAlarm:
    """One alarm under a circumstance; `overlay` None: it stays as in each category."""

    alarm: AlarmCondition
    overlay: Setting | None
    categories: tuple[OverlaidCategory, ...]


def overlaid_alarms(profile: Profile, circumstance: Circumstance) -> tuple[OverlaidAlarm, ...]:
    """Every alarm condition, in the order of the policy."""
    reached = [one for one in profile.categories if one.key in circumstance.applies_to]
    changes = {
        (one.key, change.alarm.key): change
        for one in reached
        for change in _changes(profile, one, circumstance)
        if change.alarm is not None
    }
    return tuple(
        OverlaidAlarm(
            alarm,
            circumstance.settings.get(alarm.key),
            tuple(
                OverlaidCategory(
                    one,
                    profile.of_category(one.key).get(alarm.key),
                    changes.get((one.key, alarm.key)),
                )
                for one in reached
            ),
        )
        for alarm in ALARM_CONDITIONS.values()
    )


def _changes(
    profile: Profile, category: PatientCategory, circumstance: Circumstance
) -> tuple[Change, ...]:
    """From the ordinary settings of one category to the overlaid ones, and of nothing else.

    Only what they say counts here, never `silent`: other bounds may hold under a circumstance,
    and the rules judge by those.
    """
    ordinary = {category.key: profile.of_category(category.key)}
    plain = replace(
        profile, categories=(category,), settings=ordinary, circumstances=(), options={}, models={}
    )
    overlaid = {category.key: profile.overlaid(category.key, circumstance)}
    return redline(plain, replace(plain, settings=overlaid)).changes


def findings_under(findings: Iterable[Finding], key: str) -> tuple[Finding, ...]:
    """Those that arise only under the circumstance."""
    return tuple(one for one in findings if one.measured.get("circumstance") == key)
