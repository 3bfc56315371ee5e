"""Two whole policies, every silent gap written out and argued.

The sensible one of five categories: neonate heart rate 100-200, respiratory rate 25-70, SpO2
89-95, systolic 50 · infant 90-180, 20-60, 90, 65 · 1-5 years 75-170, 15-50, 90, 75 · 5-13 years
60-150, 12-40, 90, 80 · 13 years and over 45-140, 8-35, 88, 90.
The wide one: a single band from 1 to 13 years at 50-180, 8-60, SpO2 85, systolic 70.
"""

import json
from typing import Any

from app.domain.findings import Finding, Severity
from app.domain.rules import check
from app.exchange.profile_json import parse_profile
from tests.worked_profiles import five_categories, one_wide_band


def gaps(document: dict[str, Any]) -> list[tuple[object, ...]]:
    """(severity, category, alarm, first and last silent value, from age, to age)."""
    return [_gap(f) for f in _findings(document) if f.rule == "silent-gap"]


def _findings(document: dict[str, Any]) -> list[Finding]:
    return check(parse_profile(json.dumps(document)))


def _gap(finding: Finding) -> tuple[object, ...]:
    assert finding.ages is not None
    (alarm,) = finding.alarms
    reach = (finding.measured["silent_from"], finding.measured["silent_to"])
    return (finding.severity.value, finding.category, alarm, *reach, *finding.ages.words())


def test_the_five_categories_have_one_unsafe_gap_and_nine_of_caution() -> None:
    assert gaps(five_categories()) == [
        # The one unsafe: PALS calls systolic below 70 hypotension from 28 days on, 65 lets
        # 65 to 69 pass.
        ("unsafe", "infant", "nibp-systolic-low", 65, 69, "28 d", "1 y"),
        # PEWS scores 4 from 180; most healthy newborns stay below, but the 99th centile at 0-3
        # months is 181, so 200 is a choice that a director may make: a note.
        ("note", "neonate", "heart-rate-high", 181, 200, "0 d", "28 d"),
        # PALS puts a newborn's hypotension below 60, PEWS scores 4 only below 50.
        ("note", "neonate", "nibp-systolic-low", 50, 59, "0 d", "28 d"),
        # 70 + 2 × age passes 75 at two and a half years and reaches 80 at five.
        ("note", "young-child", "nibp-systolic-low", 75, 79, "30 mo", "5 y"),
        # 70 + 2 × age is 80 at five and 90 at ten, and stays 90 to thirteen; danger is below 80.
        ("note", "child", "nibp-systolic-low", 80, 89, "5 y", "13 y"),
        # PEWS scores 4 below 50 up to sixteen; the adult bound is 40.
        ("note", "adult", "heart-rate-low", 45, 49, "13 y", "16 y"),
        # 130 is caution for adolescents (PEWS) and adults (NEWS2 scores 3 from 131); danger 150.
        ("note", "adult", "heart-rate-high", 131, 140, "13 y", None),
        # PEWS scores 4 below 10 up to sixteen; the adult bound is 8.
        ("note", "adult", "respiratory-rate-low", 8, 9, "13 y", "16 y"),
        # Emergency teams are called above 30 from sixteen on; danger is above 36.
        ("note", "adult", "respiratory-rate-high", 31, 35, "16 y", None),
        # 88 is the lower end of the hypercapnic target, 90 the ordinary bound.
        ("note", "adult", "spo2-low", 88, 89, "13 y", None),
    ]


def test_the_five_categories_are_otherwise_sound() -> None:
    """No gap in the scheme, no crossed limit, no alarm that a tenth of the healthy would sound;
    what is left is that the file is silent on most alarms."""
    rules = {finding.rule for finding in _findings(five_categories())}

    assert rules == {"silent-gap", "alarm-unstated"}


def test_one_wide_band_has_six_unsafe_gaps() -> None:
    assert gaps(one_wide_band()) == [
        # Danger below 60 up to eight years; from eight on it is 50, which 50 closes.
        ("unsafe", "child", "heart-rate-low", 50, 59, "1 y", "8 y"),
        # 180 closes the bound of 1-5 years, but from five on danger begins above 160.
        ("unsafe", "child", "heart-rate-high", 161, 180, "5 y", "13 y"),
        # PEWS scores 4 below 10 at every age up to thirteen.
        ("unsafe", "child", "respiratory-rate-low", 8, 9, "1 y", "13 y"),
        # 60 is right to five years, then danger begins above 50.
        ("unsafe", "child", "respiratory-rate-high", 51, 60, "5 y", "13 y"),
        # 70 is the bound to five years, then 80.
        ("unsafe", "child", "nibp-systolic-low", 70, 79, "5 y", "13 y"),
        # Below 88 is danger from 28 days on.
        ("unsafe", "child", "spo2-low", 85, 87, "1 y", "13 y"),
    ]


def test_one_wide_band_leaves_the_rest_of_life_without_limits() -> None:
    told = [
        (f.rule, f.severity, str(f.ages))
        for f in _findings(one_wide_band())
        if f.rule not in ("silent-gap", "alarm-unstated")
    ]

    assert told == [
        ("category-gap", Severity.UNSAFE, "0 d to 1 y"),
        ("category-gap", Severity.UNSAFE, "13 y and over"),
    ]
