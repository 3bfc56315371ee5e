"""Whole fleets as columns: the same verdicts as one preset at a time."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.block_severities import SEVERITIES, block_severities
from app.domain.comparison import DEEP, base_alarm, compare_preset
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_models import DeviceModel, Grid
from app.domain.device_models import Preset as ModelPreset
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    FoundText,
    NotRead,
    Reading,
)
from app.domain.fleet import Column
from app.domain.outer_bounds import OuterBounds
from app.domain.packing import AS_TEXT, COULD_NOT_READ, LEAST, MOST, OFF, pack, step_of
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Option, Profile
from app.domain.reading_block import (
    DIRECTIONS,
    ReadingBlock,
    compare_block,
    reading_block,
    signed_block,
)
from app.domain.rendering import rendered_presets
from app.domain.settings_of_alarms import (
    DeepLine,
    NoPolicy,
    NotFitted,
    Off,
    On,
    Priority,
    Setting,
    units_of,
)
from app.domain.silence import SPO2_AVERAGING
from tests.domain.presets import DUNLIN, read

Readings = Mapping[Column, Reading]
HR_LOW = ("CHILD", "heart-rate-low")
NO_BOUNDS = OuterBounds("none", ())


def profile_of(
    child: Mapping[str, Setting],
    adult: Mapping[str, Setting] | None = None,
    *,
    averaging_s: int = 0,
    **model: Any,
) -> Profile:
    presets = tuple(ModelPreset(key.upper(), key, (key,)) for key in ("child", "adult"))
    return Profile(
        agency="Skerry Isles Ambulance",
        name="Ground and air",
        revision=1,
        categories=(
            PatientCategory("child", "Child", AgeSpan(Age.parse("1 y"), Age.parse("5 y"))),
            PatientCategory("adult", "Adult", AgeSpan(Age.parse("16 y"), None)),
        ),
        settings={"child": child, "adult": adult or {}},
        options={SPO2_AVERAGING: Option(Decimal(averaging_s))},
        models={DUNLIN: DeviceModel(DUNLIN, presets, **model)},
    )


def block_of(layout: Sequence[Column], devices: Sequence[Readings]) -> ReadingBlock:
    return reading_block(layout, [pack(layout, readings) for readings in devices])


def as_block(
    profile: Profile,
    layout: Sequence[Column],
    devices: Sequence[Readings],
    bounds: OuterBounds = DEFAULT_BOUNDS,
) -> list[tuple[int, Column, str, str]]:
    block, signed = block_of(layout, devices), signed_block(profile, DUNLIN, layout)
    found = compare_block(block, signed)
    weights = block_severities(block, signed, found, bounds)
    return [
        (row, layout[column], str(DIRECTIONS[direction]), SEVERITIES[weight].value)
        for row, column, direction, weight in zip(
            found.rows, found.columns, found.directions, weights, strict=True
        )
    ]


def one_by_one(
    profile: Profile,
    layout: Sequence[Column],
    devices: Sequence[Readings],
    bounds: OuterBounds = DEFAULT_BOUNDS,
) -> list[tuple[int, Column, str, str]]:
    averaging = profile.number_option(SPO2_AVERAGING) or Decimal(0)
    told = [
        (row, (name, deviation.alarm), deviation.direction.value, deviation.severity.value)
        for row, readings in enumerate(devices)
        for name, preset in rendered_presets(profile, DUNLIN).items()
        for deviation in compare_preset(
            preset,
            {alarm: readings.get((of, alarm), NotRead()) for of, alarm in layout if of == name},
            bounds,
            spo2_averaging_s=averaging,
        )
    ]
    return sorted(told, key=lambda one: (one[0], layout.index(one[1])))


# --- the same verdicts, whatever was signed and found

# Near these values limits matter: at and about danger bounds, in the alarm's own unit.
_NEAR = {
    "heart-rate-low": 60, "pulse-rate-low": 60, "heart-rate-high": 180, "spo2-low": 88,
    "temperature-high": 39, "etco2-low": 30, "etco2-high": 60, "nibp-systolic-low": 72,
    "nibp-mean-low": 50, "apnoea": 30, "airway-apnoea": 30, "vpc-rate": 10,
}  # fmt: skip
_EVENTS = (
    "asystole",
    "ventricular-fibrillation",
    "ventricular-tachycardia",
    "irregular-heart-rate",
)
_FAMILIES = (
    ("heart-rate-low", "pulse-rate-low"),
    ("nibp-systolic-low", "nibp-mean-low"),
    ("apnoea", "airway-apnoea", "etco2-low", "etco2-high"),
    ("asystole", "ventricular-fibrillation", "ventricular-tachycardia"),
    ("heart-rate-high", "spo2-low", "temperature-high", "vpc-rate", "irregular-heart-rate"),
)
_PER_KPA = Decimal("7.5")

priorities = st.none() | st.sampled_from(Priority)
delays = st.sampled_from([None, Decimal(0), Decimal(10), Decimal(31)])
latchings = st.sampled_from([None, True, False])


@st.composite
def numbers(draw: st.DrawFn, alarm: str, unit: str | None) -> Decimal:
    """On the step, half a step off it, or far away."""
    halves = Decimal(draw(st.integers(-6, 6) | st.just(-99) | st.just(70_000))) / 2
    near = Decimal(_NEAR.get(alarm, 1))
    if unit == "kPa":
        return round(near / _PER_KPA, 1) + halves / 10
    return near + halves


def units(alarm: str) -> st.SearchStrategy[str | None]:
    return st.sampled_from([None, None, None, *units_of(ALARM_CONDITIONS[alarm])])


@st.composite
def switched_on(draw: st.DrawFn, alarm: str) -> On:
    if not ALARM_CONDITIONS[alarm].has_threshold:
        return On(None, draw(priorities), draw(delays), draw(latchings))
    unit, deep_unit = draw(units(alarm)), draw(units(alarm))
    limit = draw(numbers(alarm, unit))
    deep = None
    if draw(st.booleans()):
        deep = DeepLine(
            draw(numbers(alarm, deep_unit or unit)), draw(priorities), draw(delays), deep_unit
        )
    return On(limit, draw(priorities), draw(delays), draw(latchings), deep, unit=unit)


def signed_settings(alarm: str) -> st.SearchStrategy[Setting]:
    rest: list[Setting] = [Off(), NotFitted(), NoPolicy()]
    return switched_on(alarm) | switched_on(alarm) | st.sampled_from(rest)


@st.composite
def found_on(draw: st.DrawFn, alarm: str) -> FoundOn:
    base = base_alarm(alarm)
    unit = draw(units(base))
    shown = draw(st.sampled_from([unit, "kPa"])) if "etco2" in base and unit is None else unit
    limit = draw(st.none() | numbers(base, shown))
    if draw(st.booleans()):
        return FoundOn(limit)
    return FoundOn(limit, unit, draw(priorities), draw(delays), draw(latchings))


def found(alarm: str) -> st.SearchStrategy[Reading]:
    rest: list[Reading] = [
        FoundOff(),
        FoundNotFitted(),
        NotRead(),
        CouldNotRead("glare"),
        FoundText("AUTO"),
    ]
    return found_on(alarm) | found_on(alarm) | st.sampled_from(rest)


@st.composite
def fleets(draw: st.DrawFn) -> tuple[Profile, list[Column], list[Readings]]:
    family = draw(st.sampled_from(_FAMILIES))
    grid = {
        alarm: Grid(Decimal(draw(st.integers(0, 3))), Decimal(300), Decimal(step))
        for alarm in family
        if alarm in _NEAR and (step := draw(st.sampled_from([0, 0, 1, 5])))
    }
    child, adult = (
        {alarm: draw(signed_settings(alarm)) for alarm in family if draw(st.integers(0, 9))}
        for _ in range(2)
    )
    profile = profile_of(
        child,
        adult,
        grid=grid,
        averaging_s=draw(st.sampled_from([0, 25])),
        etco2_unit=draw(st.sampled_from(["mm[Hg]", "kPa"])),
    )
    layout = [
        (preset, alarm + line)
        for preset in ("ADULT", "CHILD")
        for alarm in family
        for line in ("", DEEP)
        if not line or alarm in _NEAR
    ]
    devices: list[Readings] = [
        {column: draw(found(column[1])) for column in layout}
        for _ in range(draw(st.integers(1, 3)))
    ]
    return profile, layout, devices


@settings(max_examples=150, deadline=None)
@given(fleets(), st.sampled_from([DEFAULT_BOUNDS, NO_BOUNDS]))
def test_a_block_says_what_one_preset_at_a_time_says(
    fleet: tuple[Profile, list[Column], list[Readings]], bounds: OuterBounds
) -> None:
    assert as_block(*fleet, bounds) == one_by_one(*fleet, bounds)


@settings(max_examples=25, deadline=None)
@given(
    signed=st.sampled_from(["heart-rate-low", "etco2-high"]).flatmap(
        lambda alarm: st.tuples(st.just(alarm), switched_on(alarm))
    ),
    unit=st.sampled_from(["mm[Hg]", "kPa"]),
    codes=st.lists(st.integers(LEAST, MOST), min_size=1, max_size=9),
)
def test_every_number_is_judged_and_not_only_the_likely_ones(
    signed: tuple[str, On], unit: str, codes: list[int]
) -> None:
    alarm, setting = signed
    column = ("CHILD", alarm)
    devices: list[Readings] = [{column: FoundOn(code * step_of(alarm))} for code in codes]
    profile = profile_of({alarm: setting}, etco2_unit=unit)

    assert as_block(profile, [column], devices) == one_by_one(profile, [column], devices)


# --- the same, row by row


@pytest.mark.parametrize(
    ("signed", "reading", "direction"),
    [
        (On(Decimal(90)), read(90), None),
        (On(Decimal(90)), read(89), "looser"),
        (On(Decimal(90)), read(91), "tighter"),
        (On(Decimal(90)), read(89.5), "looser"),  # off the step, so written out
        (On(Decimal(90)), read(LEAST), "looser"),
        (On(Decimal(90)), read(MOST), "tighter"),
        (On(Decimal(90)), read(MOST + 1), "tighter"),
        (On(Decimal(90)), read(None), None),
        (On(Decimal(90)), FoundOff(), "switched-off"),
        (On(Decimal(90)), FoundNotFitted(), "switched-off"),
        (On(Decimal(90)), CouldNotRead("glare"), "unread"),
        (On(Decimal(90)), NotRead(), None),
        (On(Decimal(90), Priority.HIGH), read(90, priority="low"), "looser"),
        (On(Decimal(90), Priority.HIGH), read(91, priority="low"), "looser"),
        (On(Decimal(90), delay_s=Decimal(5)), read(90, delay_s=4), "tighter"),
        (On(None), read(90), "other"),
        (On(Decimal(99_999)), read(MOST), "looser"),
        (On(Decimal(-99_999)), read(LEAST), "tighter"),
        (On(Decimal(MOST)), read(MOST), None),
        (On(Decimal(LEAST)), read(LEAST), None),
        (Off(), read(90), "switched-on"),
        (Off(), FoundOff(), None),
        (Off(), FoundNotFitted(), None),
        (Off(), CouldNotRead("glare"), "unread"),
        (NotFitted(), read(90), "switched-on"),
        (NotFitted(), FoundNotFitted(), None),
        (NoPolicy(), read(90), None),
        (NoPolicy(), CouldNotRead("glare"), None),
    ],
)
def test_every_state_and_number_has_its_direction(
    signed: Setting, reading: Reading, direction: str | None
) -> None:
    block = block_of([HR_LOW], [{HR_LOW: reading}])

    told = compare_block(block, signed_block(profile_of({HR_LOW[1]: signed}), DUNLIN, [HR_LOW]))

    assert [DIRECTIONS[code] for code in told.directions] == ([direction] if direction else [])


@pytest.mark.parametrize(
    ("shown", "reading", "direction"),
    [
        # 60 mmHg is 8.0 kPa rounded to the nearest, 7.9 toward the earlier alarm
        ("kPa", read(8.0), None),
        ("kPa", read(7.9), None),
        ("kPa", read(8.1), "looser"),
        ("kPa", read(7.8), "tighter"),
        ("mm[Hg]", read(8.0, unit="kPa"), None),
        ("mm[Hg]", read(8.1, unit="kPa"), "looser"),
        ("mm[Hg]", read(60), None),
        ("mm[Hg]", read("60.1"), "looser"),
    ],
)
def test_between_units_both_roundings_conform(
    shown: str, reading: Reading, direction: str | None
) -> None:
    column = ("CHILD", "etco2-high")
    profile = profile_of({"etco2-high": On(Decimal(60))}, etco2_unit=shown)

    told = compare_block(
        block_of([column], [{column: reading}]), signed_block(profile, DUNLIN, [column])
    )

    assert [DIRECTIONS[code] for code in told.directions] == ([direction] if direction else [])


def test_an_option_or_a_preset_that_the_model_lacks_is_not_judged() -> None:
    layout = [("*", "audio-volume"), ("OLD", "heart-rate-low"), HR_LOW]
    held = dict.fromkeys(layout, read(10))
    profile = profile_of({"heart-rate-low": On(Decimal(90))})

    told = as_block(profile, layout, [held])

    assert told == [(0, HR_LOW, "looser", "unsafe")]


# --- how grave, where another alarm has a say

_HIGH = On(None, Priority.HIGH, Decimal(0))
_ARRESTS = {"ventricular-fibrillation": _HIGH, "ventricular-tachycardia": _HIGH}
_APNOEAS = {"apnoea": On(Decimal(20)), "airway-apnoea": On(Decimal(20)), "etco2-high": NotFitted()}
_LATE = On(Decimal(92), delay_s=Decimal(10))


@pytest.mark.parametrize(
    ("signed", "held", "weights"),
    [
        ({HR_LOW[1]: On(Decimal(90))}, {HR_LOW[1]: read(50)}, ["off-protocol"]),  # no bound here
        (_ARRESTS, {"ventricular-tachycardia": FoundNotFitted()}, ["unsafe"]),
        # one combined alarm counts for both
        (
            _ARRESTS,
            {
                "ventricular-fibrillation": read(None, priority="high"),
                "ventricular-tachycardia": FoundNotFitted(),
            },
            ["off-protocol"],
        ),
        (_APNOEAS, {"airway-apnoea": FoundOff(), "apnoea": read(20)}, ["off-protocol"]),
        # the other one is left, unless it is off too, or nobody read it
        (_APNOEAS, {"airway-apnoea": FoundOff()}, ["unsafe"]),
        (_APNOEAS, {"apnoea": FoundOff(), "airway-apnoea": FoundOff()}, ["unsafe", "unsafe"]),
        # nor is it enough where capnography turns out to be there
        (
            _APNOEAS,
            {"airway-apnoea": FoundOff(), "etco2-high": read(60)},
            ["unsafe", "off-protocol"],
        ),
    ],
)
def test_alarms_that_stand_in_for_each_other_are_weighed_together(
    signed: dict[str, Setting], held: dict[str, Reading], weights: list[str]
) -> None:
    layout = [("CHILD", alarm) for alarm in signed]
    devices: list[Readings] = [{("CHILD", alarm): found for alarm, found in held.items()}]

    told = as_block(profile_of(signed), layout, devices, NO_BOUNDS)

    assert [weight for *_, weight in told] == weights
    assert told == one_by_one(profile_of(signed), layout, devices, NO_BOUNDS)


def test_equal_numbers_with_different_notes_are_weighed_apart() -> None:
    column = ("CHILD", "asystole")
    low, late = read(None, priority="low"), read(None, delay_s=9)

    told = as_block(profile_of({"asystole": _HIGH}), [column], [{column: low}, {column: late}])

    assert [weight for *_, weight in told] == ["unsafe", "off-protocol"]


@pytest.mark.parametrize(("averaging_s", "weight"), [(15, "off-protocol"), (16, "unsafe")])
def test_averaging_that_was_signed_counts_as_delay(averaging_s: int, weight: str) -> None:
    column = ("CHILD", "spo2-low")
    profile = profile_of({"spo2-low": _LATE}, averaging_s=averaging_s)

    told = as_block(profile, [column], [{column: read(92, delay_s=15)}])

    assert told == [(0, column, "looser", weight)]


# --- the block itself


@pytest.mark.parametrize(
    ("code", "direction"), [(COULD_NOT_READ, "unread"), (AS_TEXT, "switched-off")]
)
def test_a_code_that_lost_its_note_does_not_conform(code: int, direction: str) -> None:
    block = ReadingBlock((HR_LOW,), np.array([[code]], np.int16), {})
    signed = signed_block(profile_of({HR_LOW[1]: On(Decimal(90))}), DUNLIN, [HR_LOW])

    told = compare_block(block, signed)

    assert [DIRECTIONS[code] for code in told.directions] == [direction]


def test_a_reading_comes_back_as_it_was_found() -> None:
    held: dict[Column, Reading] = {
        HR_LOW: read(90),
        ("CHILD", "spo2-low"): read(None, delay_s=5),
        ("CHILD", "apnoea"): CouldNotRead("glare"),
        ("CHILD", "vpc-rate"): FoundOff(),
    }
    layout = list(held)

    block = block_of(layout, [{}, held])

    assert {column: block.reading(1, place) for place, column in enumerate(layout)} == held
    assert block.reading(0, 0) == NotRead()


def test_a_device_of_another_layout_is_refused() -> None:
    packed = pack([HR_LOW], {HR_LOW: read(90)})

    with pytest.raises(ValueError, match="has 2 readings"):
        reading_block([HR_LOW, ("CHILD", "spo2-low")], [packed])


def test_what_was_signed_for_another_layout_is_refused() -> None:
    signed = signed_block(profile_of({}), DUNLIN, [("CHILD", "spo2-low")])

    with pytest.raises(ValueError, match="different layouts"):
        compare_block(block_of([HR_LOW], [{}]), signed)


def test_no_device_has_no_deviation() -> None:
    told = compare_block(block_of([HR_LOW], []), signed_block(profile_of({}), DUNLIN, [HR_LOW]))

    assert len(told) == 0


@pytest.mark.parametrize("devices", [1, 7, 8, 9, 8_191, 8_192, 8_193, 20_000])
def test_a_fleet_of_any_size_is_looked_at_whole(devices: int) -> None:
    layout = [(preset, alarm) for preset in ("ADULT", "CHILD") for alarm in list(_NEAR)] + [
        (preset, alarm) for preset in ("ADULT", "CHILD") for alarm in _EVENTS
    ]
    on: dict[str, Setting] = {alarm: On(Decimal(limit)) for alarm, limit in _NEAR.items()}
    signed = signed_block(profile_of(on | {"asystole": On(None)}, on), DUNLIN, layout)
    dice = np.random.default_rng(devices)
    strays = dice.random((devices, len(layout))) < 0.05
    vals = np.where(strays, dice.choice([OFF, 1, 400], strays.shape), signed.expected)
    vals = vals.astype(np.int16)

    told = compare_block(ReadingBlock(tuple(layout), vals, {}), signed)

    every = signed.directions[np.arange(len(layout)), vals.astype(int) + 32_768]
    rows, columns = np.nonzero(every)
    assert told.rows.tolist() == rows.tolist()
    assert told.columns.tolist() == columns.tolist()
    assert told.directions.tolist() == every[rows, columns].tolist()
    assert not every[0].all()


def test_each_combination_is_weighed_once_however_many_devices_hold_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    layout = [HR_LOW, ("CHILD", "pulse-rate-low"), ("CHILD", "spo2-low")]
    held = dict.fromkeys(layout[:2], read(50)) | {layout[2]: read(90)}
    signed = signed_block(
        profile_of({alarm: On(Decimal(90)) for _, alarm in layout}), DUNLIN, layout
    )
    block = block_of(layout, [held] * 50 + [{**held, layout[2]: read(91)}] * 50)
    found = compare_block(block, signed)
    asked: list[str] = []

    def compared(*given: Any) -> Any:
        asked.append("once")
        return compare_preset(*given)

    monkeypatch.setattr("app.domain.block_severities.compare_preset", compared)
    weights = block_severities(block, signed, found)

    assert len(weights) == 250
    assert len(asked) == 3  # saturation has no say in the pulse, so the two kinds of device are one
