"""Whether each model can be set to what the policy says."""

from collections.abc import Iterator

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_models import DeviceModel, Grid
from app.domain.findings import Finding, Severity
from app.domain.rendering import RenderedPreset
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule, in_words
from app.domain.settings_of_alarms import NotFitted, Off, On, show_number
from app.domain.written_limits import shown_unit


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    """One finding a model, wherever the values come from: its own preset or a hand."""
    for model in question.profile.models.values():
        if not _used_for(model, question.category.key):
            continue
        category = question.category
        rendered = RenderedPreset(
            category.key, category.key, (), category.span, question.settings, model
        )
        reasons = {
            key: why
            for key, grid in model.grid.items()
            if question.asks_about(key) and (why := _why_not(rendered, key, grid))
        }
        if reasons:
            told = in_words(list(reasons.values()))
            yield rule.finding(
                question,
                tuple(reasons),
                f"{model.key} cannot be set as the policy says: {told}.",
                measured={"model": model.key},
            )


def _used_for(model: DeviceModel, category: str) -> bool:
    served = {key for preset in model.presets for key in (preset.carries, *preset.serves)}
    return category in served or not model.presets


def _why_not(rendered: RenderedPreset, key: str, grid: Grid) -> str | None:
    setting, label = rendered.settings.get(key), ALARM_CONDITIONS[key].label
    if isinstance(setting, Off) and not grid.can_be_off:
        return f"{label} cannot be switched off"
    if isinstance(setting, NotFitted):
        return f"{label} is called not fitted but is there"
    return _beyond(rendered, key, grid) if isinstance(setting, On) else None


def _beyond(rendered: RenderedPreset, key: str, grid: Grid) -> str | None:
    """A limit between two steps is no fault: it is rounded toward the earlier alarm."""
    for name, values in (("", rendered.values(key)), ("deep ", rendered.deep_values(key))):
        if values and not any(grid.holds(value) for value in values):
            alarm = ALARM_CONDITIONS[key]
            unit = rendered.unit_of(alarm) or ""
            return (
                f"{name}{alarm.label} {show_number(min(values))} lies outside "
                f"{show_number(grid.start)} to {show_number(grid.end)} {shown_unit(unit)}"
            )
    return None


LIMIT_SETTABLE = Rule(
    "limit-settable",
    "A model cannot be set to what the policy says, even by rounding toward the earlier alarm.",
    Severity.OFF_PROTOCOL,
    COMMON_PRACTICE,
    ask=_ask,
)
