from decimal import Decimal
from typing import Any

import pytest

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.documents import with_setting
from app.domain.errors import NotFound
from app.domain.profiles import Profile
from app.domain.wall_steps import Stops, moved_limit, stops_of
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on

LOW = "heart-rate-low"


def grid(step: int, start: int = 30, end: int = 200) -> dict[str, Any]:
    return {"grid": {LOW: {"from": start, "to": end, "step": step}}}


def policy(limit: int, models: dict[str, Any]) -> Profile:
    document = with_setting(five_categories(), "infant", LOW, on(limit))
    return profile_from_document({**document, "models": models})


@pytest.mark.parametrize(
    ("limit", "models", "steps", "moved"),
    [
        (90, {}, 1, 91),
        (90, {}, -1, 89),
        (90, {"dunlin": grid(5)}, 1, 95),
        (90, {"dunlin": grid(5), "petrel": grid(2)}, -1, 80),  # 30, 40, 50 … is what they share
        (92, {"dunlin": grid(5)}, 1, 95),
        (92, {"dunlin": grid(5)}, -1, 90),
        (92, {"dunlin": grid(5)}, -3, 80),
        (90, {"dunlin": grid(5, start=32)}, 1, 92),  # 32, 37 … 87, 92
        (198, {"dunlin": grid(5)}, 3, 200),
        (350, {}, 1, 350),
        (10, {}, -1, 10),
    ],
)
def test_a_wall_stands_only_where_every_model_can_be_set(
    limit: int, models: dict[str, Any], steps: int, moved: int
) -> None:
    assert moved_limit(policy(limit, models), "infant", LOW, steps) == moved


def test_a_wall_that_no_model_can_be_set_to_comes_to_the_nearest_end() -> None:
    profile = policy(20, {"dunlin": grid(5)})

    assert moved_limit(profile, "infant", LOW, -1) == 30


def test_models_that_share_no_value_leave_the_coarsest_step() -> None:
    profile = policy(90, {"dunlin": grid(10, start=30), "petrel": grid(10, start=35)})

    stops = stops_of(profile, ALARM_CONDITIONS[LOW], None)

    assert stops == Stops(Decimal(10), Decimal(350), Decimal(10))


def test_a_wall_moves_in_the_unit_in_which_it_was_written() -> None:
    document = with_setting(five_categories(), "adult", "etco2-high", on(6.5, unit="kPa"))
    profile = profile_from_document(document)

    assert moved_limit(profile, "adult", "etco2-high", 1) == Decimal("6.6")


def test_a_grid_in_another_unit_does_not_bind_the_wall() -> None:
    document = with_setting(five_categories(), "adult", "etco2-high", on(50))
    model = {"grid": {"etco2-high": {"from": 2, "to": 12, "step": 0.5}}, "etco2_unit": "kPa"}
    profile = profile_from_document({**document, "models": {"dunlin": model}})

    assert moved_limit(profile, "adult", "etco2-high", 1) == 51


@pytest.mark.parametrize("alarm", ["asystole", "heart-rate-high", "no-such-alarm"])
def test_where_no_limit_stands_nothing_moves(alarm: str) -> None:
    document = with_setting(five_categories(), "infant", "heart-rate-high", {"state": "off"})

    with pytest.raises(NotFound):
        moved_limit(profile_from_document(document), "infant", alarm, 1)
