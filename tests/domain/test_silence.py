"""Where an alarm stays silent: each row at, just under and just over the bound.

The bounds used here are the default ones: from 5 to 8 years heart rate below 60 and above 160 is
danger, respiratory rate below 10 and above 50, SpO2 below 88 (caution below 90), systolic below
80 (caution below 70 + 2 per year), mean below 36 (caution below 49), EtCO2 above 60 caution.
"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.ages import Age, AgeSpan, months, years
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.outer_bounds import OuterBounds, bound
from app.domain.settings_of_alarms import DeepLine, NoPolicy, NotFitted, Off, On, Setting
from app.domain.silence import Silence, Watch, side_of, sides, silences

SCHOOL = AgeSpan(years(5), years(8))
Gaps = list[tuple[str, float | None, float | None]]
"""Grade, first and last silent value; None: without end."""


def on(limit: float | str, delay_s: int | None = None, **more: object) -> On:
    delay = None if delay_s is None else Decimal(delay_s)
    return replace(On(Decimal(str(limit)), delay_s=delay), **more)  # type: ignore[arg-type]


def silent(stated: dict[str, Setting], alarm: str, ages: AgeSpan = SCHOOL, **watch: object) -> Gaps:
    """What passes unannounced on the side that the alarm guards."""
    return [
        (found.bound.grade, _plain(found.start), _plain(found.end))
        for found in found_by(stated, alarm, ages, **watch)
    ]


def _plain(value: Fraction | None) -> float | None:
    return None if value is None else float(value)


def found_by(
    stated: dict[str, Setting], alarm: str, ages: AgeSpan = SCHOOL, **watch: object
) -> list[Silence]:
    whole = replace(Watch(stated, DEFAULT_BOUNDS), **watch)  # type: ignore[arg-type]
    return silences(whole, *side_of(ALARM_CONDITIONS[alarm]), ages)


# --- one alarm alone: at its bound, one step tighter, one step looser


@pytest.mark.parametrize(
    ("alarm", "limit", "gap"),
    [
        # low limits sound strictly below: at the bound nothing beyond it is silent
        ("heart-rate-low", 61, []),
        ("heart-rate-low", 60, []),
        ("heart-rate-low", 59, [("danger", 59, 59)]),
        ("heart-rate-low", 50, [("danger", 50, 59)]),
        # high limits sound strictly above
        ("heart-rate-high", 159, []),
        ("heart-rate-high", 160, []),
        ("heart-rate-high", 161, [("danger", 161, 161)]),
        ("heart-rate-high", 180, [("danger", 161, 180)]),
        ("respiratory-rate-low", 10, []),
        ("respiratory-rate-low", 9, [("danger", 9, 9)]),
        ("respiratory-rate-high", 50, []),
        ("respiratory-rate-high", 51, [("danger", 51, 51)]),
        # two grades: danger and caution are told one by one
        ("spo2-low", 90, []),
        ("spo2-low", 89, [("caution", 89, 89)]),
        ("spo2-low", 88, [("caution", 88, 89)]),
        ("spo2-low", 87, [("danger", 87, 87), ("caution", 87, 89)]),
        # a limit between two steps sounds from the step beyond it on
        ("heart-rate-low", 59.5, []),
        ("heart-rate-low", 58.5, [("danger", 59, 59)]),
        ("heart-rate-high", 160.5, []),
        ("heart-rate-high", 161.5, [("danger", 161, 161)]),
        # a time: the bound is one beyond which an apnoea lasts too long
        ("apnoea", 30, []),
        ("apnoea", 31, [("danger", 31, 31)]),
        ("airway-apnoea", 30, []),
        ("airway-apnoea", 31, [("danger", 31, 31)]),
        # no bound, no gap
        ("vpc-rate", 60, []),
        ("spo2-high", 100, []),
        ("nibp-diastolic-low", 10, []),
    ],
)
def test_a_limit_at_its_bound_closes_the_gap_and_one_beyond_opens_it(
    alarm: str, limit: float, gap: Gaps
) -> None:
    assert silent({alarm: on(limit)}, alarm) == gap


@pytest.mark.parametrize(
    ("limit", "gap"),
    [
        ("36.0", []),
        ("35.9", [("caution", 35.9, 35.9)]),
        ("35.95", []),  # sounds from 35.9 on, which is the step below 36
    ],
)
def test_temperature_lives_on_tenths(limit: str, gap: Gaps) -> None:
    newborn = AgeSpan(Age(Fraction(0)), Age(Fraction(28)))

    assert silent({"temperature-low": on(limit)}, "temperature-low", newborn) == gap


@pytest.mark.parametrize(
    ("limit", "unit", "gap"),
    [
        ("8.0", "kPa", []),  # 60.005 mmHg
        ("7.9", "kPa", []),
        ("8.1", "kPa", []),  # 60.755 mmHg sounds from 61 on, as 60 does
        ("8.2", "kPa", [("caution", 61, 61)]),  # 61.505 mmHg
        ("60", "mm[Hg]", []),
        ("61", "mm[Hg]", [("caution", 61, 61)]),
    ],
)
def test_a_limit_in_kilopascals_is_judged_in_millimetres(limit: str, unit: str, gap: Gaps) -> None:
    assert silent({"etco2-high": on(limit, unit=unit)}, "etco2-high") == gap


# --- states that are no limit


@pytest.mark.parametrize(
    ("setting", "gap"),
    [
        (Off(), [("danger", None, 59)]),
        (NoPolicy(), [("danger", None, 59)]),
        (NotFitted(), []),
    ],
)
def test_off_and_no_policy_are_silent_without_end_and_not_fitted_is_not(
    setting: Setting, gap: Gaps
) -> None:
    assert silent({"heart-rate-low": setting}, "heart-rate-low") == gap


@pytest.mark.parametrize("setting", [Off(), NoPolicy(), NotFitted()])
@pytest.mark.parametrize("alarm", ["etco2-high", "spo2-low"])
def test_off_never_breaks_a_bound_of_caution(alarm: str, setting: Setting) -> None:
    assert "caution" not in [grade for grade, *_ in silent({alarm: setting}, alarm)]


def test_not_fitted_is_a_gap_where_the_model_has_the_alarm_after_all() -> None:
    fitted = frozenset({"heart-rate-low"})

    found = silent({"heart-rate-low": NotFitted()}, "heart-rate-low", fitted=fitted)

    assert found == [("danger", None, 59)]


def test_an_alarm_that_is_not_mentioned_is_no_gap() -> None:
    for group, side in sides():
        assert silences(Watch({}, DEFAULT_BOUNDS), group, side, SCHOOL) == []


def test_an_event_without_a_limit_is_never_a_gap() -> None:
    assert silent({"asystole": Off()}, "asystole") == []


# --- the alarms of one group cover each other


@pytest.mark.parametrize(
    ("alarm", "stated", "grades"),
    [
        ("heart-rate-low", {"heart-rate-low": Off(), "pulse-rate-low": on(60)}, []),
        ("heart-rate-low", {"heart-rate-low": on(60), "pulse-rate-low": Off()}, []),
        ("heart-rate-low", {"heart-rate-low": Off(), "pulse-rate-low": on(59)}, ["danger"]),
        ("pulse-rate-high", {"pulse-rate-high": on(161)}, ["danger"]),  # heart rate's bound
        # the other side is no cover
        ("heart-rate-low", {"heart-rate-low": Off(), "pulse-rate-high": on(160)}, ["danger"]),
        (
            "respiratory-rate-low",
            {"respiratory-rate-low": NoPolicy(), "airway-respiratory-rate-low": on(10)},
            [],
        ),
        (
            "respiratory-rate-low",
            {"respiratory-rate-low": NoPolicy(), "airway-respiratory-rate-low": on(9)},
            ["danger"],
        ),
        # pressures: systolic has its bound, mean its own, invasive systolic that of systolic
        ("nibp-systolic-low", {"nibp-systolic-low": Off(), "ibp-systolic-low": on(90)}, []),
        (
            "nibp-systolic-low",
            {"nibp-systolic-low": Off(), "ibp-systolic-low": on(79)},
            ["danger", "caution"],
        ),
        ("nibp-systolic-low", {"nibp-systolic-low": Off(), "nibp-mean-low": on(49)}, []),
        ("nibp-systolic-low", {"nibp-systolic-low": on(70), "nibp-mean-low": on(36)}, ["caution"]),
        (
            "nibp-systolic-low",
            {"nibp-systolic-low": on(70), "nibp-mean-low": on(35)},
            ["danger", "caution"],
        ),
        ("nibp-mean-low", {"nibp-mean-low": on(35), "nibp-systolic-low": on(90)}, []),
        # diastolic and apnoea guard nobody else
        (
            "nibp-systolic-low",
            {"nibp-systolic-low": Off(), "nibp-diastolic-low": on(90)},
            ["danger"],
        ),
        ("apnoea", {"apnoea": Off(), "airway-apnoea": on(20)}, ["danger"]),
    ],
)
def test_one_alarm_that_closes_its_own_bound_covers_its_group(
    alarm: str, stated: dict[str, Setting], grades: list[str]
) -> None:
    found = silent(stated, alarm, AgeSpan(years(5), years(6)))

    assert list(dict.fromkeys(grade for grade, *_ in found)) == grades


def test_the_silence_of_a_group_ends_at_its_tightest_limit() -> None:
    stated: dict[str, Setting] = {"heart-rate-low": on(40), "pulse-rate-low": on(55)}

    (found,) = found_by(stated, "heart-rate-low")

    assert (_plain(found.start), _plain(found.end)) == (55, 59)
    assert found.limit == Decimal(55)
    assert found.alarms == ("heart-rate-low", "pulse-rate-low")


# --- delays, deep lines, averaging


@pytest.mark.parametrize(
    ("delay_s", "covers"), [(None, True), (0, True), (29, True), (30, True), (31, False)]
)
def test_a_delay_above_thirty_seconds_does_not_cover(delay_s: int | None, covers: bool) -> None:
    found = silent({"heart-rate-low": on(60, delay_s)}, "heart-rate-low")

    assert found == ([] if covers else [("danger", None, 59)])


def test_an_alarm_that_comes_too_late_is_still_on_and_breaks_caution_too() -> None:
    found = silent({"spo2-low": on(90, 31)}, "spo2-low")

    assert found == [("danger", None, 87), ("caution", None, 89)]


@pytest.mark.parametrize(
    ("deep", "delay_s", "gap"),
    [
        (60, 0, []),
        (59, 0, [("danger", 59, 59)]),
        (60, 30, []),
        (60, 31, [("danger", None, 59)]),
    ],
)
def test_the_deep_line_covers_where_the_first_one_comes_too_late(
    deep: int, delay_s: int, gap: Gaps
) -> None:
    setting = on(80, 60, deep=DeepLine(Decimal(deep), delay_s=Decimal(delay_s)))

    assert silent({"heart-rate-low": setting}, "heart-rate-low") == gap


def test_a_deep_line_takes_the_unit_of_its_limit() -> None:
    deep = DeepLine(Decimal("8.0"), delay_s=Decimal(0))

    assert silent({"etco2-high": on("7.0", 60, unit="kPa", deep=deep)}, "etco2-high") == []


@pytest.mark.parametrize(
    ("alarm", "delay_s", "averaging_s", "covers"),
    [
        ("spo2-low", 14, 16, True),
        ("spo2-low", 15, 16, False),
        ("spo2-low", 0, 30, True),
        ("spo2-low", 0, 31, False),
        ("heart-rate-low", 30, 16, True),  # averaging is the oximeter's alone
    ],
)
def test_averaging_adds_to_the_delay_of_saturation(
    alarm: str, delay_s: int, averaging_s: int, covers: bool
) -> None:
    averaging = Decimal(averaging_s)

    found = silent({alarm: on(90, delay_s)}, alarm, spo2_averaging_s=averaging)

    assert (not found) is covers


# --- ages


@pytest.mark.parametrize(
    ("limit", "ages"),
    [
        (70, [AgeSpan(years(1), years(5))]),  # 70 + 2 × age passes 70 at birth
        (72, [AgeSpan(years(1), years(5))]),  # touched at 1 y exactly
        (73, [AgeSpan(months(18), years(5))]),
        (75, [AgeSpan(months(30), years(5))]),
        (79, [AgeSpan(months(54), years(5))]),
        (80, []),  # touched at the end, which the band does not hold
        (81, []),
    ],
)
def test_a_moving_bound_opens_the_gap_at_exactly_the_right_age(
    limit: int, ages: list[AgeSpan]
) -> None:
    found = found_by(
        {"nibp-systolic-low": on(limit)}, "nibp-systolic-low", AgeSpan(years(1), years(5))
    )

    assert [one.ages for one in found if one.bound.grade == "caution"] == ages
    moving = [one for one in found if one.bound.per_year]
    assert all((_plain(one.start), _plain(one.end)) == (limit, 79) for one in moving)


def test_a_gap_ends_where_its_bound_ends() -> None:
    found = found_by({"heart-rate-low": on(50)}, "heart-rate-low", AgeSpan(years(1), years(13)))

    told = [(str(one.ages), one.bound.grade, _plain(one.end)) for one in found]
    assert told == [
        ("1 y to 5 y", "danger", 59),
        ("5 y to 8 y", "danger", 59),
        ("8 y to 13 y", "caution", 59),
    ]


def test_an_open_band_stays_open() -> None:
    (found,) = found_by({"heart-rate-low": on(39)}, "heart-rate-low", AgeSpan(years(16), None))

    assert found.ages == AgeSpan(years(16), None)


# --- circumstances bring their own bounds


@pytest.mark.parametrize(
    ("circumstance", "limit", "gap"),
    [
        (None, 86, [("danger", 86, 87), ("caution", 86, 89)]),
        ("hypercapnia-risk", 84, []),
        ("hypercapnia-risk", 83, []),  # NEWS2 scale 2: 83 and below scores 3
        ("hypercapnia-risk", 82, [("danger", 82, 82)]),
        ("above-2500-m", 87, []),
        ("above-2500-m", 86, [("caution", 86, 86)]),
        ("brain-injury", 86, [("danger", 86, 87), ("caution", 86, 89)]),  # has none for SpO2
    ],
)
def test_a_circumstance_sets_the_stricter_ordinary_bounds_aside(
    circumstance: str | None, limit: int, gap: Gaps
) -> None:
    grown = AgeSpan(years(16), None)

    assert silent({"spo2-low": on(limit)}, "spo2-low", grown, circumstance=circumstance) == gap


@pytest.mark.parametrize(
    ("limit", "grades"),
    [(110, []), (109, ["caution"]), (90, ["caution"]), (89, ["danger", "caution"])],
)
def test_a_stricter_bound_of_a_circumstance_stands_beside_the_ordinary_one(
    limit: int, grades: list[str]
) -> None:
    found = silent(
        {"nibp-systolic-low": on(limit)},
        "nibp-systolic-low",
        AgeSpan(years(16), None),
        circumstance="brain-injury",
    )

    assert list(dict.fromkeys(grade for grade, *_ in found)) == grades


def test_the_bound_of_another_circumstance_does_not_judge() -> None:
    assert silent({"etco2-low": on(5)}, "etco2-low") == []
    found = silent({"etco2-low": on(5)}, "etco2-low", circumstance="cardiac-arrest")
    assert found == [("danger", 5, 9)]


def test_of_two_bounds_of_one_grade_the_stricter_judges() -> None:
    ages = ("0 d", None)
    bounds = OuterBounds(
        "own",
        (
            bound("heart-rate", ages, "low", "50", "danger", "J", "one"),
            bound("heart-rate", ages, "low", "55", "danger", "J", "another"),
        ),
    )

    (found,) = found_by({"heart-rate-low": on(40)}, "heart-rate-low", bounds=bounds)

    assert found.bound.source == "another"


# --- properties

_LOOSER = {"low": -1, "high": 1}
_JUDGED = [
    "heart-rate-low",
    "heart-rate-high",
    "respiratory-rate-low",
    "respiratory-rate-high",
    "spo2-low",
    "nibp-systolic-low",
    "nibp-mean-low",
    "etco2-high",
    "apnoea",
]


def _silent_pairs(stated: dict[str, Setting], alarm: str) -> set[tuple[str, int, int]]:
    """Every (grade, age in months, value) that passes unannounced, within a wide frame."""
    pairs = set()
    for one in found_by(stated, alarm, AgeSpan(years(0), years(20))):
        first = 0 if one.start is None else int(one.start)
        last = 400 if one.end is None else int(one.end)
        for age in range(0, 240, 3):
            if months(age) in one.ages:
                pairs |= {(one.bound.grade, age, value) for value in range(first, last + 1)}
    return pairs


@settings(max_examples=60, deadline=None)
@given(
    alarm=st.sampled_from(_JUDGED),
    limit=st.integers(5, 250),
    by=st.integers(0, 40),
    delay=st.integers(0, 40),
    later=st.integers(0, 40),
)
def test_looser_never_shrinks_a_silent_gap(
    alarm: str, limit: int, by: int, delay: int, later: int
) -> None:
    looser = limit + by * _LOOSER[ALARM_CONDITIONS[alarm].side]

    before = _silent_pairs({alarm: on(limit, delay)}, alarm)
    after = _silent_pairs({alarm: on(looser, delay + later)}, alarm)

    assert before <= after


@settings(max_examples=60, deadline=None)
@given(
    limit=st.integers(20, 120),
    other=st.integers(20, 120),
    partner=st.sampled_from(["pulse-rate-low", "heart-rate-low"]),
)
def test_another_alarm_of_the_group_never_widens_the_danger(
    limit: int, other: int, partner: str
) -> None:
    alone: dict[str, Setting] = {"heart-rate-low": on(limit)}

    before = _silent_pairs(alone, "heart-rate-low")
    after = _silent_pairs({"pulse-rate-low": on(other), **alone}, partner)

    assert after <= before
