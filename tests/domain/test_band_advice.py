"""Heart rate by Fleming 2011 against the default bounds, unless a test brings its own."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from app.domain.ages import AgeSpan, months, years
from app.domain.band_advice import (
    BandQuestion,
    band_advice,
    confirmed_bands,
    published_signs,
    whole_months,
)
from app.domain.band_costs import Weights, ground_of, is_judged, month, shares_below, side_costs
from app.domain.band_search import Aim
from app.domain.centiles import CentileRow, CentileTable, References
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_models import DeviceModel, Grid
from app.domain.errors import Conflict, Refused
from app.domain.outer_bounds import OuterBounds, bound
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED, fleming_2011
from app.domain.rules.arrival import arrival_share
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.profile_json import profile_from_document
from tests.worked_profiles import document, on

HEART = VITAL_SIGNS["heart-rate"]
LIMITS = [Decimal(limit) for limit in (60, 79, 80, 81, 150)]


def one_band(low: float, high: float, **more: Any) -> Profile:
    settings = {"heart-rate-low": on(low, **more), "heart-rate-high": on(high)}
    return profile_from_document(document({"all": ("0 d", None, settings)}))


def advise(question: BandQuestion | None = None, **more: Any) -> Any:
    return band_advice(question or BandQuestion("heart-rate"), bounds=DEFAULT_BOUNDS, **more)


def ground() -> Any:
    return ground_of(HEART, PUBLISHED, DEFAULT_BOUNDS)


@pytest.mark.parametrize(
    "row", fleming_2011.TABLE.rows, ids=lambda row: f"{row.vital_sign} {row.band}"
)
def test_many_shares_at_once_are_those_asked_one_by_one(row: CentileRow) -> None:
    values = np.array([1.0, *np.arange(row.values[0] - 9, row.values[-1] + 9, 0.5), 340])

    together = shares_below(row.curve, values)

    assert together == pytest.approx([row.curve.share_below(value) for value in values], abs=1e-12)


@pytest.mark.parametrize("number", [0, 2, 3, 17, 215])
def test_alarm_on_arrival_of_a_month_is_the_mean_of_the_rule(number: int) -> None:
    costs = side_costs(ground(), "low", range(number, number + 1), LIMITS)

    asked = [
        arrival_share(fleming_2011.TABLE, HEART.key, month(number), float(limit), None)
        for limit in LIMITS
    ]
    assert costs.arrival[0] == pytest.approx([100 * share.mean for share in asked if share])


@pytest.mark.parametrize(
    ("number", "gaps"),
    [(11, [20, 1, 0, 0, 0]), (12, [0, 0, 0, 0, 0])],
    ids=["under 1 y danger is below 80", "from 1 y on below 60"],
)
def test_a_limit_equal_to_the_bound_leaves_no_gap(number: int, gaps: list[float]) -> None:
    costs = side_costs(ground(), "low", range(number, number + 1), LIMITS)

    assert list(costs.danger[0]) == gaps


def test_the_gap_of_a_month_is_the_widest_at_any_age_in_it() -> None:
    """A stricter bound begins within the first month; the moving one is worst at the end."""
    bounds = OuterBounds(
        "ours",
        (
            bound("heart-rate", ("0 d", "28 d"), "low", "70", "danger", "J", "ours"),
            bound("heart-rate", ("28 d", "1 mo"), "low", "80", "danger", "J", "ours"),
            bound(
                "heart-rate", ("1 mo", None), "low", "80 + 12 * age_years", "danger", "J", "ours"
            ),
        ),
    )
    own = ground_of(HEART, PUBLISHED, bounds)
    assert own is not None

    costs = side_costs(own, "low", range(2), [Decimal(79), Decimal(81), Decimal(82)])

    assert costs.danger.tolist() == [[1, 0, 0], [3, 1, 0]]


@pytest.mark.parametrize(("first", "judged"), [(11, False), (12, True)])
def test_a_side_is_judged_only_where_a_bound_stands_at_every_month(
    first: int, judged: bool
) -> None:
    rows = tuple(row for row in DEFAULT_BOUNDS.rows if row.span.start >= years(1))
    own = ground_of(HEART, PUBLISHED, OuterBounds("from 1 y on", rows))
    assert own is not None

    assert is_judged(own, "high", range(first, 24)) is judged


def test_the_more_bands_the_less_they_cost_down_to_what_bounds_and_fan_allow() -> None:
    costs = [plan.score.worst for plan in advise().best]

    assert costs == sorted(costs, reverse=True)
    assert costs[0] > 70  # one band for all children is deaf or noisy
    assert costs[2] == pytest.approx(7.53, abs=0.02)


def test_the_score_is_what_a_loop_over_the_months_finds() -> None:
    question = BandQuestion("heart-rate", Aim.MEAN, Weights(7, 2))
    plan = advise(question).with_bands(3)

    loop = []
    for number in range(216):
        band = next(one for one in plan.bands if months(number) in one.ages)
        low, high = float(band.low), float(band.high)
        share = arrival_share(fleming_2011.TABLE, "heart-rate", month(number), low, high)
        assert share is not None
        gaps = [
            max(0.0, float(strict) - low) if side == "low" else max(0.0, high - float(strict))
            for grade, weight in (("danger", 7), ("caution", 2))
            for side in ("low", "high")
            if (strict := ground().strictest(side, grade, month(number))) is not None
            for _ in range(weight)
        ]
        loop.append(100 * share.mean + sum(gaps))
    assert plan.score.mean == pytest.approx(sum(loop) / 216)
    assert plan.score.worst == pytest.approx(max(loop))


def test_the_same_bands_cost_the_same_advised_or_held() -> None:
    question = BandQuestion("heart-rate", most=1)
    best = advise(question).best[0]
    [band] = best.bands

    held = advise(question, profile=one_band(float(band.low), float(band.high)))

    assert held.today.bands == best.bands
    for part in ("worst", "mean", "arrival_worst", "arrival_mean", "danger", "caution"):
        assert getattr(held.today.score, part) == pytest.approx(getattr(best.score, part))


@pytest.mark.parametrize(
    ("more", "danger"),
    [
        ({}, 5),  # 75 where below 80 is danger
        ({"deep": {"limit": 80}}, 0),
        ({"delay_s": 30}, 5),
        ({"delay_s": 31}, 70),  # does not count, down to the least of 10
    ],
    ids=["limit", "deep line", "30 s count", "31 s do not"],
)
def test_today_is_silent_as_the_rule_says(more: Mapping[str, Any], danger: float) -> None:
    question = BandQuestion("heart-rate", until=12)

    today = advise(question, profile=one_band(75, 180, **more)).today

    assert today.score.danger == danger


def test_an_alarm_that_is_off_lets_everything_pass() -> None:
    off = {"heart-rate-low": on(80), "heart-rate-high": {"state": "off", "reason": "r"}}
    profile = profile_from_document(document({"all": ("0 d", None, off)}))

    today = advise(BandQuestion("heart-rate", until=12), profile=profile).today

    assert today.score.danger == 350 - 220
    assert today.bands[0].high is None


def test_a_policy_that_says_nothing_of_it_has_no_bands_today() -> None:
    profile = profile_from_document(document({"all": ("0 d", None, {"spo2-low": on(90)})}))

    assert advise(profile=profile).today is None


def test_only_limits_that_every_model_can_be_set_to_are_advised() -> None:
    grids = {"heart-rate-low": Grid(Decimal(31), Decimal(201), Decimal(10))}

    advice = advise(models=[DeviceModel("dunlin", (), grids)])

    assert {band.low % 10 for plan in advice.best for band in plan.bands} == {1}
    assert advice.models == ("dunlin",)


def test_models_that_share_no_limit_are_named() -> None:
    grids = [Grid(Decimal(start), Decimal(200), Decimal(10)) for start in (30, 31)]
    models = [
        DeviceModel(key, (), {"heart-rate-low": grid})
        for key, grid in zip(("dunlin", "petrel"), grids, strict=True)
    ]

    with pytest.raises(
        Refused, match=r"Heart rate low: no value can be set on every model \(dunlin, petrel\)"
    ):
        advise(models=models)


def test_a_side_that_no_bound_judges_is_left_alone() -> None:
    rows = tuple(row for row in DEFAULT_BOUNDS.rows if row.side == "low")

    advice = band_advice(BandQuestion("heart-rate"), bounds=OuterBounds("low only", rows))

    assert advice.left == ("high",)
    assert {band.high for plan in advice.best for band in plan.bands} == {None}
    assert advice.best[-1].score.danger == 0


def test_ages_without_centiles_are_not_advised_on() -> None:
    rows = tuple(row for row in fleming_2011.TABLE.rows if row.span.start >= years(1))
    own = References((CentileTable("ours", "J", rows),))

    advice = advise(references=own)

    assert advice.ages == AgeSpan(years(1), years(18))
    assert advice.best[0].bands[0].ages.start == years(1)


@pytest.mark.parametrize(
    ("question", "told"),
    [
        (BandQuestion("heart"), "must be one of"),
        (BandQuestion("spo2"), "no centiles are held for SpO₂"),
        (BandQuestion("heart-rate", until=0), "choose 1 to 216 months"),
        (BandQuestion("heart-rate", until=217), "choose 1 to 216 months"),
        (BandQuestion("heart-rate", weights=Weights(-1, 0)), "from 0 to 1000 points"),
        (BandQuestion("heart-rate", weights=Weights(0, 1001)), "from 0 to 1000 points"),
        (BandQuestion("heart-rate", weights=Weights(float("nan"), 0)), "from 0 to 1000 points"),
    ],
)
def test_what_cannot_be_weighed_is_refused(question: BandQuestion, told: str) -> None:
    with pytest.raises(Refused, match=told):
        advise(question)


def test_without_any_bound_nothing_is_advised() -> None:
    with pytest.raises(Refused, match="the loosest limit always wins"):
        band_advice(BandQuestion("heart-rate"), bounds=OuterBounds("none", ()))


def test_a_scheme_with_a_hole_is_mended_first() -> None:
    settings = {"heart-rate-low": on(80), "heart-rate-high": on(180)}
    profile = profile_from_document(document({"old": ("1 y", None, settings)}))

    with pytest.raises(Refused, match="mend it first"):
        advise(profile=profile)


def test_a_band_is_confirmed_by_all_that_it_says() -> None:
    plan = advise().with_bands(3)
    first = plan.bands[0]

    assert first.mark == "0-12:80:180"
    assert confirmed_bands(plan, [first.mark]) == (first,)
    with pytest.raises(Conflict):
        confirmed_bands(plan, ["0-12:80:181"])


def test_only_signs_with_centiles_are_offered() -> None:
    keys = [sign.key for sign in published_signs()]

    assert keys == ["heart-rate", "pulse-rate", "respiratory-rate", "airway-respiratory-rate"]


def test_until_is_asked_in_whole_months() -> None:
    assert whole_months(years(16)) == 192
    with pytest.raises(Refused, match="whole months"):
        whole_months(years(19))
