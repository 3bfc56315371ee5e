import json
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.domain.profiles import fingerprint
from app.domain.settings_of_alarms import Off, On
from app.exchange.profile_json import parse_profile
from tests.worked_profiles import document, five_categories, limits, on


def _reversed(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _reversed(value[key]) for key in reversed(value)}
    return [_reversed(item) for item in value] if isinstance(value, list) else value


def test_the_order_of_keys_does_not_change_the_fingerprint() -> None:
    turned = _reversed(five_categories())

    assert json.dumps(turned) != json.dumps(five_categories())
    assert fingerprint(turned) == fingerprint(five_categories())


@pytest.mark.parametrize("written", ["90", "90.0", "9e1", "90.000", "900e-1"])
def test_one_number_has_one_fingerprint_however_it_is_written(written: str) -> None:
    text = json.dumps(five_categories())
    other = text.replace('"limit": 90', f'"limit": {written}')

    assert parse_profile(other).fingerprint == parse_profile(text).fingerprint


def test_white_space_and_escapes_do_not_change_the_fingerprint() -> None:
    plain = json.dumps(five_categories(), ensure_ascii=False, indent=3)
    escaped = json.dumps(five_categories(), separators=(",", ":")).replace("Skerry", "\\u0053kerry")

    assert parse_profile(plain).fingerprint == parse_profile(escaped).fingerprint


def test_the_fingerprint_is_sha256_in_hex() -> None:
    """The empty object's canonical form is `{}`; its SHA-256 is well known."""
    assert fingerprint({}) == "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a"


def _places(value: Any) -> Iterator[tuple[Any, Any]]:
    pairs = value.items() if isinstance(value, dict) else enumerate(value)
    for key, inside in pairs:
        yield value, key
        if isinstance(inside, dict | list):
            yield from _places(inside)


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_any_other_change_changes_the_fingerprint(data: st.DataObject) -> None:
    changed = deepcopy(five_categories())
    places = list(_places(changed))
    holder, key = places[data.draw(st.integers(0, len(places) - 1))]
    other = data.draw(st.sampled_from(["another", 12345, None, True]))
    assume(other != holder[key])
    holder[key] = other

    assert fingerprint(changed) != fingerprint(five_categories())


def test_a_circumstance_replaces_only_the_alarms_that_it_names() -> None:
    overlay = {
        "key": "paced",
        "applies_to": ["adult"],
        "settings": {"heart-rate-low": {"state": "off", "reason": "paced"}},
    }
    bands = {"adult": ("0 d", None, limits(45, 140, 8, 35, 88, 90))}
    profile = parse_profile(json.dumps(document(bands, circumstances=[overlay])))
    (circumstance,) = profile.circumstances

    overlaid = profile.overlaid("adult", circumstance)

    assert overlaid["heart-rate-low"] == Off("paced")
    assert {**overlaid, "heart-rate-low": None} == {
        **profile.of_category("adult"),
        "heart-rate-low": None,
    }
    assert isinstance(profile.of_category("adult")["heart-rate-low"], On)
    assert circumstance.label == "paced"


def test_a_category_that_nothing_is_said_of_has_no_settings() -> None:
    profile = parse_profile(json.dumps(document({"adult": ("0 d", None, {"spo2-low": on(90)})})))

    assert profile.of_category("child") == {}
    assert profile.category("child") is None
    assert profile.number_option("longest-pause-s") is None


@pytest.mark.parametrize(("value", "number"), [(120, 120), ("adult", None), (True, None)])
def test_only_an_option_that_is_a_number_is_a_number(value: object, number: int | None) -> None:
    options = {"longest-pause-s": {"value": value}}
    profile = parse_profile(json.dumps(document({"adult": ("0 d", None, {})}, options=options)))

    assert profile.number_option("longest-pause-s") == number
