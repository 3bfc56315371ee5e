"""How many healthy people would alarm on arrival, with limits on Fleming's printed centiles.

At 12-18 months heart rate: 1st 88, 10th 103, 50th 123, 90th 140, 99th 156. At 6-8 years: 59, 74,
91, 111, 123 (Fleming 2011, Lancet 377:1011-8, Web Table 5). On a printed centile the share is
exact, whatever the curve does between.
"""

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.domain.ages import BIRTH, AgeSpan, days, months, years
from app.domain.centiles import CentileRow, CentileTable
from app.domain.findings import Finding, Severity
from app.domain.reference_ranges import PUBLISHED, with_own_table
from app.domain.reference_ranges.fleming_2011 import TABLE
from app.domain.rules import check
from app.domain.rules.arrival import arrival_share
from app.exchange.profile_json import parse_profile
from tests.domain.rules.questions import OFF, found_by, profile_of
from tests.worked_profiles import document, on

RULE = "arrival-alarm"
TODDLER = AgeSpan(months(12), months(18))


@pytest.mark.parametrize(
    ("low", "high", "share"),
    [
        (None, None, 0.0),
        (88, None, 0.01),
        (103, None, 0.10),
        (None, 140, 0.10),
        (None, 156, 0.01),
        (88, 156, 0.02),
        (103, 140, 0.20),
        (123, 123, 1.00),
    ],
)
def test_the_share_is_what_lies_below_the_low_and_above_the_high_limit(
    low: float | None, high: float | None, share: float
) -> None:
    found = arrival_share(TABLE, "heart-rate", TODDLER, low, high)

    assert found is not None
    assert found.mean == pytest.approx(share)
    assert found.worst == pytest.approx(share)


def test_the_mean_is_over_days_and_the_worst_has_its_age() -> None:
    """High 140: the 90th centile at 12-18 months (183 whole days), under 1 % at 18-24 (183)."""
    found = arrival_share(TABLE, "heart-rate", AgeSpan(months(12), months(24)), None, 140)
    older = arrival_share(TABLE, "heart-rate", AgeSpan(months(18), months(24)), None, 140)

    assert found is not None
    assert older is not None
    first = AgeSpan(months(12), months(18)).whole_days()
    second = AgeSpan(months(18), months(24)).whole_days()
    assert found.mean == pytest.approx((0.10 * first + older.mean * second) / (first + second))
    assert found.worst == pytest.approx(0.10)
    assert found.worst_age == years(1)
    assert (found.days, found.all_days) == (first + second, first + second)


def test_the_day_of_birth_has_a_row_of_its_own() -> None:
    """Low 107: the 10th centile at birth, the 1st from the next day on."""
    found = arrival_share(TABLE, "heart-rate", AgeSpan(BIRTH, days(28)), 107, None)

    assert found is not None
    assert found.mean == pytest.approx((0.10 + 27 * 0.01) / 28)
    assert found.worst_age == BIRTH


def test_only_days_that_the_table_knows_make_the_mean() -> None:
    found = arrival_share(TABLE, "heart-rate", AgeSpan(years(15), years(20)), 58, None)

    assert found is not None
    assert found.mean == pytest.approx(0.10)
    assert found.days == AgeSpan(years(15), years(18)).whole_days()
    assert found.all_days == AgeSpan(years(15), years(20)).whole_days()


def test_no_published_centile_is_no_share() -> None:
    assert arrival_share(TABLE, "heart-rate", AgeSpan(years(18), None), 60, None) is None


# --- the rule


def noisy(
    settings: dict[str, Any], ages: tuple[str, str | None] = ("12 mo", "18 mo")
) -> list[Finding]:
    return found_by(RULE, profile_of(settings, ages))


@pytest.mark.parametrize(
    ("limit", "told"),
    [(102, False), (103, True), (104, True)],  # the 10th centile is 103
)
def test_a_tenth_outside_is_noted(limit: float, told: bool) -> None:
    found = noisy({"heart-rate-low": on(limit)})

    assert bool(found) is told
    assert all(finding.severity is Severity.NOTE for finding in found)


def test_a_note_says_what_it_measured() -> None:
    (finding,) = noisy({"heart-rate-low": on(103), "heart-rate-high": on(140)})

    assert finding.alarms == ("heart-rate-low", "heart-rate-high")
    assert finding.measured["mean_share"] == pytest.approx(0.20)
    assert finding.measured["worst_share"] == pytest.approx(0.20)
    assert finding.measured["worst_age"] == "1 y"
    assert finding.ages is not None
    assert finding.ages.words() == ["1 y", "18 mo"]
    assert "Fleming 2011" in finding.source


def test_an_alarm_that_is_off_makes_no_noise() -> None:
    assert noisy({"heart-rate-low": OFF}) == []


def test_each_vital_sign_is_told_by_itself() -> None:
    same = {"heart-rate-low": on(110), "pulse-rate-low": on(110)}
    different = {"heart-rate-low": on(110), "pulse-rate-low": on(111)}

    assert [f.alarms for f in noisy(same)] == [("heart-rate-low",), ("pulse-rate-low",)]
    assert [f.alarms for f in noisy(different)] == [("heart-rate-low",), ("pulse-rate-low",)]


def test_a_vital_sign_without_a_table_is_not_judged() -> None:
    assert noisy({"spo2-low": on(99)}) == []


def test_an_own_table_speaks_alone_for_the_vital_signs_that_it_holds() -> None:
    row = CentileRow("heart-rate", "all", AgeSpan(BIRTH, None), (1, 99), (20, 300))
    own = with_own_table(CentileTable("our own", "own table", (row,)))
    settings_ = {"heart-rate-low": on(120), "respiratory-rate-low": on(40)}
    profile = parse_profile(json.dumps(document({"child": ("12 mo", "18 mo", settings_)})))

    by_own = [f for f in check(profile, own) if f.rule == RULE]
    by_published = [f for f in check(profile, PUBLISHED) if f.rule == RULE]

    assert [f.alarms for f in by_own] == [("heart-rate-low",), ("respiratory-rate-low",)]
    assert by_own[0].source == "our own"
    assert by_own[0].measured != by_published[0].measured
    assert by_own[1] == by_published[1]


@settings(max_examples=60, deadline=None)
@given(
    low=st.integers(20, 200),
    high=st.integers(20, 250),
    by=st.integers(0, 60),
    start=st.integers(0, 200),
    length=st.integers(1, 60),
)
def test_tighter_never_shrinks_alarm_on_arrival(
    low: int, high: int, by: int, start: int, length: int
) -> None:
    ages = AgeSpan(months(start), months(start + length))

    before = arrival_share(TABLE, "heart-rate", ages, low, high)
    after = arrival_share(TABLE, "heart-rate", ages, low + by, high - by)

    assert before is not None
    assert after is not None
    assert after.mean >= before.mean - 1e-12
    assert after.worst >= before.worst - 1e-12
