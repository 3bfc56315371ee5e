"""What a crew sets on each model once it has chosen a circumstance."""

from typing import Any

from app.domain.by_hand import ModelSetting
from app.domain.circumstances_on_models import CategoryUnder, on_model
from app.domain.device_models import DeviceModel
from app.domain.profiles import Circumstance, Profile
from app.domain.rendered_lines import cannot_be_set
from app.domain.shown_settings import shows_other
from app.exchange import paper_words as words
from app.exchange.paper_waivers import Waived

Data = dict[str, Any]


def under_circumstances(profile: Profile, model: DeviceModel, waived: Waived) -> list[Data]:
    """One table a circumstance, a row an alarm and category."""
    return [
        {
            "label": one.label,
            "rows": [
                _row(one, under, told, model, waived)
                for under in on_model(profile, one, model)
                for told in under.settings
            ],
        }
        for one in profile.circumstances
    ]


def _row(
    circumstance: Circumstance,
    under: CategoryUnder,
    told: ModelSetting,
    model: DeviceModel,
    waived: Waived,
) -> Data:
    alarm = told.condition
    other = shows_other(alarm, told.signed, told.to_set)
    return {
        "category": under.category.label,
        "preset": under.preset,
        "alarm": alarm.label,
        "set": words.whole(told.to_set, alarm),
        "policy": words.whole(told.signed, alarm) if other else "",
        "held": "" if told.held is None else words.whole(told.held, alarm),
        "cannot": list(cannot_be_set(told.to_set, alarm, model)),
        "waived": waived.at([under.category.key], alarm.key, circumstance.key),
    }
