"""What a circumstance asks for on one model: in its unit and step, beside what the preset holds."""

from dataclasses import dataclass

from app.domain.by_hand import ModelSetting, model_settings, serving_preset
from app.domain.device_models import DeviceModel
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Circumstance, Profile


@dataclass(frozen=True)
class CategoryUnder:
    """One category under a circumstance. `preset` "": no preset of the model is for it."""

    category: PatientCategory
    preset: str
    settings: tuple[ModelSetting, ...]


def on_model(
    profile: Profile, circumstance: Circumstance, model: DeviceModel
) -> tuple[CategoryUnder, ...]:
    """Of every category for which a crew may choose it; the alarms that it names."""
    return tuple(
        CategoryUnder(
            category,
            preset,
            tuple(
                model_settings(circumstance.settings, profile.of_category(carried), category, model)
            ),
        )
        for category in profile.categories
        if category.key in circumstance.applies_to
        for preset, carried in [_preset(model, category)]
    )


def _preset(model: DeviceModel, category: PatientCategory) -> tuple[str, str]:
    """Its name and the category that it carries. Without a map each category is its own preset."""
    if not model.presets:
        return category.key, category.key
    found = serving_preset(model, category)
    return ("", "") if found is None else (found.key, found.carries)
