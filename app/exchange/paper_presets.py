"""Every preset as each model holds it, and what is left to set by hand."""

from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.by_hand import CategoryOnModel, ModelSetting, by_hand_on
from app.domain.device_models import DeviceModel
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import On, Setting, show_number
from app.domain.shown_settings import is_settable, shown_setting, shows_other
from app.exchange import paper_words as words
from app.exchange.paper_circumstances import under_circumstances
from app.exchange.paper_waivers import Waived

Data = dict[str, Any]
COLUMNS = 6
"""As many presets as stand side by side on a page."""


def by_model(profile: Profile, waived: Waived) -> list[Data]:
    """Empty where the policy names no model: then every category is its own preset."""
    return [_model(profile, model, waived) for model in profile.models.values()]


def _model(profile: Profile, model: DeviceModel, waived: Waived) -> Data:
    found = rendered_presets(profile, model.key).values()
    presets = sorted(found, key=lambda one: (one.ages.start, one.preset))
    held = model.retention_min
    return {
        "name": model.key,
        "retention": "" if held is None else f"{show_number(held)} min",
        "own": not model.presets,
        "presets": [_preset(profile, preset) for preset in presets],
        "tables": [
            _table(presets[at : at + COLUMNS], waived)
            for at in range(0, max(len(presets), 1), COLUMNS)
        ],
        "circumstances": under_circumstances(profile, model, waived),
        "by_hand": [_by_hand(one, waived) for one in by_hand_on(profile, model.key)],
    }


def _preset(profile: Profile, preset: RenderedPreset) -> Data:
    def label(key: str) -> str:
        found = profile.category(key)
        return key if found is None else found.label

    return {
        "name": preset.preset,
        "carries": label(preset.carries),
        "serves": ", ".join(map(label, preset.serves)),
        "ages": str(preset.ages),
    }


def _table(presets: list[RenderedPreset], waived: Waived) -> Data:
    held = [alarm for alarm in ALARM_CONDITIONS.values() if _is_held(alarm, presets)]
    return {
        "columns": [preset.preset for preset in presets],
        "rows": [
            {
                "alarm": alarm.label,
                "unit": words.unit(presets[0].unit_of(alarm), alarm),
                "cells": [_cell(alarm, preset, waived) for preset in presets],
            }
            for alarm in held
        ],
    }


def _is_held(alarm: AlarmCondition, presets: list[RenderedPreset]) -> bool:
    settings = (preset.settings.get(alarm.key) for preset in presets)
    return any(one is not None and one.state != "no-policy" for one in settings)


def _cell(alarm: AlarmCondition, preset: RenderedPreset, waived: Waived) -> Data:
    signed = preset.settings.get(alarm.key)
    marked = {"waived": waived.at({preset.carries, *preset.serves}, alarm.key)}
    if signed is None:
        return marked | {"value": words.BLANK, "how": "", "deep": "", "policy": "", "wrong": False}
    shown = shown_setting(preset, alarm.key)
    other = shows_other(alarm, signed, shown)
    return marked | {
        "value": _value(shown),
        "how": _how(shown),
        "deep": _deep(shown),
        "policy": words.limit(signed, alarm) if other and isinstance(signed, On) else "",
        "wrong": not is_settable(shown, alarm, preset.model),
    }


def _value(shown: Setting) -> str:
    if not isinstance(shown, On):
        return words.state(shown)
    return "on" if shown.limit is None else show_number(shown.limit)


def _how(shown: Setting) -> str:
    if not isinstance(shown, On):
        return ""
    priority = words.BLANK if shown.priority is None else shown.priority.value
    return ", ".join([priority, words.delay(shown.delay_s)] + ["latching"] * bool(shown.latching))


def _deep(shown: Setting) -> str:
    if not isinstance(shown, On) or shown.deep is None:
        return ""
    deep = shown.deep
    priority = words.BLANK if deep.priority is None else deep.priority.value
    return f"deep {show_number(deep.limit)}, {priority}, {words.delay(deep.delay_s)}"


def _by_hand(one: CategoryOnModel, waived: Waived) -> Data:
    lent = one.carries is not None and one.carries != one.category
    return {
        "category": one.category.label,
        "ages": str(one.category.span),
        "preset": one.preset or "",
        "carries": one.carries.label if lent and one.carries else "",
        "lines": [
            _line(told) | {"waived": waived.at([one.category.key], told.condition.key)}
            for told in one.by_hand
        ],
    }


def _line(told: ModelSetting) -> Data:
    return {
        "alarm": told.condition.label,
        "set": words.whole(told.to_set, told.condition),
        "held": "" if told.held is None else words.whole(told.held, told.condition),
        "settable": told.settable,
    }
