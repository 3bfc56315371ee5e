"""What was read on devices, sent in by programs: one report, or a file of many."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Header
from pydantic import BaseModel, Field

from app.actions.report_files import take_file
from app.actions.reports import record_report
from app.api.access import Member, Now, Writing, problems
from app.api.bodies import CSV, JSON, body_of, described, schema_of
from app.domain.fleet import StoredReport
from app.domain.permissions import Deed, check_may
from app.exchange.report_files import fingerprint_of
from app.exchange.report_json import ReportFile, read_report

router = APIRouter(tags=["fleet"])
REFUSALS = problems(
    _401="Nobody is signed in.",
    _403="The person may not, or the request comes from another site.",
    _404="No such agency or device.",
    _409="Another report has this key, or this device, preset, state and time.",
    _413="The body is too large.",
    _415="The body is of another kind.",
    _422="The input is wrong: each fault by line and column. Nothing was stored.",
)
REPORT_EXAMPLE = {
    "device": "boat-3",
    "preset": "CHILD",
    "state_read": "power-on",
    "read_at": "2026-03-01T08:00:00Z",
    "readings": {
        "heart-rate-low": {"state": "on", "limit": 90, "priority": "medium"},
        "temperature-high": {"state": "off"},
        "spo2-low": {"state": "could-not-read", "why": "display cracked"},
    },
    "software": "4.1",
    "trigger": "After service",
    "minutes_off": 10,
}
CSV_EXAMPLE = (
    "device,read_at,state_read,preset,alarm,reading\n"
    "boat-3,2026-03-01T08:00:00Z,power-on,CHILD,heart-rate-low,90\n"
)


class DeviationShape(BaseModel):
    alarm: str
    direction: str = Field(description="looser, tighter, switched-off, switched-on, other, unread")
    severity: str = Field(description="unsafe, off-protocol or note")


class ReportShape(BaseModel):
    id: int
    device: str
    preset: str
    state_read: str
    read_at: datetime
    received_at: datetime
    revision: int | None = Field(description="The one it was judged by; None: none was in force.")
    deviations: list[DeviationShape]


class TakenShape(BaseModel):
    fingerprint: str = Field(description="SHA-256 of the file.")
    new: int = Field(description="Reports that were stored.")
    known: int = Field(description="Reports that were stored before and left alone.")
    readings: int = Field(description="Of the new reports.")


@router.post(
    "/{agency}/reports",
    status_code=201,
    summary="Send in one device report",
    responses=REFUSALS,
    openapi_extra=described(JSON, schema_of(ReportFile), REPORT_EXAMPLE),
)
def add_report(
    person: Member,
    raw: Annotated[bytes, Depends(body_of(JSON))],
    tx: Writing,
    now: Now,
    idempotency_key: Annotated[
        str,
        Header(min_length=1, max_length=200, description="The same key is the same report."),
    ],
) -> ReportShape:
    """Judged at once. It opens and refreshes findings, and verifies none: it is not known to be
    a blind reading. The same report again, by its key, changes nothing and gives the first one."""
    check_may(person, Deed.READ_DEVICE)
    report = read_report(raw, idempotency_key=idempotency_key, now=now)
    return _shape(record_report(tx, report=report, by=person, now=now))


@router.post(
    "/{agency}/readings",
    summary="Send in a file of readings",
    responses=REFUSALS,
    openapi_extra=described(CSV, {"type": "string"}, CSV_EXAMPLE),
)
def add_readings(
    person: Member, raw: Annotated[bytes, Depends(body_of(CSV))], tx: Writing, now: Now
) -> TakenShape:
    """One reading a row; taken whole or not at all. The same file again changes nothing."""
    taken = take_file(tx, content=raw, by=person, now=now)
    return TakenShape(
        fingerprint=fingerprint_of(raw),
        new=taken.new,
        known=taken.known,
        readings=taken.readings,
    )


def _shape(report: StoredReport) -> ReportShape:
    return ReportShape(
        id=report.id,
        device=report.device,
        preset=report.preset,
        state_read=report.state_read.value,
        read_at=report.read_at,
        received_at=report.received_at,
        revision=report.revision,
        deviations=[
            DeviationShape(alarm=alarm, direction=direction.value, severity=severity.value)
            for alarm, (direction, severity) in report.verdicts.items()
        ],
    )
