"""Whether the policy says something about every alarm, and says all of it."""

from collections.abc import Iterator

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.profiles import Profile, Settings
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule
from app.domain.settings_of_alarms import On


def blanks_of(settings: Settings) -> dict[str, tuple[str, ...]]:
    """Alarm → what is left blank: the whole setting, or parts of one that is on."""
    found: dict[str, tuple[str, ...]] = {}
    for key in ALARM_CONDITIONS:
        setting = settings.get(key)
        if setting is None:
            found[key] = ("setting",)
        elif isinstance(setting, On):
            parts = {
                "priority": setting.priority,
                "delay": setting.delay_s,
                "latching": setting.latching,
            }
            missing = tuple(name for name, value in parts.items() if value is None)
            if missing:
                found[key] = missing
    return found


def blanks(profile: Profile) -> list[tuple[str, str, tuple[str, ...]]]:
    """(category, alarm, what is blank) over the whole profile; a signed one has none."""
    return [
        (category.key, alarm, parts)
        for category in profile.categories
        for alarm, parts in blanks_of(profile.of_category(category.key)).items()
    ]


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    if question.circumstance is not None:
        return
    found = blanks_of(question.settings)
    if not found:
        return
    unstated = [key for key, parts in found.items() if parts == ("setting",)]
    partly = [key for key in found if key not in unstated]
    told = []
    if unstated:
        told.append(f"nothing is said of {len(unstated)} of {len(ALARM_CONDITIONS)} alarms")
    if partly:
        told.append(f"priority, delay or latching is left blank in {len(partly)}")
    yield rule.finding(
        question,
        tuple(found),
        f"{' and '.join(told)}.",
        measured={"unstated": unstated, "partly": {key: list(found[key]) for key in partly}},
    )


ALARM_UNSTATED = Rule(
    "alarm-unstated",
    "The policy leaves an alarm, or a part of its setting, blank; such a draft cannot be signed.",
    Severity.NOTE,
    COMMON_PRACTICE,
    ask=_ask,
)
