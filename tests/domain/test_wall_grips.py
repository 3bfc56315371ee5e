from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from app.domain.corridor import corridor
from app.domain.wall_grips import Grip, grips_of
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on


def grips(category: str, alarm: str, setting: dict[str, Any]) -> list[Grip]:
    document = deepcopy(five_categories())
    document["settings"][category][alarm] = setting
    profile = profile_from_document(document)
    lane = corridor(profile).lane(alarm.rpartition("-")[0])
    return list(grips_of(profile, lane))


def test_every_wall_of_a_lane_can_be_taken_hold_of() -> None:
    found = grips("adult", "heart-rate-low", on(45))

    assert len(found) == 10
    assert {(grip.bottom, grip.top) for grip in found} == {(20, 240)}
    assert found[0].id == "grip-neonate-heart-rate-low"


@pytest.mark.parametrize(
    ("setting", "count"),
    [
        ({"state": "off", "reason": "tried"}, 9),
        (on(45, deep={"limit": 35, "priority": "high", "delay_s": 0}), 10),
    ],
)
def test_what_is_off_and_a_deep_line_cannot(setting: dict[str, Any], count: int) -> None:
    assert len(grips("adult", "heart-rate-low", setting)) == count


def test_a_wall_in_another_unit_is_moved_in_that_unit() -> None:
    """1 mmHg = 133.322 Pa: a lane from 0 to 80 mmHg ends at 10.666 kPa."""
    (grip,) = grips("adult", "etco2-high", on(6.5, unit="kPa"))

    assert (grip.limit, grip.shown, grip.stops.step) == (Decimal("6.5"), "kPa", Decimal("0.1"))
    assert grip.bottom == 0
    assert grip.top == pytest.approx(10.666, abs=0.001)
