from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from app.domain.ages import AgeSpan, years
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.curve_limits import (
    bounds_within,
    curve_delays,
    curve_limits,
    settable_words,
)
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_models import DeviceModel, Grid
from app.domain.evidence import question_fingerprint, recordings_fingerprint
from app.domain.evidence_making import Found, find_evidence
from app.domain.noise_pictures import NOISE_HEIGHT, WIDTH, noise_picture
from app.domain.noise_readings import Asked, asked_of, label_of_line, place_of, read_curves
from app.domain.outer_bounds import OuterBounds, bound
from app.domain.profiles import Profile
from app.domain.replay import replay
from app.domain.replay_lines import lines_to_replay
from app.domain.trends import Trends
from app.exchange.profile_json import profile_from_document
from tests.builders import PRESET, a_document
from tests.recorded import trends

PRESSURE = "nibp-systolic"
BOUNDS = OuterBounds(
    "ours",
    (
        bound("heart-rate", ("1 y", "5 y"), "high", "180", "danger", "J", "by us"),
        bound("spo2", ("0 d", None), "low", "88", "danger", "J", "by us"),
    ),
)


def profile(**instead: Any) -> Profile:
    document = a_document() | {"agency": "Skerry"}
    for alarm, setting in instead.items():
        document["settings"][PRESET][alarm.replace("_", "-")] = setting
    return profile_from_document(document)


def on(limit: float, delay_s: int = 0, **more: Any) -> dict[str, Any]:
    said = {"reason": "so", "source": "so", "priority": "high", "latching": False}
    return {"state": "on", "limit": limit, "delay_s": delay_s, **said, **more}


def found(
    here: Profile,
    there: Profile | None = None,
    *,
    recorded: Trends | None = None,
    circumstance: str = "",
) -> Found:
    category = here.category(PRESET)
    assert category is not None
    return find_evidence(
        category,
        here,
        there,
        bounds=BOUNDS,
        trends=[recorded or trends()],
        models=tuple(here.models.values()),
        circumstance=circumstance,
    )


def line_of(told: Found, name: str) -> Any:
    return next(line for line in told.lines if line.alarm == name)


def test_what_a_looser_limit_saves_in_noise_it_costs_in_silence() -> None:
    told = found(profile(heart_rate_high=on(185)), profile())

    line = line_of(told, "heart-rate-high")
    assert (line.revision.count, line.revision.seconds, line.revision.patients) == (0, 0, 0)
    assert (line.against.count, line.against.seconds, line.against.patients) == (1, 17, 1)
    (silence,) = line.silence
    assert (silence.value, silence.grade) == (180, "danger")
    assert (silence.beyond_seconds, silence.beyond_episodes, silence.beyond_patients) == (5, 1, 1)
    at_185 = read_curves(line, asked_of(line, 185, 0, 0))
    at_170 = read_curves(line, asked_of(line, 170, 0, 0))
    assert at_185.silent == (5, 1, 1)
    assert at_170.silent == (0, 0, 0)
    after_15 = read_curves(line, asked_of(line, 170, 15, 0))
    assert (after_15.count, after_15.seconds) == (1, 2)
    assert after_15.silent == (3, 0, 0)  # 12 s above 170 went before; two of five are heard


def test_the_curve_says_at_every_limit_what_a_replay_of_it_says() -> None:
    dice = np.random.default_rng(5)
    values = np.rint(150 + 20 * np.sin(np.arange(3000) / 30) + dice.normal(0, 4, 3000))
    recorded = Trends(np.arange(3000) // 1000, np.arange(3000) % 1000, {"heart-rate": values}, 1)
    line = line_of(found(profile(), recorded=recorded), "heart-rate-high")

    for place, limit in enumerate(line.limits[::7]):
        for delay, delay_s in enumerate(line.delays):
            policy = profile(heart_rate_high=on(limit, int(delay_s)))
            lines, _ = lines_to_replay(policy.of_category(PRESET), frozenset(recorded.values))
            load = replay(recorded, lines).alarms["heart-rate-high"]
            at = place * 7
            assert line.counts[delay][at] == load.count
            assert line.seconds[delay][at] == load.seconds_in_alarm
            assert line.alarmed[delay][at] == load.patients_with_alarm


def test_a_deep_line_and_the_group_break_the_silence_of_each_other() -> None:
    deep = on(185, 0, deep={"limit": 181, "priority": "high", "delay_s": 0})
    alone = line_of(found(profile(heart_rate_high=on(185))), "heart-rate-high")
    helped = line_of(found(profile(heart_rate_high=deep)), "heart-rate-high")

    def silent(line: Any) -> Any:
        return read_curves(line, asked_of(line, 185, 0, 0)).silent

    assert silent(alone) == (5, 1, 1)
    assert silent(helped) == (0, 0, 0)

    paired = Trends(
        trends().patient,
        trends().second,
        {**trends().values, "pulse-rate": trends().values["heart-rate"]},
        1,
    )
    policy = profile(heart_rate_high=on(185), pulse_rate_high=on(178))
    assert silent(line_of(found(policy, recorded=paired), "heart-rate-high")) == (0, 0, 0)


def test_an_alarm_that_is_off_still_has_its_curve() -> None:
    told = found(profile(heart_rate_high={"state": "off", "reason": "so"}))

    line = line_of(told, "heart-rate-high")
    assert line.revision is None
    assert line.against is None
    assert read_curves(line, asked_of(line, 170, 0, 0)).count == 1
    assert place_of(line, line.revision) is None


def test_the_curve_of_a_pressure_alarm_that_is_off_holds_its_values_as_one_that_is_on() -> None:
    values = np.full(600, np.nan)
    values[[10, 130, 250, 400]] = (95, 80, 84, 96)
    recorded = Trends(np.zeros(600, dtype=np.int64), np.arange(600), {PRESSURE: values}, 1)
    name = f"{PRESSURE}-low"
    off = line_of(
        found(profile(**{name: {"state": "off", "reason": "so"}}), recorded=recorded), name
    )
    on_there = line_of(found(profile(**{name: on(82)}), recorded=recorded), name)

    assert off.revision is None
    assert (off.limits, off.counts, off.seconds) == (
        on_there.limits,
        on_there.counts,
        on_there.seconds,
    )
    assert off.hours == on_there.hours
    at = read_curves(off, asked_of(off, 82, 0, None))
    assert (at.count, at.seconds) == (1, 120)  # 80 stands until 84 comes, two minutes later


def test_what_is_on_and_was_not_recorded_is_named() -> None:
    told = found(profile())

    assert "respiratory-rate-low" in told.not_replayed
    assert "asystole" in told.not_replayed
    assert {line.alarm.rpartition("-")[0] for line in told.lines} == {"heart-rate", "spo2"}


def test_all_lines_together_are_told_with_the_worst_tenth_and_an_interval() -> None:
    told = found(profile())

    assert (told.patients, told.whole.count, told.whole.seconds) == (2, 2, 25)
    assert told.hours == pytest.approx(114 / 3600)
    assert told.whole.worst_tenth == 0.5
    assert told.whole.low is not None
    assert told.whole_against is None


def test_the_same_input_gives_the_same_answer() -> None:
    assert found(profile(), profile()) == found(profile(), profile())


def test_held_against_a_policy_without_the_category_there_is_no_other() -> None:
    document = a_document() | {"agency": "Skerry"}
    document["categories"] = [one for one in document["categories"] if one["key"] != PRESET]
    del document["settings"][PRESET]

    assert found(profile(), profile_from_document(document)).whole_against is None


@pytest.mark.parametrize(
    ("alarm", "limit", "on_the_step"),
    [("etco2-low", "30.0025", "31"), ("etco2-high", "30.0025", "30"), ("spo2-low", "90", "90")],
)
def test_a_limit_between_two_steps_goes_where_it_sounds_at_the_same_values(
    alarm: str, limit: str, on_the_step: str
) -> None:
    told = curve_limits([], ALARM_CONDITIONS[alarm], (30.0, 30.0), [float(limit)])

    assert Decimal(on_the_step) in told
    assert all(one == one.to_integral_value() for one in told)


def test_only_limits_that_the_fleet_can_be_set_to_and_only_where_anything_was_recorded() -> None:
    grid = {"heart-rate-high": {"from": 100, "to": 200, "step": 5, "can_be_off": True}}
    model = {"presets": {"ALL": {"carries": PRESET, "serves": [PRESET]}}, "grid": grid}
    document = a_document() | {
        "agency": "Skerry",
        "models": {"dunlin": model | {"retention_min": 2}},
    }
    policy = profile_from_document(document)

    told = curve_limits(
        policy.models.values(), ALARM_CONDITIONS["heart-rate-high"], (148.0, 161.0), [172.0]
    )

    assert [float(one) for one in told] == [135, 140, 145, 150, 155, 160, 165, 170, 172, 175]


def test_a_curve_stands_where_models_of_both_units_can_be_set() -> None:
    alarm = ALARM_CONDITIONS["etco2-high"]
    by_halves = Grid(Decimal(4), Decimal(8), Decimal("0.5"))
    by_fives = Grid(Decimal(20), Decimal(60), Decimal(5))
    fleet = [
        DeviceModel(unit, (), {alarm.key: grid}, etco2_unit=unit)
        for unit, grid in (("kPa", by_halves), ("mm[Hg]", by_fives))
    ]

    alone = curve_limits(fleet[:1], alarm, (33.0, 41.0), [])
    both = curve_limits(fleet, alarm, (33.0, 41.0), [52.0])

    assert list(map(int, alone)) == [30, 34, 38, 41, 45, 49, 53]
    assert list(map(int, both)) == [30, 45, 52, 60]
    assert "every model: kPa, mm[Hg]." in settable_words(alarm, fleet)
    apart = [
        DeviceModel(key, (), {alarm.key: Grid(Decimal(least), Decimal(least), Decimal(1))})
        for key, least in (("dunlin", 40), ("petrel", 50))
    ]
    assert curve_limits(apart, alarm, (30.0, 60.0), []) == [40, 50]
    assert "where one of them can" in settable_words(alarm, apart)
    assert "every step" in settable_words(alarm, [])


def with_altitude(**instead: Any) -> Profile:
    document = profile(**instead).document
    high_up = {
        "key": "above-2500-m",
        "label": "Above 2500 m",
        "applies_to": [PRESET],
        "settings": {"spo2-low": on(84)},
    }
    return profile_from_document({**document, "circumstances": [high_up]})


def test_in_a_circumstance_its_own_limits_and_bounds_count() -> None:
    bounds = OuterBounds(
        "ours",
        (
            *BOUNDS.rows,
            bound("spo2", ("0 d", None), "low", "86", "danger", "J", "us", when="above-2500-m"),
        ),
    )
    policy = with_altitude()
    category = policy.category(PRESET)
    assert category is not None

    def told(circumstance: str, there: Profile) -> Any:
        answer = find_evidence(
            category,
            policy,
            there,
            bounds=bounds,
            trends=[trends()],
            circumstance=circumstance,
        )
        return line_of(answer, "spo2-low")

    plain, high_up = told("", policy), told("above-2500-m", policy)
    assert (plain.revision.count, high_up.revision.count) == (1, 0)
    assert (plain.revision.limit, high_up.revision.limit) == (90, 84)
    assert high_up.against == high_up.revision
    assert [one.value for one in plain.silence] == [88]
    assert [one.value for one in high_up.silence] == [86]  # it sets the stricter one aside
    assert told("above-2500-m", profile()).against == plain.revision  # not known there: plain
    other_alarm = found(policy, circumstance="above-2500-m")
    assert line_of(other_alarm, "heart-rate-high") == line_of(found(policy), "heart-rate-high")


def test_the_delays_are_the_usual_ones_and_the_policys_own() -> None:
    assert curve_delays([10.0, 7.0], intermittent=False) == [0, 5, 7, 10, 15, 30]
    assert curve_delays([10.0], intermittent=True) == [0]


def test_a_moving_bound_is_taken_where_it_is_strictest() -> None:
    moving = OuterBounds(
        "ours",
        (
            bound(
                "nibp-systolic", ("1 y", "10 y"), "low", "70 + 2 * age_years", "danger", "J", "x"
            ),
            bound("nibp-systolic", ("10 y", None), "low", "90", "danger", "J", "x"),
            bound(
                "nibp-systolic", ("1 y", None), "low", "95", "caution", "J", "x", when="on-oxygen"
            ),
        ),
    )
    ages = AgeSpan(years(1), years(5))

    (one,) = bounds_within(moving, PRESSURE, "low", ages, Decimal(1))

    assert one[1] == 80
    assert bounds_within(moving, PRESSURE, "high", ages, Decimal(1)) == []


def test_every_bound_within_the_category_is_told_danger_first() -> None:
    told = bounds_within(DEFAULT_BOUNDS, "spo2", "low", AgeSpan(years(13), None), Decimal(1))

    grades = [row.grade for row, _ in told]
    assert grades == sorted(grades, key=("danger", "caution").index)
    assert len({(row.grade, value) for row, value in told}) == len(told) > 1


def test_nibp_counts_the_hours_in_which_a_value_is_held() -> None:
    values = np.full(3600, np.nan)
    values[[0, 300, 600]] = [90, 70, 90]
    recorded = Trends(np.zeros(3600, np.int64), np.arange(3600), {"nibp-systolic": values}, 1)

    line = line_of(found(profile(), recorded=recorded), "nibp-systolic-low")

    assert line.delays == (0,)
    assert line.hours == pytest.approx(1200 / 3600)
    assert read_curves(line, asked_of(line, 80, 0, 0)).seconds == 300
    assert (line.revision.count, line.revision.seconds) == (1, 300)
    assert line.revision.per_hour == pytest.approx(3)


def test_places_asked_for_are_the_nearest_there_are() -> None:
    line = line_of(found(profile()), "heart-rate-high")

    assert line.limits[asked_of(line, None, None, None).limit] == 170
    assert asked_of(line, 1e9, 1e9, 99) == Asked(len(line.limits) - 1, len(line.delays) - 1, 0)
    assert asked_of(line, -1e9, -1, -3) == Asked(0, 0, 0)


def test_the_picture_keeps_its_scale_when_the_delay_changes() -> None:
    line = line_of(found(profile(heart_rate_high=on(185)), profile()), "heart-rate-high")

    early, late = (noise_picture(line, Asked(0, delay, 0)) for delay in (0, len(line.delays) - 1))

    assert (early.noise_top, early.silence_top) == (late.noise_top, late.silence_top)
    assert all(a.y <= b.y for a, b in zip(early.noise, late.noise, strict=True))
    assert early.noise[0].x == 0
    assert early.noise[-1].x == WIDTH
    assert early.noise[-1].y == NOISE_HEIGHT
    assert early.against is not None
    assert early.revision is not None
    assert early.bound is not None
    assert early.against.x < early.bound < early.revision.x


def test_marks_are_round_and_few() -> None:
    line = line_of(found(profile()), "spo2-low")

    marks = [limit for _, limit in noise_picture(line, asked_of(line, 90, 0, 0)).marks]

    assert 2 <= len(marks) <= 10
    assert all(limit == round(limit) for limit in marks)


def test_a_deep_line_is_named_as_such() -> None:
    assert label_of_line("spo2-low.deep") == "SpO₂ low, deep line"


def test_fingerprints_tell_one_question_from_another() -> None:
    asked = ["young", "a" * 64, "b" * 64, "c" * 64, "d" * 64]
    whole = question_fingerprint(*asked)

    for place in range(len(asked)):
        other = [*asked[:place], "e" * 64, *asked[place + 1 :]]
        assert question_fingerprint(*other) != whole
    assert recordings_fingerprint(["x", "y"]) == recordings_fingerprint(["y", "x"])
    assert recordings_fingerprint(["x"]) != recordings_fingerprint(["x", "x"])
