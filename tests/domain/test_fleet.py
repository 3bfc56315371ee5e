"""What a report says of the device for the next patient."""

import json
from typing import Any

import pytest

from app.domain.device_reports import FoundOff, Reading, StateRead
from app.domain.fleet import HowRead, Judgement, judge
from app.exchange.profile_json import parse_profile
from tests.domain.presets import read
from tests.worked_profiles import document, on


def judged(signed: dict[str, Any], found: Reading, **how: Any) -> Judgement:
    """Of one alarm of a model that shows EtCO2 in kPa and keeps what was changed for 2 min."""
    ((alarm, _),) = signed.items()
    model = {
        "presets": {"CHILD": {"carries": "child"}},
        "etco2_unit": "kPa",
        "retention_min": 2,
    }
    policy = document({"child": ("1 y", "5 y", signed)}, models={"dunlin": model})
    wanted: dict[str, Any] = {"state_read": StateRead.POWER_ON, "minutes_off": 10} | how
    return judge(
        parse_profile(json.dumps(policy)),
        model="dunlin",
        preset="CHILD",
        readings={alarm: found},
        how=HowRead(**wanted),
    )


@pytest.mark.parametrize(
    ("how", "counts"),
    [
        ({"minutes_off": 2}, False),
        ({"minutes_off": 3}, True),
        ({"minutes_off": None}, True),
        ({"minutes_off": 0, "state_read": StateRead.AFTER_CATEGORY}, True),
        ({"state_read": StateRead.IN_USE}, False),
        ({"state_read": StateRead.STORED_PRESET}, False),
    ],
)
def test_a_report_counts_where_nothing_was_left_from_the_last_patient(
    how: dict[str, Any], counts: bool
) -> None:
    found = judged({"heart-rate-low": on(90)}, read(70), **how)

    assert found.counts is counts
    assert list(found.verdicts) == ["heart-rate-low"]


@pytest.mark.parametrize(
    ("found", "tailored"),
    [
        # signed 60 mmHg, to be changed between 52.5 and 67.5: 7 to 9 kPa
        (read(6.9), False),
        (read(7), True),
        (read(9), True),
        (read(9.1), False),
        (read(60, unit="mm[Hg]"), True),
        (FoundOff(), False),
    ],
)
def test_in_use_a_latitude_is_compared_in_the_unit_that_the_model_shows(
    found: Reading, tailored: bool
) -> None:
    signed = on(60, latitude={"from": 52.5, "to": 67.5, "off_by": "nobody"})

    verdicts = judged({"etco2-high": signed}, found, state_read=StateRead.IN_USE).verdicts

    assert (verdicts == {}) is tailored
