import pytest

from app.domain.age_axis import x_of
from app.domain.ages import AgeSpan, months, years
from app.domain.centile_fan import CENTILES, CentileFan, fan_of
from app.domain.centiles import CentileRow, CentileTable, References
from app.domain.reference_ranges import PUBLISHED


@pytest.fixture
def fan() -> CentileFan:
    found = fan_of(PUBLISHED, "heart-rate")
    assert found is not None
    return found


def test_the_fan_passes_through_the_printed_values_in_the_middle_of_a_band(
    fan: CentileFan,
) -> None:
    """Fleming 2011, heart rate 2-3 years."""
    middle = months(30)

    assert fan.at(x_of(middle)) == pytest.approx((76, 92, 100, 110, 119, 128, 142))


def test_the_fan_starts_with_the_printed_row_for_birth(fan: CentileFan) -> None:
    assert fan.at(0) == (90, 107, 116, 127, 138, 148, 164)


def test_the_fan_ends_where_the_table_ends(fan: CentileFan) -> None:
    assert fan.xs[-1] == x_of(years(18))
    assert fan.between(x_of(years(18)), 1) == []


@pytest.mark.parametrize("vital_sign", ["heart-rate", "respiratory-rate"])
def test_centiles_never_cross(vital_sign: str) -> None:
    fan = fan_of(PUBLISHED, vital_sign)

    assert fan is not None
    assert all(list(values) == sorted(set(values)) for values in fan.values)


def test_a_stretch_holds_both_of_its_ends(fan: CentileFan) -> None:
    stretch = fan.between(0.2, 0.3)

    assert (stretch[0][0], stretch[-1][0]) == (0.2, 0.3)


def test_the_other_sensor_has_the_same_fan(fan: CentileFan) -> None:
    assert fan_of(PUBLISHED, "pulse-rate") == fan


def test_nothing_published_gives_no_fan() -> None:
    assert fan_of(PUBLISHED, "temperature") is None


def test_centiles_that_a_table_does_not_print_come_from_its_curve() -> None:
    row = CentileRow("spo2", "all", AgeSpan(years(0), years(10)), (5, 50, 95), (90, 95, 99))

    fan = fan_of(References((CentileTable("own", "S", (row,)),)), "spo2")

    assert fan is not None
    assert fan.at(0.1)[CENTILES.index(50)] == pytest.approx(95)
    assert fan.at(0.1)[CENTILES.index(25)] == pytest.approx(row.curve.value_at(25))
