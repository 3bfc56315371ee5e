"""Rendered presets from settings in words, for tests that hold readings against them."""

import json
from decimal import Decimal
from typing import Any

from app.domain.device_reports import FoundOn
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import Priority
from app.exchange.profile_json import parse_profile
from tests.worked_profiles import document

DUNLIN = "dunlin"


def preset_of(
    settings: dict[str, Any],
    *,
    ages: tuple[str, str | None] = ("1 y", "5 y"),
    grid: dict[str, Any] | None = None,
    etco2_unit: str = "mm[Hg]",
) -> RenderedPreset:
    """With a grid: as one preset of a model."""
    models = {
        DUNLIN: {
            "presets": {"CHILD": {"carries": "child"}},
            "grid": grid or {},
            "etco2_unit": etco2_unit,
        }
    }
    profile = parse_profile(json.dumps(document({"child": (*ages, settings)}, models=models)))
    return rendered_presets(profile, DUNLIN)["CHILD"]


def read(
    limit: float | str | None,
    *,
    unit: str | None = None,
    priority: str | None = None,
    delay_s: int | None = None,
    latching: bool | None = None,
) -> FoundOn:
    return FoundOn(
        None if limit is None else Decimal(str(limit)),
        unit,
        None if priority is None else Priority(priority),
        None if delay_s is None else Decimal(delay_s),
        latching,
    )
