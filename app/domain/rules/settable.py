"""Whether each model can be set to what the policy says."""

from collections.abc import Iterator

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_models import DeviceModel, Grid
from app.domain.findings import Finding, Severity
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.rules.rule import COMMON_PRACTICE, Rule
from app.domain.settings_of_alarms import NotFitted, Off, On, Setting, show_number


def _ask(rule: Rule, profile: Profile) -> Iterator[Finding]:
    for model in profile.models.values():
        for preset in rendered_presets(profile, model.key).values():
            for key, setting in preset.settings.items():
                why = _why_not(preset, model, key, setting)
                if why is not None:
                    yield Finding(
                        rule.key,
                        rule.severity,
                        preset.carries,
                        (key,),
                        None,
                        f"{model.key}, {preset.preset}: {ALARM_CONDITIONS[key].label} {why}.",
                        rule.source,
                        {"model": model.key, "preset": preset.preset},
                    )


def _why_not(preset: RenderedPreset, model: DeviceModel, key: str, setting: Setting) -> str | None:
    grid = model.grid.get(key)
    if grid is None:
        return None
    if isinstance(setting, Off):
        return None if grid.can_be_off else "cannot be switched off on this model"
    if isinstance(setting, NotFitted):
        return "is called not fitted, but this model has it"
    return _beyond(preset, grid, key) if isinstance(setting, On) else None


def _beyond(preset: RenderedPreset, grid: Grid, key: str) -> str | None:
    values = preset.values(key)
    if not values or any(grid.holds(value) for value in values):
        return None
    reach = f"{show_number(grid.start)} to {show_number(grid.end)} by {show_number(grid.step)}"
    return f"cannot be set to {show_number(min(values))}; the model offers {reach}"


LIMIT_SETTABLE = Rule(
    "limit-settable",
    "A model cannot be set to what the policy says.",
    Severity.OFF_PROTOCOL,
    COMMON_PRACTICE,
    ask_profile=_ask,
)
