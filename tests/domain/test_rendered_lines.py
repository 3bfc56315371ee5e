from decimal import Decimal
from typing import Any

import pytest

from app.domain.device_models import Grid
from app.domain.rendered_lines import RenderedLine, nearest_on, preset_lines
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import document, five_categories, on


def line(
    setting: dict[str, Any],
    alarm: str = "heart-rate-low",
    *,
    unit: str = "mm[Hg]",
    grid: tuple[float, float, float] = (30, 200, 5),
    can_be_off: bool = True,
) -> RenderedLine:
    reach = dict(zip(("from", "to", "step"), grid, strict=True))
    model = {
        "presets": {"ALL": {"carries": "all"}},
        "grid": {alarm: {**reach, "can_be_off": can_be_off}},
        "etco2_unit": unit,
    }
    bands = {"all": ("0 d", None, {alarm: setting})}
    (preset,) = preset_lines(
        profile_from_document(document(bands, models={"dunlin": model})), "dunlin"
    )
    (only,) = preset.lines
    return only


@pytest.mark.parametrize(
    ("alarm", "signed", "device", "rounded"),
    [
        ("heart-rate-low", 90, "90", ""),
        ("heart-rate-low", 91, "95", "up"),
        ("heart-rate-high", 184, "180", "down"),
        ("heart-rate-high", 180, "180", ""),
    ],
)
def test_the_direction_of_rounding_is_marked(
    alarm: str, signed: float, device: str, rounded: str
) -> None:
    found = line(on(signed), alarm)

    assert (found.policy, found.device, found.rounded) == (str(signed), device, rounded)
    assert found.cannot == ()


@pytest.mark.parametrize(
    ("alarm", "signed", "cannot"),
    [
        ("heart-rate-low", 30, ()),
        ("heart-rate-low", 25, ("cannot be set: nearest is 30 /min, which alarms earlier",)),
        ("heart-rate-low", 205, ("cannot be set: nearest is 200 /min, which alarms later",)),
        ("heart-rate-high", 200, ()),
        ("heart-rate-high", 204, ()),
        ("heart-rate-high", 205, ("cannot be set: nearest is 200 /min, which alarms earlier",)),
        ("heart-rate-high", 25, ("cannot be set: nearest is 30 /min, which alarms later",)),
    ],
)
def test_a_value_beyond_the_grid_is_never_rounded_away(
    alarm: str, signed: float, cannot: tuple[str, ...]
) -> None:
    assert line(on(signed), alarm).cannot == cannot


def test_a_deep_line_beyond_the_grid_is_told_by_itself() -> None:
    found = line(on(90, deep={"limit": 20}))

    assert found.cannot == ("deep line cannot be set: nearest is 30 /min, which alarms earlier",)
    assert found.policy == "90, deep 20"


@pytest.mark.parametrize(
    ("setting", "can_be_off", "cannot"),
    [
        ({"state": "off", "reason": "why"}, True, ()),
        ({"state": "off", "reason": "why"}, False, ("cannot be switched off on this device",)),
        ({"state": "not-fitted"}, True, ("is called not fitted, but the device has it",)),
    ],
)
def test_what_is_no_limit_may_not_be_settable_either(
    setting: dict[str, Any], can_be_off: bool, cannot: tuple[str, ...]
) -> None:
    assert line(setting, can_be_off=can_be_off).cannot == cannot


def test_another_unit_is_shown_in_the_unit_of_the_device() -> None:
    found = line(on(60), "etco2-high", unit="kPa", grid=(0, 13, 0.1))

    assert (found.policy, found.device, found.unit) == ("60 mmHg", "7.9 kPa", "kPa")
    assert found.rounded == "down"


def test_a_preset_tells_each_part_of_the_ages_that_it_serves() -> None:
    model = {"presets": {"ENDS": {"carries": "adult", "serves": ["infant", "adult"]}}}
    profile = profile_from_document({**five_categories(), "models": {"dunlin": model}})

    (preset,) = preset_lines(profile, "dunlin")

    assert [str(part) for part in preset.ages] == ["28 d to 1 y", "13 y and over"]
    assert preset.serves == ("Infant", "Adult")


@pytest.mark.parametrize(
    ("value", "nearest"),
    [("9", "10"), ("10", "10"), ("12", "10"), ("12.5", "10"), ("13", "15"), ("21", "20")],
)
def test_the_nearest_value_stands_on_the_grid(value: str, nearest: str) -> None:
    grid = Grid(Decimal(10), Decimal(22), Decimal(5))

    assert nearest_on(Decimal(value), grid) == Decimal(nearest)
