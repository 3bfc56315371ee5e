from decimal import Decimal
from typing import Any

import pytest

from app.domain.ages import Age
from app.domain.errors import NotFound
from app.domain.look_up import LimitsAt, SignLimits, limits_at
from app.domain.settings_of_alarms import On
from app.exchange.profile_json import profile_from_document
from tests.builders import a_document
from tests.crew_documents import PETREL


def document(**more: Any) -> dict[str, Any]:
    found = a_document() | {"agency": "Skerry"} | more
    found["settings"]["infant"] |= {
        "etco2-low": _co2(31, latitude={"from": 26, "to": 38, "off_by": "nobody"}),
        "etco2-high": _co2(49, deep={"limit": 61, "priority": "high", "delay_s": 0}),
    }
    return found


def _co2(limit: float, **more: Any) -> dict[str, Any]:
    usual = {"priority": "medium", "delay_s": 5, "latching": False}
    words = {"reason": "agreed", "source": "common practice"}
    return {"state": "on", "limit": limit, **usual, **words, **more}


def option(unit: str) -> dict[str, Any]:
    return {"etco2-unit": {"value": unit, "reason": "ours", "source": "common practice"}}


def infant(doc: dict[str, Any], model: str = "") -> LimitsAt:
    found = limits_at(profile_from_document(doc), Age.parse("7 mo"), model=model)
    assert found is not None
    return found


def co2(found: LimitsAt) -> tuple[On, On]:
    sign: SignLimits = next(one for one in found.first if one.key == "etco2")
    assert isinstance(sign.low.setting, On)
    assert isinstance(sign.high.setting, On)
    return sign.low.setting, sign.high.setting


def test_without_a_choice_a_limit_is_shown_as_it_was_signed() -> None:
    low, high = co2(infant(document()))

    assert [low.limit, high.limit] == [31, 49]
    assert low.unit is high.unit is None


def test_carbon_dioxide_is_shown_in_the_agencys_unit_toward_the_earlier_alarm() -> None:
    low, high = co2(infant(document(options=option("kPa"))))

    # 1 kPa is 7.50062 mmHg: 31 is 4.133, 49 is 6.533, 61 is 8.133.
    assert (low.limit, low.unit) == (Decimal("4.2"), "kPa")
    assert (high.limit, high.unit) == (Decimal("6.5"), "kPa")
    assert high.deep is not None
    assert (high.deep.limit, high.deep.unit) == (Decimal("8.1"), "kPa")


def test_the_room_of_a_crew_goes_along_and_is_never_wider() -> None:
    low, _ = co2(infant(document(options=option("kPa"))))

    # 26 is 3.466, 38 is 5.066.
    assert low.latitude is not None
    assert (low.latitude.start, low.latitude.end) == (Decimal("3.5"), Decimal("5.0"))


def test_what_was_signed_is_told_beside_another_number_and_only_there() -> None:
    found = infant(document(options=option("kPa")))

    sign = next(one for one in found.first if one.key == "etco2")
    assert sign.low.signed is not None
    assert sign.low.signed.limit == 31
    rate = next(one for one in found.first if one.key == "heart-rate")
    assert rate.low.signed is None


def test_the_unit_of_the_agency_that_is_already_written_changes_nothing() -> None:
    assert co2(infant(document(options=option("mm[Hg]")))) == co2(infant(document()))


def test_a_known_model_decides_over_the_agencys_unit_and_shows_its_steps() -> None:
    model = PETREL | {"etco2_unit": "kPa"}
    doc = document(options=option("mm[Hg]"), models={"petrel": model})

    found = infant(doc, "petrel")

    assert co2(found)[0].unit == "kPa"
    rate = next(one for one in found.first if one.key == "heart-rate")
    assert isinstance(rate.high.setting, On)
    assert rate.high.setting.limit == 180  # its steps are 20 from 20


def test_a_model_that_the_policy_does_not_know_is_not_found() -> None:
    with pytest.raises(NotFound, match="no such device model"):
        infant(document(), "gannet")
