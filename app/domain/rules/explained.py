"""Whether every value says why it is so, and where it comes from."""

from collections.abc import Iterator

from app.domain.findings import Finding, Severity
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule
from app.domain.settings_of_alarms import Off, On, Setting


def is_explained(setting: Setting) -> bool:
    """On: a reason and a source. Off: a reason."""
    if isinstance(setting, On):
        return bool(setting.reason.strip() and setting.source.strip())
    return not isinstance(setting, Off) or bool(setting.reason.strip())


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    asked = [key for key in question.settings if question.asks_about(key)]
    silent = tuple(key for key in asked if not is_explained(question.settings[key]))
    if silent:
        yield rule.finding(
            question,
            silent,
            f"nobody can tell why {len(silent)} of {len(asked)} settings are so: "
            "the reason or the source is missing.",
        )


ALARM_UNSOURCED = Rule(
    "alarm-unsourced",
    "A setting that is on names no reason or no source, or one that is off no reason.",
    Severity.NOTE,
    COMMON_PRACTICE,
    ask=_ask,
)
