from decimal import Decimal

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.settings_of_alarms import (
    DeepLine,
    On,
    Priority,
    as_number,
    convert,
    lines_of,
    round_to,
    show_number,
    toward_earlier_alarm,
    units_of,
)


@pytest.mark.parametrize(
    ("value", "unit", "to", "result"),
    [
        ("1", "kPa", "mm[Hg]", "7.50062"),  # 1 mmHg is 133.322 Pa
        ("60", "mm[Hg]", "mm[Hg]", "60"),
        ("37", "Cel", "[degF]", "98.6"),
        ("100.4", "[degF]", "Cel", "38"),
    ],
)
def test_units_are_converted_exactly(value: str, unit: str, to: str, result: str) -> None:
    assert convert(Decimal(value), unit, to) == Decimal(result)


def test_kilopascals_and_back_is_where_it_began() -> None:
    assert float(convert(convert(Decimal(45), "mm[Hg]", "kPa"), "kPa", "mm[Hg]")) == (
        pytest.approx(45, abs=1e-12)
    )


@pytest.mark.parametrize(("unit", "to"), [("kPa", "Cel"), ("/min", "%"), ("mm[Hg]", "/min")])
def test_units_of_different_things_are_not_converted(unit: str, to: str) -> None:
    with pytest.raises(ValueError, match="cannot be turned into"):
        convert(Decimal(1), unit, to)


@pytest.mark.parametrize(
    ("alarm", "units"),
    [
        ("etco2-high", ("mm[Hg]", "kPa")),
        ("nibp-systolic-low", ("mm[Hg]", "kPa")),
        ("temperature-high", ("Cel", "[degF]")),
        ("heart-rate-low", ("/min",)),
        ("apnoea", ("s",)),
        ("asystole", ()),
    ],
)
def test_a_limit_is_written_in_units_of_its_kind(alarm: str, units: tuple[str, ...]) -> None:
    assert units_of(ALARM_CONDITIONS[alarm]) == units


@pytest.mark.parametrize(
    ("alarm", "value", "step", "result"),
    [
        ("heart-rate-low", "90", "5", "90"),
        ("heart-rate-low", "91", "5", "95"),
        ("heart-rate-low", "94", "5", "95"),
        ("heart-rate-high", "184", "5", "180"),
        ("heart-rate-high", "180", "5", "180"),
        ("apnoea", "19", "5", "15"),
        ("temperature-low", "35.95", "0.1", "36"),
    ],
)
def test_rounding_goes_toward_the_earlier_alarm(
    alarm: str, value: str, step: str, result: str
) -> None:
    condition = ALARM_CONDITIONS[alarm]

    assert toward_earlier_alarm(Decimal(value), Decimal(step), condition) == Decimal(result)


@pytest.mark.parametrize(("value", "result"), [("4.49", "4.4"), ("4.5", "4.6"), ("4.51", "4.6")])
def test_rounding_to_a_step_goes_up_half_way(value: str, result: str) -> None:
    assert round_to(Decimal(value), Decimal("0.2")) == Decimal(result)


@pytest.mark.parametrize(
    ("value", "shown", "number"),
    [
        ("90", "90", 90),
        ("90.0", "90", 90),
        ("1E+2", "100", 100),
        ("37.50", "37.5", 37.5),
        ("0.0", "0", 0),
        ("1E-7", "0.0000001", 1e-7),
    ],
)
def test_a_number_is_shown_without_trailing_zeros(value: str, shown: str, number: float) -> None:
    assert show_number(Decimal(value)) == shown
    assert as_number(Decimal(value)) == number
    assert isinstance(as_number(Decimal(value)), int) is (number == int(number))


def test_the_lines_of_a_setting_are_in_the_alarms_own_unit() -> None:
    deep = DeepLine(Decimal(10), Priority.HIGH, Decimal(0))
    setting = On(Decimal(8), delay_s=Decimal(15), unit="kPa", deep=deep)

    assert lines_of(setting, ALARM_CONDITIONS["etco2-high"]) == [
        (Decimal("60.00496"), Decimal(15)),
        (Decimal("75.00620"), Decimal(0)),
    ]


def test_an_event_has_no_line() -> None:
    assert lines_of(On(limit=None), ALARM_CONDITIONS["asystole"]) == []


def test_high_is_the_most_urgent() -> None:
    assert sorted(Priority, key=lambda priority: priority.rank) == ["high", "medium", "low"]
