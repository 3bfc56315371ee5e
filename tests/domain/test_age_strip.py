from copy import deepcopy
from typing import Any

import pytest

from app.domain.age_strip import Strip, StripLine, strip
from app.domain.ages import Age
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import document, five_categories, limits, on


def at(age: str, changed: dict[str, Any] | None = None, category: str = "young-child") -> Strip:
    written = deepcopy(five_categories())
    written["settings"][category] |= changed or {}
    return strip(profile_from_document(written), Age.parse(age))


def line(found: Strip, vital_sign: str = "heart-rate") -> StripLine:
    return next(line for line in found.lines if line.vital.key == vital_sign)


@pytest.mark.parametrize(
    ("age", "category"),
    [("0 d", "Neonate"), ("27 d", "Neonate"), ("28 d", "Infant"), ("13 y", "Adult")],
)
def test_the_category_and_how_it_was_found(age: str, category: str) -> None:
    assert at(age).how.startswith(f"{category}, by age: ")


def test_the_next_edge_is_named() -> None:
    assert at("4 y").next_edge == "From 5 y on: Child."
    assert at("40 y").next_edge == ""


@pytest.mark.parametrize(
    ("bands", "how"),
    [
        ({"adult": ("13 y", None)}, "No category holds this age, so no limit does."),
        (
            {"one": ("0 d", "8 y"), "two": ("5 y", None)},
            "One and Two both hold this age: which limits are meant?",
        ),
    ],
)
def test_an_age_without_exactly_one_category_has_no_limits(
    bands: dict[str, tuple[str, str | None]], how: str
) -> None:
    settings = limits(75, 170, 15, 50, 90, 75)
    written = document({key: (*band, settings) for key, band in bands.items()})

    found = strip(profile_from_document(written), Age.parse("6 y"))

    assert (found.category, found.how, found.lines) == (None, how, ())


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "alarm below 75 · above 170 /min"),
        ({"heart-rate-high": {"state": "off"}}, "alarm below 75 /min; high off"),
        ({"heart-rate-high": {"state": "no-policy"}}, "alarm below 75 /min; high no policy"),
        ({"heart-rate-high": {"state": "not-fitted"}}, "alarm below 75 /min; high not fitted"),
    ],
)
def test_limits_are_said_in_words(changed: dict[str, Any], words: str) -> None:
    assert line(at("3 y", changed)).words == words


def test_a_limit_is_said_in_the_unit_in_which_it_was_written() -> None:
    found = at("3 y", {"etco2-high": on(6.5, unit="kPa"), "etco2-low": on(3, unit="kPa")})

    assert line(found, "etco2").words == "alarm below 3 kPa · above 6.5 kPa"


def test_the_share_outside_comes_from_the_printed_band() -> None:
    """Fleming 2011, 18-24 months: the 99th centile of the heart rate is 149, the 1st is 82."""
    found = line(at("20 mo", {"heart-rate-low": on(82), "heart-rate-high": on(149)}))

    assert found.band == "18-24 mo"
    assert found.outside == pytest.approx(0.02, abs=1e-6)


def test_where_nothing_is_published_no_share_is_told() -> None:
    assert line(at("30 y")).outside is None
    assert line(at("3 y"), "spo2").outside is None


@pytest.mark.parametrize(
    ("limit", "silence"),
    [
        (180, "silent from 170 to 180: above 170 /min is caution"),
        (181, "silent from 180 to 181: above 180 /min is danger"),
    ],
)
def test_the_silence_at_an_age_is_told_gravest_first(limit: int, silence: str) -> None:
    """AHA PALS: from 180 danger; National PEWS England 2023: from 170 caution."""
    high = line(at("3 y", {"heart-rate-high": on(limit)})).high

    assert (high.silence, high.danger) == (silence, limit > 180)


def test_a_bound_that_moves_with_age_is_told_for_this_age() -> None:
    """AHA PALS hypotension at 3 years: 70 + 2 × 3 = 76."""
    low = line(at("3 y"), "nibp-systolic").low

    assert low.silence == "silent from 75 to 76: below 76 mmHg is caution"


def test_no_alarm_at_all_is_silent_at_any_value() -> None:
    low = line(at("3 y", {"heart-rate-low": {"state": "off"}})).low

    assert low.silence == "silent at any value: below 60 /min is danger"


def test_only_a_wall_can_be_moved() -> None:
    found = line(at("3 y", {"heart-rate-high": {"state": "off"}}))

    assert (found.low.movable, found.high.movable) == (True, False)
