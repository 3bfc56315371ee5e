from copy import deepcopy
from typing import Any

import pytest

from app.domain.corridor import corridor
from app.domain.corridor_table import LaneTable, TableRow, corridor_table
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on


def tables(changed: dict[str, Any]) -> tuple[LaneTable, ...]:
    document = deepcopy(five_categories())
    document["settings"]["young-child"] |= changed
    profile = profile_from_document(document)
    return corridor_table(profile, corridor(profile))


def row(changed: dict[str, Any], vital_sign: str = "heart-rate") -> TableRow:
    table = next(one for one in tables(changed) if one.vital.key == vital_sign)
    return next(one for one in table.rows if one.category.key == "young-child")


def test_a_table_a_lane_and_a_row_a_category_in_order_of_age() -> None:
    found = tables({})

    assert [table.vital.key for table in found][:2] == ["heart-rate", "spo2"]
    categories = [row.category.key for row in found[0].rows]
    assert categories == ["neonate", "infant", "young-child", "child", "adult"]


@pytest.mark.parametrize(
    ("limit", "silent"),
    [
        (170, ()),
        (180, (("1 y to 5 y: silent from 170 to 180: above 170 /min is caution", False),)),
        (
            181,
            (
                ("1 y to 5 y: silent from 180 to 181: above 180 /min is danger", True),
                ("1 y to 5 y: silent from 170 to 181: above 170 /min is caution", False),
            ),
        ),
    ],
)
def test_silence_is_told_with_its_ages_danger_first(
    limit: int, silent: tuple[tuple[str, bool], ...]
) -> None:
    """AHA PALS: above 180 danger; National PEWS England 2023: from 170 caution."""
    found = row({"heart-rate-high": on(limit)})

    assert tuple((one.words, one.danger) for one in found.silent) == silent


def test_a_sign_without_an_outer_bound_is_not_called_safe() -> None:
    found = {table.vital.key: table.judged for table in tables({"inspired-co2-high": on(5)})}

    assert found["heart-rate"]
    assert not found["inspired-co2"]


def test_limits_and_what_is_not_on_are_told_in_words() -> None:
    found = row({"heart-rate-high": {"state": "off", "reason": "tried"}})

    assert (found.low, found.high) == ("below 75", "off")
    assert row({"heart-rate-high": {"state": "no-policy"}}).high == "no policy"


def test_the_noise_is_the_share_of_healthy_people_outside() -> None:
    """Fleming 2011: below 95 lie most of 3- and 4-year-olds' first quarter."""
    loud, quiet = row({"heart-rate-low": on(95)}).outside, row({"heart-rate-low": on(50)}).outside

    assert loud is not None
    assert quiet is not None
    assert loud.mean > 0.1 > quiet.mean
    assert row({}, "spo2").outside is None
