from copy import deepcopy
from itertools import pairwise
from math import ceil
from typing import Any

import pytest

from app.domain.age_axis import x_of
from app.domain.ages import Age
from app.domain.centile_fan import fan_of
from app.domain.corridor import Corridor, Lane, corridor
from app.domain.corridor_shapes import HEIGHT, WIDTH, Point, Region, Scale
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules import check
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import five_categories, on, one_wide_band


def drawn(document: dict[str, Any], **changed: Any) -> Corridor:
    return corridor(profile_from_document(document), **changed)


def with_limit(category: str, alarm: str, setting: dict[str, Any]) -> dict[str, Any]:
    document = deepcopy(five_categories())
    document["settings"][category][alarm] = setting
    return document


def at(age: str) -> float:
    return round(x_of(Age.parse(age)) * WIDTH, 1)


def reach(region: Region) -> tuple[float, float]:
    xs = [point.x for point in region.outline]
    return min(xs), max(xs)


def silent(lane: Lane, grade: str = "danger") -> list[Region]:
    return [region for region in lane.silent if region.grade == grade]


def heart(limit: float, age: str = "young-child") -> Lane:
    return drawn(with_limit(age, "heart-rate-high", on(limit))).lane("heart-rate")


# Walls


def test_walls_stand_over_their_category_and_step_at_its_edges() -> None:
    lane = drawn(five_categories()).lane("heart-rate")

    low = [wall for wall in lane.walls if wall.side == "low"]

    edges = [at(edge) for edge in ("0 d", "28 d", "1 y", "5 y", "13 y", "100 y")]
    assert [(wall.start.x, wall.end.x) for wall in low] == list(pairwise(edges))
    assert [int(wall.limit) for wall in low] == [100, 90, 75, 60, 45]
    assert all(wall.start.y == wall.end.y == lane.scale.y_of(float(wall.limit)) for wall in low)


def test_neighbouring_walls_make_one_face_with_a_mass_to_the_edge_of_the_lane() -> None:
    lane = drawn(five_categories()).lane("heart-rate")

    low, high = lane.faces

    assert len(low.line) == len(high.line) == 10
    assert (low.mass[0], low.mass[-1]) == (Point(0, HEIGHT), Point(WIDTH, HEIGHT))
    assert (high.mass[0], high.mass[-1]) == (Point(0, 0), Point(WIDTH, 0))


def test_a_category_without_the_alarm_leaves_an_opening_in_the_wall() -> None:
    document = with_limit("infant", "heart-rate-low", {"state": "off", "reason": "tried"})

    faces = [face for face in drawn(document).lane("heart-rate").faces if face.side == "low"]

    assert [(face.line[0].x, face.line[-1].x) for face in faces] == [
        (0, at("28 d")),
        (at("1 y"), WIDTH),
    ]


def test_a_deep_line_is_a_face_of_its_own() -> None:
    setting = on(45, deep={"limit": 35, "priority": "high", "delay_s": 0})

    lane = drawn(with_limit("adult", "heart-rate-low", setting)).lane("heart-rate")

    deep = [wall for wall in lane.walls if wall.deep]
    assert [(wall.category, int(wall.limit)) for wall in deep] == [("adult", 35)]
    assert [face.deep for face in lane.faces] == [False, True, False]


def test_a_limit_in_another_unit_stands_where_it_belongs_and_reads_as_written() -> None:
    document = with_limit("adult", "etco2-high", on(6.5, unit="kPa"))

    (wall,) = drawn(document).lane("etco2").walls

    assert float(wall.limit) == pytest.approx(48.754, abs=0.001)
    assert wall.written == "6.5 kPa"


def test_the_revision_in_force_is_drawn_behind_the_draft() -> None:
    held = profile_from_document(five_categories())

    lane = drawn(with_limit("adult", "heart-rate-low", on(40)), in_force=held).lane("heart-rate")

    assert lane.in_force[0].line[-1].y == lane.scale.y_of(45)
    assert lane.faces[0].line[-1].y == lane.scale.y_of(40)


# Lanes


def test_only_vital_signs_that_the_profile_sets_have_a_lane_in_the_usual_order() -> None:
    lanes = drawn(five_categories()).lanes

    assert [lane.vital.key for lane in lanes] == [
        "heart-rate", "spo2", "respiratory-rate", "nibp-systolic",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("state", "has_lane"),
    [("on", True), ("off", True), ("no-policy", False), ("not-fitted", False)],
)
def test_a_lane_needs_an_alarm_that_is_on_or_off(state: str, has_lane: bool) -> None:
    setting = on(38.5) if state == "on" else {"state": state}

    lanes = drawn(with_limit("adult", "temperature-high", setting)).lanes

    assert ("temperature" in [lane.vital.key for lane in lanes]) is has_lane


def test_x_is_the_same_in_every_lane() -> None:
    lanes = drawn(five_categories()).lanes

    places = {lane.vital.key: {wall.start.x for wall in lane.walls} for lane in lanes}

    assert len({frozenset(found) for found in places.values()}) == 1


def test_the_fan_is_seven_centiles_from_birth_to_eighteen() -> None:
    lane = drawn(five_categories()).lane("heart-rate")

    assert [(band.low, band.high) for band in lane.fan] == [(1, 99), (10, 90), (25, 75)]
    assert {reach_of(band.outline) for band in lane.fan} == {(0, at("18 y"))}
    assert lane.median[0] == Point(0, lane.scale.y_of(127))


def reach_of(outline: tuple[Point, ...]) -> tuple[float, float]:
    return outline[0].x, max(point.x for point in outline)


def test_a_vital_sign_of_which_nothing_is_published_has_no_fan_and_no_noise() -> None:
    lane = drawn(five_categories()).lane("nibp-systolic")

    assert (lane.fan, lane.median, lane.fan_source, lane.noisy) == ((), (), None, ())


# Scales


@pytest.mark.parametrize(("value", "y"), [(0, 100), (50, 50), (100, 0), (-1, 100), (101, 0)])
def test_values_beyond_a_lane_stand_on_its_edge(value: float, y: float) -> None:
    assert Scale(0, 100).y_of(value) == y * HEIGHT / 100


@pytest.mark.parametrize(
    ("scale", "ticks"),
    [
        (Scale(20, 240), [50, 100, 150, 200]),
        (Scale(70, 100), [70, 80, 90, 100]),
        (Scale(0, 90), [0, 20, 40, 60, 80]),
        (Scale(32, 42), [32, 34, 36, 38, 40, 42]),
    ],
)
def test_ticks_are_few_and_round(scale: Scale, ticks: list[int]) -> None:
    assert scale.ticks() == ticks


def test_a_lane_grows_to_hold_a_plausible_limit_and_no_further() -> None:
    assert heart(260).scale.top == 260
    assert heart(4000).scale.top == 350


# Silence


def test_nothing_is_silent_where_the_limit_meets_the_bound() -> None:
    """AHA PALS: a heart rate from 180 is danger in a child of 1 to 5 years."""
    assert silent(heart(180)) == []


def test_silence_reaches_from_the_bound_to_the_limit_over_exactly_its_ages() -> None:
    lane = heart(181)

    (region,) = silent(lane)

    assert reach(region) == (at("1 y"), at("5 y"))
    assert {point.y for point in region.outline} == {lane.scale.y_of(180), lane.scale.y_of(181)}
    assert (region.category, region.side) == ("young-child", "high")


def test_silence_without_any_alarm_reaches_to_the_edge_of_the_lane() -> None:
    document = with_limit("young-child", "heart-rate-high", {"state": "off", "reason": "tried"})
    lane = drawn(document).lane("heart-rate")

    (region,) = silent(lane)

    assert {point.y for point in region.outline} == {0.0, lane.scale.y_of(180)}


def test_a_bound_that_moves_with_age_bends_the_silence() -> None:
    """AHA PALS hypotension: below 70 + 2 for each year of age is caution from 1 to 10 years."""
    lane = drawn(five_categories()).lane("nibp-systolic")

    region = next(r for r in silent(lane, "caution") if r.category == "young-child")

    assert len({point.y for point in region.outline}) > 5


def test_every_silent_gap_that_the_rules_find_is_drawn_and_no_other() -> None:
    profile = profile_from_document(one_wide_band())
    found = {
        (finding.category, str(finding.measured["side"]), alarm)
        for finding in check(profile)
        if finding.rule == "silent-gap"
        for alarm in finding.alarms
        if alarm in profile.of_category("child")
    }

    regions = {
        (region.category, region.side, f"{lane.vital.key}-{region.side}")
        for lane in corridor(profile).lanes
        for region in lane.silent
    }

    assert regions == found


def test_the_other_sensor_of_a_pair_shows_the_silence_of_both_only() -> None:
    document = with_limit("young-child", "pulse-rate-high", on(170))
    document["settings"]["young-child"]["heart-rate-high"] = on(200)

    found = drawn(document)

    assert silent(found.lane("heart-rate")) == silent(found.lane("pulse-rate")) == []


def test_the_agencys_own_bounds_are_drawn() -> None:
    none = type(DEFAULT_BOUNDS)("none", ())

    assert all(lane.silent == () for lane in drawn(one_wide_band(), bounds=none).lanes)


# Noise


def test_the_fan_outside_a_wall_is_noisy() -> None:
    """Fleming 2011: the 1st centile at 3-4 years is 70, the 90th at birth 148."""
    lane = drawn(with_limit("young-child", "heart-rate-low", on(95))).lane("heart-rate")

    region = next(r for r in lane.noisy if r.category == "young-child")

    assert region.side == "low"
    assert at("1 y") <= reach(region)[0]
    assert reach(region)[1] == at("5 y")
    assert min(point.y for point in region.outline) == lane.scale.y_of(95)


def test_a_wall_beyond_the_whole_fan_is_not_noisy() -> None:
    lane = drawn(with_limit("young-child", "heart-rate-low", on(60))).lane("heart-rate")

    assert [r for r in lane.noisy if r.category == "young-child"] == []


def test_noise_begins_where_the_fan_crosses_the_wall() -> None:
    lane = drawn(with_limit("young-child", "heart-rate-low", on(80))).lane("heart-rate")

    (region,) = [r for r in lane.noisy if r.category == "young-child"]

    crossing = min(region.outline, key=lambda point: point.x)
    assert at("1 y") < crossing.x < at("5 y")
    assert crossing.y == lane.scale.y_of(80)


def test_a_wall_above_the_whole_fan_makes_all_of_it_noisy_and_no_more() -> None:
    lane = drawn(with_limit("child", "heart-rate-low", on(145))).lane("heart-rate")

    (region,) = [r for r in lane.noisy if r.category == "child"]

    assert min(point.y for point in region.outline) > lane.scale.y_of(145)


def test_words_stand_inside_the_lane_and_apart_from_each_other() -> None:
    lane = drawn(one_wide_band()).lane("heart-rate")

    words = [region.label for region in lane.silent + lane.noisy if region.label]

    assert words
    assert all(0 <= word.x <= WIDTH and 0 < word.y < HEIGHT for word in words)


# Drawn again


@pytest.mark.parametrize(
    ("category", "alarm", "setting", "touched"),
    [
        ("adult", "spo2-low", on(86), {"spo2"}),
        ("child", "heart-rate-high", on(170), {"heart-rate"}),
        ("infant", "respiratory-rate-low", {"state": "off"}, {"respiratory-rate"}),
        ("adult", "asystole", on(None), set()),
    ],
)
def test_after_a_change_only_the_lanes_that_it_touches_are_drawn_anew(
    category: str, alarm: str, setting: dict[str, Any], touched: set[str]
) -> None:
    was = profile_from_document(five_categories())
    now = profile_from_document(with_limit(category, alarm, setting))
    before = corridor(was)

    again = corridor(now, redrawn=(was, before))

    assert again == corridor(now)
    kept = {lane.vital.key for lane in again.lanes if any(lane is old for old in before.lanes)}
    assert {lane.vital.key for lane in again.lanes} - kept == touched


def test_another_sensor_of_the_group_is_drawn_anew_for_it_may_cover_the_silence() -> None:
    document = with_limit("young-child", "heart-rate-high", on(200))
    was = profile_from_document(document)
    document["settings"]["young-child"]["pulse-rate-high"] = on(170)
    now = profile_from_document(document)

    again = corridor(now, redrawn=(was, corridor(was)))

    assert again == corridor(now)
    assert silent(again.lane("heart-rate")) == []


# At, just under and just over


@pytest.mark.parametrize(("limit", "regions"), [(180, 0), (181, 1), (179, 0)])
def test_a_wall_on_the_outer_bound_leaves_no_silence(limit: int, regions: int) -> None:
    """AHA PALS: above 180 is danger from 1 to 5 years."""
    assert len(silent(heart(limit))) == regions


@pytest.mark.parametrize(("step", "noisy"), [(0, False), (-1, True), (1, False)])
def test_a_wall_just_inside_the_fan_is_noisy_and_one_just_outside_is_not(
    step: int, *, noisy: bool
) -> None:
    fan = fan_of(PUBLISHED, "heart-rate")
    assert fan is not None
    span = profile_from_document(five_categories()).categories[2].span
    highest = max(values[-1] for _, values in fan.between(x_of(span.start), x_of(span.stop)))

    lane = heart(ceil(highest) + step)

    found = [r for r in lane.noisy if (r.category, r.side) == ("young-child", "high")]
    assert bool(found) is noisy


# Numbers beside the walls


@pytest.mark.parametrize("low", [75, 21, 20])
def test_the_number_of_a_low_wall_stands_beyond_it_and_is_never_cut_off(low: int) -> None:
    lane = drawn(with_limit("young-child", "heart-rate-low", on(low))).lane("heart-rate")

    wall = next(w for w in lane.walls if (w.category, w.side) == ("young-child", "low"))

    assert wall.label is not None
    assert wall.start.y < wall.label.y <= HEIGHT + 7


def test_a_wall_that_is_too_narrow_has_no_number() -> None:
    document = five_categories()
    document["categories"][0]["to"] = document["categories"][1]["from"] = "10 d"

    walls = drawn(document).lane("heart-rate").walls

    assert [wall.label is None for wall in walls if wall.category == "neonate"] == [True, True]
