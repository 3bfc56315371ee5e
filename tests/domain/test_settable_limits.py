from decimal import Decimal

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_models import DeviceModel, Grid
from app.domain.settable_limits import settable_limits, some_settable

LOW = ALARM_CONDITIONS["heart-rate-low"]
ETCO2 = ALARM_CONDITIONS["etco2-high"]


def model(key: str, *grid: int | str, alarm: str = LOW.key, unit: str = "mm[Hg]") -> DeviceModel:
    start, end, step = (Decimal(str(one)) for one in grid)
    return DeviceModel(key, (), {alarm: Grid(start, end, step)}, etco2_unit=unit)


def test_without_models_every_step_counts_but_the_extremes_which_never_sound() -> None:
    found = settable_limits(LOW, [])

    assert (int(found.values[0]), int(found.values[-1]), len(found.values)) == (11, 349, 339)
    assert found.models == ()


def test_only_what_every_model_can_be_set_to_is_left() -> None:
    found = settable_limits(LOW, [model("dunlin", 30, 60, 5), model("petrel", 40, 200, 10)])

    assert list(map(int, found.values)) == [40, 50, 60]
    assert found.models == ("dunlin", "petrel")


def test_grids_that_never_meet_leave_nothing() -> None:
    assert (
        settable_limits(LOW, [model("dunlin", 30, 60, 5), model("petrel", 61, 81, 5)]).values == ()
    )


def test_a_model_that_says_nothing_of_the_alarm_has_no_say() -> None:
    silent = DeviceModel("turnstone", ())

    assert settable_limits(LOW, [silent]) == settable_limits(LOW, [])


@pytest.mark.parametrize(("limit", "settable"), [(59, False), (60, True), (61, True)])
def test_another_unit_counts_as_it_would_be_rendered(limit: int, settable: bool) -> None:
    """60 mmHg is 8.0 kPa at the nearest step; 59 mmHg is 7.9 there, below what can be set."""
    kpa = model("dunlin", "8.0", "10.0", "0.1", alarm=ETCO2.key, unit="kPa")

    assert (Decimal(limit) in settable_limits(ETCO2, [kpa]).values) is settable


def test_of_a_coarse_step_in_another_unit_only_the_limits_that_it_stands_for_can_be_set() -> None:
    """4.0, 4.5, 5.0 kPa are 30.0, 33.8 and 37.5 mmHg; 31 would be held as one of these."""
    kpa = model("dunlin", "4.0", "5.0", "0.5", alarm=ETCO2.key, unit="kPa")

    assert list(map(int, settable_limits(ETCO2, [kpa]).values)) == [30, 34, 38]


def test_a_fleet_that_shows_two_units_shares_what_both_can_be_set_to() -> None:
    kpa = model("dunlin", "4.0", "8.0", "0.5", alarm=ETCO2.key, unit="kPa")
    mmhg = model("petrel", 20, 60, 5, alarm=ETCO2.key)

    found = settable_limits(ETCO2, [kpa, mmhg])

    assert list(map(int, found.values)) == [30, 45, 60]  # 4.0, 6.0 and 8.0 kPa
    assert found.models == ("dunlin", "petrel")


def test_where_models_share_nothing_what_one_of_them_can_be_set_to_is_left() -> None:
    fleet = [model("dunlin", 30, 40, 5), model("petrel", 61, 71, 5)]

    assert list(map(int, some_settable(LOW, fleet).values)) == [30, 35, 40, 61, 66, 71]
    assert some_settable(LOW, []) == settable_limits(LOW, [])
