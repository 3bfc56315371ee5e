from decimal import Decimal

import pytest

from app.domain.ages import AgeSpan, years
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_models import DeviceModel, Grid
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import DeepLine, NotFitted, Off, On, Setting
from app.domain.shown_settings import is_settable, shown_setting, shows_other

FIVES = Grid(Decimal(20), Decimal(250), Decimal(5))
ALWAYS_ON = Grid(Decimal(50), Decimal(100), Decimal(1), can_be_off=False)
MODEL = DeviceModel(
    "turnstone",
    (),
    {"heart-rate-low": FIVES, "heart-rate-high": FIVES, "spo2-low": ALWAYS_ON},
    etco2_unit="kPa",
)


def on(limit: str, unit: str | None = None) -> On:
    return On(Decimal(limit), unit=unit)


def shown(alarm: str, setting: Setting, model: DeviceModel | None = MODEL) -> Setting:
    span = AgeSpan(years(5), years(13))
    preset = RenderedPreset("CHILD", "child", ("child",), span, {alarm: setting}, model)
    return shown_setting(preset, alarm)


@pytest.mark.parametrize(
    ("alarm", "signed", "told"),
    [
        ("heart-rate-low", on("60"), on("60")),
        ("heart-rate-low", on("61"), on("65")),
        ("heart-rate-high", on("150"), on("150")),
        ("heart-rate-high", on("149"), on("145")),
        ("etco2-low", on("30"), on("4", "kPa")),
        ("etco2-low", on("1.4", "kPa"), on("1.4", "kPa")),
        ("spo2-low", Off("reason"), Off("reason")),
        ("ibp-mean-low", NotFitted(), NotFitted()),
        ("asystole", On(None), On(None)),
    ],
)
def test_a_setting_is_shown_on_the_models_step_and_unit_toward_the_earlier_alarm(
    alarm: str, signed: Setting, told: Setting
) -> None:
    assert shown(alarm, signed) == told


def test_a_deep_line_is_shown_as_its_limit_is() -> None:
    signed = On(Decimal(30), deep=DeepLine(Decimal(20)))

    told = shown("etco2-low", signed)

    assert isinstance(told, On)
    assert told.deep == DeepLine(Decimal("2.7"), unit="kPa")


@pytest.mark.parametrize(
    ("alarm", "setting", "settable"),
    [
        ("heart-rate-low", on("20"), True),
        ("heart-rate-low", on("19"), False),
        ("heart-rate-low", on("22"), False),
        ("heart-rate-low", Off(), True),
        ("spo2-low", Off(), False),
        ("spo2-high", Off(), True),
        ("asystole", On(None), True),
    ],
)
def test_a_model_holds_what_its_grid_holds(alarm: str, setting: Setting, *, settable: bool) -> None:
    assert is_settable(setting, ALARM_CONDITIONS[alarm], MODEL) is settable
    assert is_settable(setting, ALARM_CONDITIONS[alarm], None)


@pytest.mark.parametrize(
    ("signed", "told", "other"),
    [
        (on("30"), on("30"), False),
        (on("30"), on("30", "mm[Hg]"), False),
        (on("30"), on("31"), True),
        (on("30"), on("4", "kPa"), True),
        (Off(), Off(), False),
        (on("30"), Off(), False),
    ],
)
def test_another_number_is_one_in_another_unit_too(
    signed: Setting, told: Setting, *, other: bool
) -> None:
    assert shows_other(ALARM_CONDITIONS["etco2-low"], signed, told) is other
