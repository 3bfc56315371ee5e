"""Five categories on three presets: the rules run over all ages that a preset serves."""

import json
from typing import Any

from app.domain.findings import Finding
from app.domain.profiles import Profile
from app.domain.rules import check
from app.exchange.profile_json import parse_profile
from tests.domain.rules.questions import found_by
from tests.worked_profiles import document, five_categories, on

THREE_PRESETS = {
    "NEO": {"carries": "neonate", "serves": ["neonate", "infant"]},
    "CHILD": {"carries": "child", "serves": ["young-child", "child"]},
    "ADULT": {"carries": "adult", "serves": ["adult"]},
}


def policy(presets: dict[str, Any], *more_models: str) -> Profile:
    models = {name: {"presets": presets} for name in ("dunlin", *more_models)}
    return parse_profile(json.dumps({**five_categories(), "models": models}))


def lent(profile: Profile, rule: str = "silent-gap") -> list[Finding]:
    return [finding for finding in found_by(rule, profile) if "preset" in finding.measured]


def test_gaps_open_at_exactly_the_ages_of_the_categories_served() -> None:
    told = [
        (f.severity.value, f.category, *f.alarms, f.measured["silent_from"], str(f.ages))
        for f in lent(policy(THREE_PRESETS))
    ]

    assert told == [
        # A newborn's 50 lets an infant's hypotension, below 70 from 28 days on, pass.
        ("unsafe", "infant", "nibp-systolic-low", 50, "28 d to 1 y"),
        # 200 closes what is danger (220) but not what is caution (180).
        ("note", "infant", "heart-rate-high", 181, "28 d to 1 y"),
        # The newborn's 89 is right for a target of 90 to 94; from 28 days caution is below 90.
        ("note", "infant", "spo2-low", 89, "28 d to 1 y"),
        # A school child's limits are stricter than what bounds 1 to 5 years, so there is no more.
    ]


def test_a_preset_that_serves_only_what_it_carries_adds_nothing() -> None:
    one_each = {
        key.upper(): {"carries": key, "serves": [key]}
        for key in ("neonate", "infant", "young-child", "child", "adult")
    }

    assert lent(policy(one_each)) == []
    assert check(policy(one_each)) == check(policy({}))


def test_the_finding_names_the_served_category_and_the_preset() -> None:
    finding = lent(policy(THREE_PRESETS))[0]

    assert finding.message.startswith("Infant, on dunlin NEO: NIBP systolic can fall to 50 mmHg")
    assert finding.measured["preset"] == "dunlin NEO"


def test_models_with_the_same_map_are_told_together() -> None:
    one, two = policy(THREE_PRESETS), policy(THREE_PRESETS, "turnstone")

    assert len(lent(two)) == len(lent(one))
    assert lent(two)[0].measured["preset"] == "dunlin NEO, turnstone NEO"


def test_noise_at_the_ages_served_is_told_too() -> None:
    """A school child's 150 is ordinary in an infant."""
    presets = {"CHILD": {"carries": "child", "serves": ["infant", "child"]}}

    (finding,) = [
        f for f in lent(policy(presets), "arrival-alarm") if "heart-rate-high" in f.alarms
    ]

    assert finding.category == "infant"


def test_what_does_not_depend_on_age_is_told_once() -> None:
    bands = {
        "small": ("0 d", "1 y", {"spo2-high": on(100)}),
        "large": ("1 y", None, {"heart-rate-low": on(60, delay_s=20)}),
    }
    presets = {"ONE": {"carries": "large", "serves": ["small", "large"]}}
    profile = parse_profile(json.dumps(document(bands, models={"dunlin": {"presets": presets}})))

    found = check(profile)

    assert [f.category for f in found if f.rule == "delay-long"] == ["large"]
    assert [f.category for f in found if f.rule == "never-sounds"] == ["small"]
