"""What a deviation may have come from."""

import json
from typing import Any

import pytest

from app.domain.comparison import compare_preset
from app.domain.device_reports import FoundOff, Reading
from app.domain.hints import hints
from app.domain.rendering import rendered_presets
from app.exchange.profile_json import parse_profile
from tests.domain.presets import preset_of, read
from tests.worked_profiles import five_categories, on


def hinted(signed: dict[str, Any], readings: dict[str, Reading], **preset: Any) -> dict[str, str]:
    rendered = preset_of(signed, **preset)
    return hints(rendered, compare_preset(rendered, readings), {rendered.preset: rendered})


@pytest.mark.parametrize(
    ("alarm", "limit", "found", "hint"),
    [
        ("heart-rate-low", 90, read(9), "a ten-fold slip of the signed value"),
        ("respiratory-rate-high", 15, read(150), "a ten-fold slip of the signed value"),
        ("heart-rate-high", 180, read(108), "the digits of the signed value, swapped"),
        ("heart-rate-high", 180, read(801), "the digits of the signed value, swapped"),
        ("etco2-high", 60, read(8), "kPa and mmHg may have been confused"),
        ("etco2-high", 60, read(7.9), "kPa and mmHg may have been confused"),
        ("nibp-systolic-low", 90, read(12), "kPa and mmHg may have been confused"),
        # nothing to say
        ("etco2-high", 60, read(8.2), None),
        ("etco2-high", 60, read(7.8), None),
        ("heart-rate-low", 60, read(8), None),  # no pressure
        ("heart-rate-high", 180, read(181), None),
        ("heart-rate-high", 180, read(180), None),
        ("heart-rate-high", 180, FoundOff(), None),
    ],
)
def test_a_slip_of_the_pen_is_hinted_at(
    alarm: str, limit: float, found: Reading, hint: str | None
) -> None:
    assert hinted({alarm: on(limit)}, {alarm: found}) == ({alarm: hint} if hint else {})


@pytest.mark.parametrize(
    ("found", "hint"),
    [
        (95, None),
        (87, "this model cannot be set to 87 (30 to 200 by 5)"),
        (25, "this model cannot be set to 25 (30 to 200 by 5)"),
        (205, "this model cannot be set to 205 (30 to 200 by 5)"),
        (30, None),
        (200, None),
    ],
)
def test_a_value_that_the_model_cannot_hold_is_hinted_at(found: float, hint: str | None) -> None:
    grid = {"heart-rate-low": {"from": 30, "to": 200, "step": 5}}

    said = hinted({"heart-rate-low": on(90)}, {"heart-rate-low": read(found)}, grid=grid)

    assert said.get("heart-rate-low") == hint


def test_a_limit_that_conforms_in_another_unit_gets_no_hint_for_its_delay() -> None:
    said = hinted(
        {"etco2-high": on(60, delay_s=0)}, {"etco2-high": read(8.0, unit="kPa", delay_s=10)}
    )

    assert said == {}


def test_a_deep_line_is_held_against_the_deep_line() -> None:
    signed = {"heart-rate-low": on(90, deep={"limit": 60})}

    said = hinted(signed, {"heart-rate-low.deep": read(6)})

    assert said == {"heart-rate-low.deep": "a ten-fold slip of the signed value"}


def _of(category: str, readings: dict[str, Reading]) -> dict[str, str]:
    """Hints for readings of one preset of the worked policy of five categories."""
    presets = rendered_presets(parse_profile(json.dumps(five_categories())))
    preset = presets[category]
    return hints(preset, compare_preset(preset, readings), presets)


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        # 1-5 years has heart rate 75-170
        ({"heart-rate-low": read(75)}, {"heart-rate-low": "as signed for young-child"}),
        (
            {"heart-rate-low": read(75), "heart-rate-high": read(170)},
            dict.fromkeys(
                ("heart-rate-low", "heart-rate-high"),
                "all 2 limits that differ are as signed for young-child",
            ),
        ),
        # one of each neighbour: no single preset explains both
        ({"heart-rate-low": read(75), "heart-rate-high": read(140)}, {}),
        # 90 is the saturation of three categories; children have it as well, 88 is the adults'
        ({"spo2-low": read(88)}, {"spo2-low": "as signed for adult"}),
        ({"heart-rate-low": read(77)}, {}),
    ],
)
def test_another_categorys_preset_is_hinted_at_where_it_explains_all(
    readings: dict[str, Reading], said: dict[str, str]
) -> None:
    assert _of("child", readings) == said


def test_a_value_that_several_other_categories_have_points_to_none() -> None:
    """90 is the saturation of infants and of both groups of children."""
    assert _of("adult", {"spo2-low": read(90)}) == {}


def _since(readings: dict[str, Reading], *older: dict[str, Any]) -> dict[str, str]:
    """Hints where the revisions before had those settings, the first of them number 1."""
    preset = preset_of(CHANGED)
    before = {number: preset_of(signed) for number, signed in enumerate(older, start=1)}
    return hints(preset, compare_preset(preset, readings), {"CHILD": preset}, before)


CHANGED = {"heart-rate-low": on(75), "heart-rate-high": on(170), "spo2-low": on(90)}
BEFORE = {"heart-rate-low": on(70), "heart-rate-high": on(160), "spo2-low": on(90)}
BOTH = ("heart-rate-low", "heart-rate-high")


@pytest.mark.parametrize(
    ("readings", "older", "said"),
    [
        ({"heart-rate-low": read(70)}, [BEFORE], {"heart-rate-low": "as in revision 1"}),
        ({"heart-rate-low": read(71)}, [BEFORE], {}),
        ({"heart-rate-low": read(70)}, [], {}),
        ({"heart-rate-low": read(75)}, [BEFORE], {}),  # nothing deviates
        (
            {"heart-rate-low": read(70), "heart-rate-high": read(160), "spo2-low": read(90)},
            [BEFORE],
            dict.fromkeys(BOTH, "all 2 limits that differ are as in revision 1"),
        ),
        # one of them is not
        ({"heart-rate-low": read(70), "heart-rate-high": read(161)}, [BEFORE], {}),
        # the latest of those that explain it
        ({"heart-rate-low": read(70)}, [BEFORE, BEFORE], {"heart-rate-low": "as in revision 2"}),
        ({"heart-rate-low": read(70)}, [BEFORE, CHANGED], {"heart-rate-low": "as in revision 1"}),
    ],
)
def test_an_older_revision_is_hinted_at_where_it_explains_all(
    readings: dict[str, Reading], older: list[dict[str, Any]], said: dict[str, str]
) -> None:
    assert _since(readings, *older) == said


def test_where_a_neighbour_and_an_older_revision_both_explain_it_both_are_named() -> None:
    presets = rendered_presets(parse_profile(json.dumps(five_categories())))
    child, before = presets["child"], {1: preset_of({"heart-rate-low": on(75)})}
    found = compare_preset(child, {"heart-rate-low": read(75)})

    said = hints(child, found, presets, before)

    assert said == {"heart-rate-low": "as signed for young-child or as in revision 1"}
