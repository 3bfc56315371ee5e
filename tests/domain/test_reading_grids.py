"""What a device can show, and how a slip is told."""

from decimal import Decimal

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_models import DeviceModel, Grid
from app.domain.reading_grids import can_be_off, reading_grid, units_to_choose


def dunlin(
    alarm: str = "heart-rate-high", *grid: str, off: bool = True, etco2_unit: str = "mm[Hg]"
) -> DeviceModel:
    start, end, step = map(Decimal, grid or ("20", "250", "5"))
    return DeviceModel("dunlin", (), {alarm: Grid(start, end, step, off)}, etco2_unit)


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ("90", ""),
        ("20", ""),
        ("250", ""),
        ("15", "a dunlin goes from 20 to 250 /min"),
        ("255", "a dunlin goes from 20 to 250 /min"),
        ("94", "a dunlin goes in steps of 5: 90 or 95"),
        ("249", "a dunlin goes in steps of 5: 245 or 250"),
        ("90.5", "a dunlin goes in steps of 5: 90 or 95"),
    ],
)
def test_a_value_that_the_model_cannot_be_set_to_is_told(value: str, told: str) -> None:
    grid = reading_grid(ALARM_CONDITIONS["heart-rate-high"], dunlin(), "/min")

    assert grid.why_not(Decimal(value)) == told


def test_the_last_step_may_be_short_of_the_end() -> None:
    model = dunlin("heart-rate-high", "20", "33", "5")
    grid = reading_grid(ALARM_CONDITIONS["heart-rate-high"], model, "/min")

    assert grid.why_not(Decimal(32)) == "a dunlin goes in steps of 5: 30"


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ("10", ""),
        ("350", ""),
        ("9", "this alarm goes from 10 to 350 /min"),
        ("351", "this alarm goes from 10 to 350 /min"),
        ("90.5", "this alarm goes in steps of 1: 90 or 91"),
    ],
)
def test_of_a_model_that_nobody_described_only_the_plausible_is_taken(
    value: str, told: str
) -> None:
    grid = reading_grid(ALARM_CONDITIONS["heart-rate-high"], None, "/min")

    assert grid.why_not(Decimal(value)) == told


@pytest.mark.parametrize(
    ("unit", "value", "told"),
    [
        ("kPa", "4.7", ""),
        ("kPa", "4.75", "a dunlin goes in steps of 0.1: 4.7 or 4.8"),
        ("mm[Hg]", "35", ""),  # the device shows another unit than its model was described in
        ("mm[Hg]", "151", "this alarm goes from 1 to 150 mmHg"),
    ],
)
def test_the_grid_holds_in_the_unit_of_the_model(unit: str, value: str, told: str) -> None:
    model = dunlin("etco2-low", "0", "13", "0.1", etco2_unit="kPa")
    grid = reading_grid(ALARM_CONDITIONS["etco2-low"], model, unit)

    assert grid.why_not(Decimal(value)) == told


@pytest.mark.parametrize(
    ("alarm", "units"),
    [
        ("etco2-low", ("mm[Hg]", "kPa")),
        ("inspired-co2-high", ("mm[Hg]", "kPa")),
        ("temperature-high", ("Cel", "[degF]")),
        ("nibp-mean-low", ()),
        ("heart-rate-low", ()),
    ],
)
def test_where_devices_differ_the_unit_is_asked(alarm: str, units: tuple[str, ...]) -> None:
    assert units_to_choose(ALARM_CONDITIONS[alarm]) == units


@pytest.mark.parametrize(
    ("alarm", "model", "expected"),
    [
        ("spo2-low", dunlin("spo2-low", "50", "100", "1", off=False), False),
        ("spo2-low", dunlin("spo2-low", "50", "100", "1"), True),
        ("spo2-low.deep", dunlin("spo2-low", "50", "100", "1", off=False), True),
        ("apnoea", dunlin("spo2-low", "50", "100", "1", off=False), True),
        ("spo2-low", None, True),
    ],
)
def test_some_alarms_of_some_models_cannot_be_switched_off(
    alarm: str, model: DeviceModel | None, expected: bool
) -> None:
    assert can_be_off(alarm, model) is expected
