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
    silent = tuple(
        key
        for key, setting in question.settings.items()
        if question.asks_about(key) and not is_explained(setting)
    )
    if silent:
        yield rule.finding(
            question,
            silent,
            f"{len(silent)} of {len(question.settings)} settings name no reason or no source.",
        )


ALARM_UNSOURCED = Rule(
    "alarm-unsourced",
    "A setting that is on names no reason or no source, or one that is off no reason.",
    Severity.NOTE,
    COMMON_PRACTICE,
    ask=_ask,
)
