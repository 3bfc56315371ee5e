"""Limits that make no sense beside each other."""

import pytest

from tests.domain.rules.questions import OFF, found_by, profile_of
from tests.worked_profiles import on


@pytest.mark.parametrize("method", ["nibp", "ibp"])
@pytest.mark.parametrize("side", ["low", "high"])
@pytest.mark.parametrize(
    ("systolic", "mean", "diastolic", "wrong"),
    [
        (80, 60, 40, []),
        (61, 60, 59, []),
        (60, 60, 40, [("systolic", "mean")]),
        (59, 60, 40, [("systolic", "mean")]),
        (80, 60, 60, [("mean", "diastolic")]),
        (80, 60, 61, [("mean", "diastolic")]),
        (60, 60, 60, [("systolic", "mean"), ("mean", "diastolic")]),
        (80, None, 79, []),
        (80, None, 80, [("systolic", "diastolic")]),
        (None, 60, 60, [("mean", "diastolic")]),
        (60, None, None, []),
    ],
)
def test_systolic_stands_above_mean_above_diastolic(
    method: str,
    side: str,
    systolic: float | None,
    mean: float | None,
    diastolic: float | None,
    wrong: list[tuple[str, str]],
) -> None:
    limits = {"systolic": systolic, "mean": mean, "diastolic": diastolic}
    settings = {
        f"{method}-{part}-{side}": OFF if limit is None else on(limit)
        for part, limit in limits.items()
    }

    found = found_by("pressure-order", profile_of(settings))

    assert [finding.alarms for finding in found] == [
        (f"{method}-{upper}-{side}", f"{method}-{lower}-{side}") for upper, lower in wrong
    ]


def test_methods_and_sides_are_not_mixed() -> None:
    settings = {
        "nibp-systolic-low": on(60),
        "ibp-mean-low": on(65),
        "nibp-mean-high": on(70),
    }

    assert found_by("pressure-order", profile_of(settings)) == []


@pytest.mark.parametrize(
    ("side", "idle", "first"),
    [("low", "systolic", "mean"), ("high", "mean", "systolic")],
)
def test_the_message_names_the_alarm_that_can_never_be_first(
    side: str, idle: str, first: str
) -> None:
    """Any pressure has its systolic above its mean: of low limits the mean one is met first."""
    settings = {f"nibp-systolic-{side}": on(60), f"nibp-mean-{side}": on(70)}

    (finding,) = found_by("pressure-order", profile_of(settings))

    assert f"NIBP {idle} {side} at " in finding.message.split(" can never ")[0]
    assert f"NIBP {first} {side} at " in finding.message.split(" can never ")[1]


@pytest.mark.parametrize(
    "pair", ["heart-rate pulse-rate", "respiratory-rate airway-respiratory-rate"]
)
@pytest.mark.parametrize(
    ("low", "high", "sides"),
    [
        (60, 150, []),
        (59, 150, ["low"]),
        (61, 150, ["low"]),
        (60, 149, ["high"]),
        (50, 160, ["low", "high"]),
    ],
)
def test_two_sensors_of_one_danger_have_the_same_limits(
    pair: str, low: float, high: float, sides: list[str]
) -> None:
    first, second = pair.split()
    settings = {
        f"{first}-low": on(60),
        f"{first}-high": on(150),
        f"{second}-low": on(low),
        f"{second}-high": on(high),
    }

    found = found_by("pair-conflict", profile_of(settings))

    assert [finding.alarms for finding in found] == (
        [tuple(f"{vital}-{side}" for side in sides for vital in (first, second))] if sides else []
    )
    assert {finding.severity.value for finding in found} <= {"note"}


def test_one_of_two_sensors_may_be_off() -> None:
    settings = {"heart-rate-low": on(60), "pulse-rate-low": OFF}

    assert found_by("pair-conflict", profile_of(settings)) == []


def test_different_limits_are_told_in_one_sentence() -> None:
    settings = {"heart-rate-low": on(60), "pulse-rate-low": on(50)}

    (finding,) = found_by("pair-conflict", profile_of(settings))

    assert finding.message == (
        "Child: Heart rate and Pulse rate guard the same danger with different limits: "
        "low 60 and 50 /min."
    )


@pytest.mark.parametrize(
    ("seconds", "rate", "conflict"),
    [
        (20, 3, False),  # breaths 20 s apart
        (19, 3, True),
        (20, 2, True),  # 30 s apart
        (20, 12, False),
        (8, 8, False),  # 7.5 s apart
        (7, 8, True),
    ],
)
@pytest.mark.parametrize("airway", ["", "airway-"])
def test_the_low_rate_allows_no_pause_that_apnoea_would_call(
    airway: str, seconds: float, rate: float, *, conflict: bool
) -> None:
    alarms = (f"{airway}apnoea", f"{airway}respiratory-rate-low")
    settings = {alarms[0]: on(seconds), alarms[1]: on(rate)}

    found = found_by("pair-conflict", profile_of(settings))

    assert [finding.alarms for finding in found] == ([alarms] if conflict else [])
    assert {finding.severity.value for finding in found} <= {"off-protocol"}


@pytest.mark.parametrize(
    ("changed", "told"), [({"spo2-low": on(88)}, 0), ({"pulse-rate-low": on(50)}, 1)]
)
def test_a_circumstance_is_asked_only_about_what_it_changes(
    changed: dict[str, object], told: int
) -> None:
    settings = {
        "heart-rate-low": on(60),
        "pulse-rate-low": on(60),
        "nibp-systolic-low": on(60),
        "nibp-mean-low": on(60),
    }
    overlay = {"key": "paced", "applies_to": ["child"], "settings": changed}

    profile = profile_of(settings, circumstances=[overlay])

    assert len(found_by("pair-conflict", profile)) == told
    assert len(found_by("pressure-order", profile)) == 1  # of the category itself
