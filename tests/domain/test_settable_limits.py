from decimal import Decimal

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_models import DeviceModel, Grid
from app.domain.settable_limits import settable_limits

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
