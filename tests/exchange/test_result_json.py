"""What the commands print, held against the shapes that they publish."""

import json
from datetime import UTC, datetime

import pytest
from jsonschema import Draft202012Validator

from app.domain.ages import AgeSpan, days
from app.domain.audit import ReadingRow, audit
from app.domain.device_reports import StateRead
from app.domain.findings import Finding, Severity
from app.exchange.profile_json import profile_from_document
from app.exchange.result_json import (
    AuditShape,
    CheckShape,
    ReplayShape,
    audit_json,
    check_json,
    counts_json,
)
from tests.domain.presets import read
from tests.worked_profiles import five_categories


def finding(severity: Severity, ages: AgeSpan | None = None) -> Finding:
    return Finding("silent-gap", severity, "infant", ("spo2-low",), ages, "Words.", "PEWS")


@pytest.mark.parametrize(
    ("ages", "written"),
    [
        (None, None),
        (AgeSpan(days(0), days(28)), ["0 d", "28 d"]),
        (AgeSpan(days(28), None), ["28 d", None]),
    ],
)
def test_ages_are_two_words_or_nothing(ages: AgeSpan | None, written: object) -> None:
    result = check_json("f" * 64, "own", [finding(Severity.NOTE, ages)])

    assert result["findings"][0]["ages"] == written
    Draft202012Validator(CheckShape.model_json_schema()).validate(json.loads(json.dumps(result)))


def test_every_severity_is_counted_the_empty_ones_too() -> None:
    findings = [finding(Severity.NOTE), finding(Severity.UNSAFE), finding(Severity.NOTE)]

    assert counts_json(findings) == {"unsafe": 1, "off-protocol": 0, "note": 2}


def test_times_are_utc_with_a_z() -> None:
    profile = profile_from_document(five_categories())
    at = datetime(2026, 3, 1, 8, 0, 0, 500_000, tzinfo=UTC)
    row = ReadingRow(2, "boat-3", at, StateRead.POWER_ON, "adult", "spo2-low", read(80))

    result = audit_json(audit(profile, [row]))

    assert result["deviations"][0]["read_at"] == "2026-03-01T08:00:00.500000Z"
    Draft202012Validator(AuditShape.model_json_schema()).validate(json.loads(json.dumps(result)))


@pytest.mark.parametrize("shape", [CheckShape, AuditShape, ReplayShape])
def test_a_shape_lets_nothing_else_through(shape: type[CheckShape]) -> None:
    assert shape.model_json_schema()["additionalProperties"] is False
