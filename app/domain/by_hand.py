"""What a crew sets by hand on one model: where its preset lends another category's values."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.device_models import DeviceModel, Preset
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile, Settings
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import Off, On, Setting
from app.domain.shown_settings import is_settable, shown_setting, shows_other


@dataclass(frozen=True)
class ModelSetting:
    """`to_set`: the signed setting in the unit and step of the model; `held`: what the preset
    holds, None where no preset is for this category. `settable` False: the model offers no such
    value, or cannot be switched off."""

    condition: AlarmCondition
    signed: Setting
    held: Setting | None
    to_set: Setting
    settable: bool = True


@dataclass(frozen=True)
class CategoryOnModel:
    """`preset` None: no preset of the model is for this category. `carries`: the category whose
    values that preset holds. `rounded`: nothing to be done, but the device shows other numbers
    than the policy."""

    category: PatientCategory
    preset: str | None
    carries: PatientCategory | None
    by_hand: tuple[ModelSetting, ...]
    rounded: tuple[ModelSetting, ...]


def by_hand_on(profile: Profile, model: str) -> tuple[CategoryOnModel, ...]:
    """One a category, youngest first; empty where the policy knows no presets of that model."""
    found = profile.models.get(model)
    if found is None or not found.presets:
        return ()
    return tuple(_on_model(profile, found, category) for category in profile.categories)


def serving_preset(model: DeviceModel, category: PatientCategory) -> Preset | None:
    """Of several that serve it, the one with its own values leaves nothing to be set."""
    serving = [preset for preset in model.presets if category.key in preset.serves]
    own = next((one for one in serving if one.carries == category.key), None)
    return own or next(iter(serving), None)


def _on_model(profile: Profile, model: DeviceModel, category: PatientCategory) -> CategoryOnModel:
    preset = serving_preset(model, category)
    lent: Settings = profile.of_category(preset.carries) if preset else {}
    told = list(model_settings(profile.of_category(category.key), lent, category, model))
    return CategoryOnModel(
        category=category,
        preset=preset.key if preset else None,
        carries=profile.category(preset.carries) if preset else None,
        by_hand=tuple(one for one in told if _differs(one)),
        rounded=tuple(one for one in told if not _differs(one) and _shows_other(one)),
    )


def model_settings(
    own: Settings, lent: Settings, category: PatientCategory, model: DeviceModel
) -> Iterator[ModelSetting]:
    """What is `own`, beside what the preset was `lent`."""
    for key, condition in ALARM_CONDITIONS.items():
        signed = own.get(key)
        if not isinstance(signed, On | Off):
            continue
        to_set = _as_shown(key, own, category, model)
        held = _as_shown(key, lent, category, model) if key in lent else None
        yield ModelSetting(condition, signed, held, to_set, is_settable(to_set, condition, model))


def _as_shown(
    key: str, settings: Settings, category: PatientCategory, model: DeviceModel
) -> Setting:
    own = RenderedPreset("", category.key, (category.key,), category.span, settings, model)
    return shown_setting(own, key)


def _differs(one: ModelSetting) -> bool:
    if one.held is None or not one.settable:
        return True
    return _what_a_device_holds(one.held) != _what_a_device_holds(one.to_set)


def _what_a_device_holds(setting: Setting) -> object:
    """Without what stands on paper only: reason, source and latitude."""
    if not isinstance(setting, On):
        return setting.state
    return replace(setting, reason="", source="", latitude=None)


def _shows_other(one: ModelSetting) -> bool:
    return shows_other(one.condition, one.signed, one.to_set)
