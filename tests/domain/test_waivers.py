from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from app.domain.ages import Age, AgeSpan
from app.domain.errors import Refused
from app.domain.findings import Finding, Severity
from app.domain.waivers import (
    Waiver,
    check_until,
    finding_key,
    unsafe_findings,
    void_waivers,
    waived_at,
)

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
SPAN = AgeSpan(Age.parse("1 y"), Age.parse("5 y"))
FINDING = Finding(
    rule="silent-gap",
    severity=Severity.UNSAFE,
    category="preschool",
    alarms=("heart-rate-high", "pulse-rate-high"),
    ages=SPAN,
    message="Heart rate can rise to 185 /min unannounced",
    source="AHA PALS",
    measured={"limit": 185, "bound": 180.0, "silent_to": 185},
)


def a_waiver(**instead: Any) -> Waiver:
    told: dict[str, Any] = {
        "finding": finding_key(FINDING),
        "rule": "silent-gap",
        "category": "preschool",
        "alarms": FINDING.alarms,
        "circumstance": "",
        "ages": "1 y to 5 y",
        "message": FINDING.message,
        "reason": "until the spring delivery",
        "by_name": "Dana",
        "waived_at": NOW,
        "until": date(2026, 6, 1),
    }
    return Waiver(**(told | instead))


@pytest.mark.parametrize(
    "edited",
    [
        {"rule": "delay-long"},
        {"category": "infant"},
        {"category": None},
        {"alarms": ("heart-rate-high",)},
        {"ages": AgeSpan(Age.parse("1 y"), Age.parse("4 y"))},
        {"ages": AgeSpan(Age.parse("1 y"), None)},
        {"ages": None},
        {"measured": {"limit": 186, "bound": 180.0, "silent_to": 186}},
        {"measured": {**FINDING.measured, "circumstance": "paced"}},
        {"measured": {**FINDING.measured, "preset": "dunlin SMALL"}},
    ],
)
def test_another_finding_has_another_key(edited: dict[str, Any]) -> None:
    assert finding_key(replace(FINDING, **edited)) != finding_key(FINDING)


@pytest.mark.parametrize(
    "edited",
    [
        {"message": "in other words"},
        {"source": "another edition"},
        {"severity": Severity.NOTE},
        {"measured": dict(list(FINDING.measured.items())[::-1])},
    ],
)
def test_its_words_do_not_make_it_another(edited: dict[str, Any]) -> None:
    assert finding_key(replace(FINDING, **edited)) == finding_key(FINDING)


def test_a_waiver_covers_exactly_its_finding() -> None:
    other = replace(FINDING, category="infant")
    note = replace(FINDING, severity=Severity.NOTE, rule="arrival-alarm")
    waiver = a_waiver()

    found = unsafe_findings([FINDING, other, note], [waiver])

    assert [(one.finding.category, one.waiver) for one in found] == [
        ("preschool", waiver),
        ("infant", None),
    ]


def test_a_waiver_without_its_finding_is_void() -> None:
    edited = replace(FINDING, measured={**FINDING.measured, "limit": 190})
    waiver, kept = a_waiver(), a_waiver(finding=finding_key(edited))

    found = unsafe_findings([edited], [waiver, kept])

    assert void_waivers(found, [waiver, kept]) == (waiver,)


@pytest.mark.parametrize(
    ("day", "holds"),
    [
        (date(2026, 5, 31), True),
        (date(2026, 6, 1), True),
        (date(2026, 6, 2), False),
    ],
)
def test_it_holds_to_the_end_of_its_last_day(day: date, holds: bool) -> None:
    (found,) = unsafe_findings([FINDING], [a_waiver()])

    assert found.is_waived_on(day) is holds


@pytest.mark.parametrize(
    ("waiver", "alarm", "circumstance", "shown"),
    [
        (a_waiver(), "heart-rate-high", "", True),
        (a_waiver(), "pulse-rate-high", "", True),
        (a_waiver(), "heart-rate-low", "", False),
        (a_waiver(category="infant"), "heart-rate-high", "", False),
        (a_waiver(category=None), "heart-rate-high", "", True),
        (a_waiver(), "heart-rate-high", "paced", True),
        (a_waiver(circumstance="paced"), "heart-rate-high", "paced", True),
        (a_waiver(circumstance="paced"), "heart-rate-high", "", False),
        (a_waiver(circumstance="paced"), "heart-rate-high", "on-oxygen", False),
    ],
)
def test_it_is_shown_where_its_limit_is(
    waiver: Waiver, alarm: str, circumstance: str, shown: bool
) -> None:
    assert bool(list(waived_at([waiver], "preschool", alarm, circumstance))) is shown


@pytest.mark.parametrize(
    ("until", "reason"),
    [
        (date(2026, 3, 1), "choose a day after today"),
        (date(2026, 3, 2), "choose a day after today"),
        (date(2026, 3, 3), None),
        (date(2029, 3, 2), None),
        (date(2029, 3, 3), "choose a day within 3 years"),
    ],
)
def test_its_last_day_is_after_today_and_within_three_years(
    until: date, reason: str | None
) -> None:
    if reason is None:
        check_until(until, today=NOW.date())
    else:
        with pytest.raises(Refused, match=reason):
            check_until(until, today=NOW.date())


def test_it_reads_as_a_sentence() -> None:
    assert a_waiver().words == "Waived by Dana until 1 Jun 2026: until the spring delivery"
