"""The rule around the silence: one finding an alarm side, worst grade, all sources named."""

import pytest

from app.domain.findings import Severity
from app.domain.outer_bounds import OuterBounds, bound
from tests.domain.rules.questions import NO_POLICY, NOT_FITTED, OFF, found_by, profile_of
from tests.worked_profiles import on

RULE = "silent-gap"


@pytest.mark.parametrize(
    ("limit", "severities"),
    [(170, []), (171, ["note"]), (180, ["note"]), (181, ["unsafe"]), (185, ["unsafe"])],
)
def test_the_worked_example_of_one_to_five_years(limit: float, severities: list[str]) -> None:
    """AHA PALS: danger above 180; National PEWS: caution above 170."""
    profile = profile_of({"heart-rate-high": on(limit)}, ("1 y", "5 y"))

    assert [f.severity for f in found_by(RULE, profile)] == severities


def test_a_finding_says_what_it_measured_and_names_every_source() -> None:
    profile = profile_of({"heart-rate-high": on(185)}, ("1 y", "5 y"))

    (finding,) = found_by(RULE, profile)

    assert finding.category == "child"
    assert finding.alarms == ("heart-rate-high",)
    assert finding.ages is not None
    assert finding.ages.words() == ["1 y", "5 y"]
    assert finding.measured == {
        "grade": "danger",
        "side": "high",
        "bound": 180,
        "bound_per_year": 0,
        "limit": 185,
        "silent_from": 181,
        "silent_to": 185,
        "silent_ages": [["1 y", "5 y"]],
        "silent_values": [[181, 185]],
        "settings": {
            "heart-rate-high": {
                "state": "on",
                "limit": 185,
                "priority": "medium",
                "delay_s": 0,
                "latching": False,
            }
        },
    }
    assert finding.message == (
        "Child: Heart rate can rise to 185 /min unannounced at age 1 y to 5 y; "
        "above 180 /min is danger."
    )
    assert "AHA PALS" in finding.source
    assert "National PEWS England 2023" in finding.source


@pytest.mark.parametrize("setting", [OFF, NO_POLICY])
def test_an_alarm_that_is_off_is_silent_without_end(setting: dict[str, object]) -> None:
    (finding,) = found_by(RULE, profile_of({"heart-rate-low": setting}))

    assert finding.severity is Severity.UNSAFE
    assert finding.measured["limit"] is None
    assert (finding.measured["silent_from"], finding.measured["silent_to"]) == (None, 59)
    assert "Heart rate can fall to any value unannounced" in finding.message


def test_the_ages_of_several_gaps_are_told_one_by_one() -> None:
    """Danger below 60 from 1 to 8 years, below 50 from 8 on; 58 is silent only where it is 60."""
    profile = profile_of({"heart-rate-low": on(58)}, ("1 y", "13 y"))

    (finding,) = found_by(RULE, profile)

    assert finding.measured["silent_ages"] == [["1 y", "5 y"], ["5 y", "8 y"]]
    assert finding.ages is not None
    assert finding.ages.words() == ["1 y", "8 y"]


def test_an_apnoea_time_is_told_as_a_time() -> None:
    (finding,) = found_by(RULE, profile_of({"apnoea": on(45)}))

    assert finding.message == (
        "Child: Apnoea can last to 45 s unannounced at age 5 y to 8 y; beyond 30 s is danger."
    )


@pytest.mark.parametrize(("grid", "gap"), [({}, False), ({"spo2-low": {}}, True)])
def test_not_fitted_is_a_gap_only_where_a_model_denies_it(
    grid: dict[str, object], gap: bool
) -> None:
    reach = {alarm: {"from": 50, "to": 100, "step": 1} for alarm in grid}
    models = {"petrel": {"grid": reach}}

    profile = profile_of({"spo2-low": NOT_FITTED}, models=models)

    assert bool(found_by(RULE, profile)) is gap


@pytest.mark.parametrize(("averaging", "gap"), [(16, False), (17, True)])
def test_the_averaging_option_counts_as_delay(averaging: int, gap: bool) -> None:
    options = {"spo2-averaging-s": {"value": averaging}}

    profile = profile_of({"spo2-low": on(90, delay_s=14)}, options=options)

    assert bool(found_by(RULE, profile)) is gap


def test_a_circumstance_is_judged_by_its_own_bounds() -> None:
    overlay = {
        "key": "hypercapnia-risk",
        "label": "Hypercapnia risk",
        "applies_to": ["child"],
        "settings": {"spo2-low": on(82)},
    }
    profile = profile_of({"spo2-low": on(90)}, ("16 y", None), circumstances=[overlay])

    (finding,) = found_by(RULE, profile)

    assert finding.measured["circumstance"] == "hypercapnia-risk"
    assert (finding.measured["silent_from"], finding.measured["silent_to"]) == (82, 82)
    assert "NEWS2" in finding.source


def test_a_circumstances_own_bound_judges_also_what_it_leaves_as_it_is() -> None:
    """On oxygen a newborn's saturation above 98 is danger, whatever else the overlay changes."""
    overlay = {"key": "on-oxygen", "applies_to": ["child"], "settings": {"spo2-low": on(90)}}
    settings = {"spo2-low": on(89), "spo2-high": OFF, "heart-rate-low": on(40)}

    profile = profile_of(settings, ("0 d", "28 d"), circumstances=[overlay])

    found = [f for f in found_by(RULE, profile) if f.measured.get("circumstance")]
    assert [(f.severity.value, f.alarms) for f in found] == [("unsafe", ("spo2-high",))]


def test_an_agencys_own_bounds_replace_the_default_ones() -> None:
    own = OuterBounds(
        "own", (bound("spo2", ("0 d", None), "low", "93", "danger", "J", "our board"),)
    )
    profile = profile_of({"spo2-low": on(92), "heart-rate-low": on(10)})

    (finding,) = found_by(RULE, profile, own)

    assert finding.source == "our board"
    assert (finding.measured["silent_from"], finding.measured["silent_to"]) == (92, 92)
