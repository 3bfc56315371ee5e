"""What the file commands print as JSON: the shapes, their schema, and how they are filled."""

from collections.abc import Sequence
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from app.domain.audit import Audit, DeviceDeviation
from app.domain.findings import Finding, Severity
from app.exchange.deviation_words import found_value, signed_value

SeverityWord = Literal["unsafe", "off-protocol", "note"]
Plain = int | float | str


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid")


class FindingShape(_Shape):
    rule: str
    severity: SeverityWord
    category: str | None
    alarms: list[str]
    ages: list[str | None] | None
    measured: dict[str, Any]
    message: str
    source: str


class CheckShape(_Shape):
    model_config = ConfigDict(title="Result of marchstone check", extra="forbid")
    fingerprint: str
    bounds: str
    findings: list[FindingShape]
    counts: dict[SeverityWord, int]


class DeviationShape(_Shape):
    device: str
    preset: str
    alarm: str
    signed: Plain | None
    found: Plain
    direction: Literal["looser", "tighter", "switched-off", "switched-on", "other", "unread"]
    severity: SeverityWord
    hint: str | None
    read_at: str


class ConformityShape(_Shape):
    holds: int
    differs: int
    not_judged: int
    fleet: int | None
    low: float
    high: float
    method: str


class AuditShape(_Shape):
    model_config = ConfigDict(title="Result of marchstone audit", extra="forbid")
    fingerprint: str
    readings: int
    deviations: list[DeviationShape]
    conformity: ConformityShape


class AlarmLoadShape(_Shape):
    alarm: str
    count: int
    per_patient_hour: float
    seconds_in_alarm: float
    patients_with_alarm: int


class AllAlarmsShape(_Shape):
    count: int
    per_patient_hour: float
    seconds_in_alarm: float
    patients_with_alarm: int


class ReplayShape(_Shape):
    model_config = ConfigDict(title="Result of marchstone replay", extra="forbid")
    patient_hours: float
    patients: int
    alarms: list[AlarmLoadShape]
    all: AllAlarmsShape
    not_replayed: list[str]
    circumstance: str = Field(default="", description="Only where one was asked for.")
    synthetic: str = Field(
        default="", description="Only where the patients are invented: how, and what is assumed."
    )


def finding_json(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "severity": finding.severity.value,
        "category": finding.category,
        "alarms": list(finding.alarms),
        "ages": None if finding.ages is None else finding.ages.words(),
        "measured": dict(finding.measured),
        "message": finding.message,
        "source": finding.source,
    }


def counts_json(findings: Sequence[Finding]) -> dict[str, int]:
    return {
        severity.value: sum(finding.severity is severity for finding in findings)
        for severity in Severity
    }


def check_json(fingerprint: str, bounds: str, findings: Sequence[Finding]) -> dict[str, Any]:
    return {
        "fingerprint": fingerprint,
        "bounds": bounds,
        "findings": [finding_json(finding) for finding in findings],
        "counts": counts_json(findings),
    }


def audit_json(audit: Audit) -> dict[str, Any]:
    conformity = audit.conformity
    return {
        "fingerprint": audit.fingerprint,
        "readings": audit.readings,
        "deviations": [_deviation_json(found) for found in audit.deviations],
        "conformity": {
            "holds": conformity.holds,
            "differs": conformity.differs,
            "not_judged": conformity.not_judged,
            "fleet": conformity.fleet,
            "low": conformity.share.low,
            "high": conformity.share.high,
            "method": conformity.share.method,
        },
    }


def _deviation_json(found: DeviceDeviation) -> dict[str, Any]:
    deviation = found.deviation
    return {
        "device": found.device,
        "preset": found.preset,
        "alarm": deviation.alarm,
        "signed": signed_value(found),
        "found": found_value(found),
        "direction": deviation.direction.value,
        "severity": deviation.severity.value,
        "hint": found.hint,
        "read_at": found.read_at.isoformat().replace("+00:00", "Z"),
    }
