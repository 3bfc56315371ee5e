"""What a crew sets on each model under a circumstance, read back from the signed paper."""

from dataclasses import replace
from typing import Any

import pytest

from app.domain.profiles import Profile
from app.exchange.paper_policy import policy_pdf
from app.exchange.profile_json import profile_from_document
from tests.policy_papers import BASE, WAIVER, document, signed_paper
from tests.printed import press, text
from tests.worked_profiles import on

COLD = {
    "key": "cold-water",
    "label": "Cold water",
    "applies_to": ["child", "adult"],
    "settings": {
        "etco2-low": on(35, priority="high", delay_s=5),
        "heart-rate-low": on(52, deep={"limit": 14, "priority": "high", "delay_s": 0}),
        "spo2-high": {"state": "off", "reason": "no target in the cold"},
    },
}


def policy(**models: Any) -> Profile:
    found = document()
    found["circumstances"].append(COLD)
    found["models"] |= models
    return profile_from_document(found)


def printed(found: Profile, **changed: Any) -> str:
    return text(policy_pdf(press(), replace(signed_paper(), profile=found, **changed), base=BASE))


@pytest.fixture(scope="module")
def signed() -> str:
    return printed(policy())


def on_model(told: str, model: str, circumstance: str = "Cold water") -> str:
    here = told.split(f"Circumstances on model {model} ", 1)[1].split(" Model ", 1)[0]
    return here.split(f" {circumstance} ", 1)[1].split(" Page ", 1)[0]


@pytest.mark.parametrize(
    ("model", "row"),
    [
        # 35 mmHg are 4.666 kPa, and a low limit goes up.
        (
            "turnstone",
            "Child CHILD EtCO₂ low below 4.7 kPa, high priority, 5 s "
            "below 35 mmHg, high priority, 5 s below 4 kPa, medium priority, 10 s",
        ),
        # Steps of 5 from 20: what alarms deeper down cannot be set.
        (
            "turnstone",
            "Child CHILD Heart rate low cannot be set to below 55 /min, medium priority, at once, "
            "deep line below 15 /min, high, at once "
            "deep line cannot be set: nearest is 20 /min, which alarms earlier "
            "below 52 /min, medium priority, at once, deep line below 14 /min, high, at once "
            "below 65 /min, high priority, 5 s, latching, deep line below 45 /min, high, at once",
        ),
        ("turnstone", "Child CHILD SpO₂ high OFF the same OFF"),
        # It shows mmHg and steps of 1, and lends a child the adult's values.
        ("petrel", "Child LARGE EtCO₂ low below 35 mmHg, high priority, 5 s the same not known"),
        (
            "petrel",
            "Adult LARGE SpO₂ high cannot be set to OFF cannot be switched off on this device "
            "the same not known",
        ),
    ],
)
def test_each_model_shows_its_own_value_what_was_signed_and_what_its_preset_holds(
    signed: str, model: str, row: str
) -> None:
    assert row in on_model(signed, model)


def test_every_circumstance_stands_with_every_model(signed: str) -> None:
    for model in ("turnstone", "petrel"):
        low = on_model(signed, model, "Hypercapnia risk")
        assert "SpO₂ low below 86 %, medium priority, at once the same below 88 %" in low


def test_a_category_without_a_preset_says_so() -> None:
    only = {"presets": {"BIG": {"carries": "adult", "serves": ["adult"]}}}

    told = on_model(printed(policy(whimbrel=only)), "whimbrel")

    assert "Child no preset EtCO₂ low below 35 mmHg, high priority, 5 s the same not known" in told
    assert "Adult BIG EtCO₂ low below 35 mmHg, high priority, 5 s the same not known" in told


def test_a_model_without_a_map_has_a_preset_of_its_own_for_each_category() -> None:
    told = on_model(printed(policy(whimbrel={"etco2_unit": "kPa"})), "whimbrel")

    assert "Child child EtCO₂ low below 4.7 kPa, high priority, 5 s" in told


def test_a_waiver_given_under_the_circumstance_stands_there_alone() -> None:
    under = replace(WAIVER, alarms=("etco2-low",), circumstance="cold-water")

    told = printed(policy(), waivers=(under,))

    assert "below 4.7 kPa, high priority, 5 s W1" in on_model(told, "turnstone")
    held = told.split("Model turnstone", 1)[1].split("To set by hand", 1)[0]
    assert "W1" not in held
