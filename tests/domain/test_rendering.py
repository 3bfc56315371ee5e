import json
from decimal import Decimal
from typing import Any

import pytest

from app.domain.rendering import rendered_presets
from app.exchange.profile_json import parse_profile
from tests.domain.presets import preset_of
from tests.worked_profiles import document, five_categories, on


def numbers(values: frozenset[Decimal]) -> list[float]:
    return sorted(map(float, values))


def grid(alarm: str, start: float, end: float, step: float) -> dict[str, Any]:
    return {alarm: {"from": start, "to": end, "step": step}}


@pytest.mark.parametrize(
    ("alarm", "signed", "rendered"),
    [
        ("heart-rate-low", 90, 90),
        ("heart-rate-low", 91, 95),
        ("heart-rate-low", 89, 90),
        ("heart-rate-high", 180, 180),
        ("heart-rate-high", 184, 180),
        ("heart-rate-high", 179, 175),
        ("apnoea", 22, 20),
    ],
)
def test_a_limit_is_rounded_to_the_models_step_toward_the_earlier_alarm(
    alarm: str, signed: float, rendered: float
) -> None:
    preset = preset_of({alarm: on(signed)}, grid=grid(alarm, 10, 250, 5))

    assert numbers(preset.values(alarm)) == [rendered]


@pytest.mark.parametrize(("signed", "rendered"), [(33, 33), (34, 38), (90, 93)])
def test_the_steps_of_a_model_are_counted_from_its_lowest_value(
    signed: float, rendered: float
) -> None:
    preset = preset_of({"heart-rate-low": on(signed)}, grid=grid("heart-rate-low", 33, 203, 5))

    (value,) = preset.values("heart-rate-low")

    assert value == rendered
    assert preset.model is not None
    assert preset.model.grid["heart-rate-low"].holds(value)


def test_without_a_grid_the_step_is_the_vital_signs() -> None:
    settings = {"heart-rate-low": on(90.5), "temperature-high": on(38.55)}
    preset = preset_of(settings)

    assert numbers(preset.values("heart-rate-low")) == [91]
    assert numbers(preset.values("temperature-high")) == [38.5]


@pytest.mark.parametrize(
    ("alarm", "signed", "shown", "asked", "values"),
    [
        # as written, in its own unit
        ("etco2-high", on(60), "mm[Hg]", None, [60]),
        ("etco2-high", on(8, unit="kPa"), "kPa", None, [8]),
        # 8 kPa is 60.005 mmHg: down to 60, and 60 is the nearest
        ("etco2-high", on(8, unit="kPa"), "mm[Hg]", None, [60]),
        # 60 mmHg is 7.999 kPa: down to 7.9, the nearest is 8.0; both conform
        ("etco2-high", on(60), "kPa", None, [7.9, 8.0]),
        # 30 mmHg is 3.9997 kPa: a low limit goes up to 4.0, which is the nearest as well
        ("etco2-low", on(30), "kPa", None, [4.0]),
        # the unit of the reading counts, not the one that the model shows
        ("etco2-high", on(60), "mm[Hg]", "kPa", [7.9, 8.0]),
        ("etco2-high", on(60), "kPa", "mm[Hg]", [60]),
        ("temperature-high", on(38), "mm[Hg]", "[degF]", [100.4]),
    ],
)
def test_a_limit_is_rendered_in_the_unit_of_the_reading(
    alarm: str, signed: dict[str, Any], shown: str, asked: str | None, values: list[float]
) -> None:
    preset = preset_of({alarm: signed}, etco2_unit=shown)

    assert numbers(preset.values(alarm, asked)) == values


@pytest.mark.parametrize(
    "setting", [{"state": "off", "reason": "x"}, {"state": "not-fitted"}, {"state": "no-policy"}]
)
def test_what_is_not_on_has_no_value(setting: dict[str, Any]) -> None:
    preset = preset_of({"heart-rate-low": setting})

    assert preset.values("heart-rate-low") == frozenset()
    assert preset.deep_values("heart-rate-low") == frozenset()


def test_a_deep_line_is_rendered_like_its_limit() -> None:
    settings = {"heart-rate-low": on(90, deep={"limit": 62})}
    preset = preset_of(settings, grid=grid("heart-rate-low", 30, 200, 5))

    assert numbers(preset.deep_values("heart-rate-low")) == [65]


def test_without_a_known_model_every_category_is_its_own_preset() -> None:
    profile = parse_profile(json.dumps(five_categories()))

    for model in (None, "", "petrel"):
        presets = rendered_presets(profile, model)
        assert list(presets) == ["neonate", "infant", "young-child", "child", "adult"]
        assert all((p.carries, p.serves) == (name, (name,)) for name, p in presets.items())


def test_a_preset_carries_one_category_and_serves_the_ages_of_others() -> None:
    models = {
        "dunlin": {"presets": {"CHILD": {"carries": "child", "serves": ["young-child", "child"]}}}
    }
    profile = parse_profile(json.dumps({**five_categories(), "models": models}))

    preset = rendered_presets(profile, "dunlin")["CHILD"]

    assert preset.settings == profile.of_category("child")
    assert str(preset.ages) == "1 y to 13 y"


def test_a_preset_that_names_nobody_else_serves_what_it_carries() -> None:
    models = {"dunlin": {"presets": {"ADULT": {"carries": "adult"}}}}
    profile = parse_profile(json.dumps(document({"adult": ("13 y", None, {})}, models=models)))

    assert rendered_presets(profile, "dunlin")["ADULT"].serves == ("adult",)
