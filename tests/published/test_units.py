"""kPa and mmHg against the SI: 1 mmHg = 133.322387415 Pa (conventional millimetre of mercury)."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.domain.settings_of_alarms import convert

PASCAL_PER_MMHG = Decimal("133.322387415")  # 13 595.1 kg/m³ × 9.806 65 m/s² × 0.001 m


def test_the_factor_is_that_of_the_si_to_its_last_digit() -> None:
    assert convert(Decimal(1), "kPa", "mm[Hg]") == round(1000 / PASCAL_PER_MMHG, 5)
    assert Decimal("13595.1") * Decimal("9.80665") / 1000 == pytest.approx(PASCAL_PER_MMHG)


@pytest.mark.parametrize(
    ("kpa", "mmhg"), [("4.7", 35), ("6.0", 45), ("8.0", 60), ("1.3", 10), ("5.3", 40)]
)
def test_usual_values_of_end_tidal_carbon_dioxide(kpa: str, mmhg: int) -> None:
    """Normal 4.7 to 6.0 kPa is 35 to 45 mmHg (conventional)."""
    assert round(convert(Decimal(kpa), "kPa", "mm[Hg]")) == mmhg


@given(st.decimals(0, 40, places=1))
def test_there_and_back_again(kpa: Decimal) -> None:
    back = convert(convert(kpa, "kPa", "mm[Hg]"), "mm[Hg]", "kPa")

    assert back == pytest.approx(kpa)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [("0", "32"), ("37", "98.6"), ("100", "212"), ("-40", "-40")]
)
def test_degrees_by_their_fixed_points(celsius: str, fahrenheit: str) -> None:
    assert convert(Decimal(celsius), "Cel", "[degF]") == Decimal(fahrenheit)
    assert convert(Decimal(fahrenheit), "[degF]", "Cel") == Decimal(celsius)
