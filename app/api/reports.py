"""What was read on devices, sent in by programs: one report, or a file of many."""

import hashlib
import json
from datetime import datetime
from typing import Annotated, Any, BinaryIO

from fastapi import APIRouter, Depends, Header, Request
from pydantic import BaseModel, Field, TypeAdapter

from app.actions.answered_requests import once
from app.actions.long_work import ask_to_take, is_long, pack
from app.actions.report_files import read_file, take_file
from app.actions.reports import record_report
from app.api.access import Member, Now, Writing, problems
from app.api.bodies import CSV, JSON, NDJSON, XLSX, body_of, described, file_of, schema_of
from app.api.long_work import WorkShape, accepted
from app.domain.fleet import StoredReport
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.report_files import fingerprint_of
from app.exchange.report_json import ReportFile, read_report, read_report_list

router = APIRouter(tags=["fleet"])
REFUSALS = problems(
    _401="Nobody is signed in, or the token does not work.",
    _403="The person or the token may not, or the request comes from another site.",
    _404="No such agency or device.",
    _409="Another report has this key, or this device, preset, state and time.",
    _413="The body is too large.",
    _415="The body is of another kind.",
    _429="This token asked too often: Retry-After tells the seconds to wait.",
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
    "/{agency}/reports/batch",
    status_code=201,
    summary="Send in several device reports",
    responses=REFUSALS,
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {
                JSON: {
                    "schema": {"type": "array", "items": schema_of(ReportFile)},
                    "example": [REPORT_EXAMPLE],
                },
                NDJSON: {"schema": {"type": "string"}, "example": json.dumps(REPORT_EXAMPLE)},
            },
        }
    },
)
def add_reports(
    person: Member,
    raw: Annotated[bytes, Depends(body_of(JSON, NDJSON))],
    tx: Writing,
    now: Now,
    idempotency_key: Annotated[
        str,
        Header(min_length=1, max_length=150, description="The same key is the same request."),
    ],
) -> list[ReportShape]:
    """A JSON array, or one report a line; all of them or none. The same again changes nothing."""
    check_may(person, Deed.READ_DEVICE)

    def do() -> str:
        found = read_report_list(raw, idempotency_key=idempotency_key, now=now)
        stored = [record_report(tx, report=one, by=person, now=now) for one in found]
        return _SHAPES.dump_json([_shape(one) for one in stored]).decode()

    fingerprint = _fingerprint("reports", hashlib.sha256(raw).hexdigest())
    key = f"batch:{idempotency_key}"
    return _SHAPES.validate_json(
        once(tx, key=key, fingerprint=fingerprint, by=person, now=now, do=do)
    )


_SHAPES = TypeAdapter(list[ReportShape])


def _fingerprint(*asked: str) -> str:
    return hashlib.sha256(" ".join(asked).encode()).hexdigest()


@router.post(
    "/{agency}/readings",
    summary="Send in a file of readings",
    response_model=TakenShape,
    responses={
        **REFUSALS,
        202: {"model": WorkShape, "description": "It is taken in later: ask at Location."},
    },
    openapi_extra=described(CSV, {"type": "string"}, CSV_EXAMPLE, also=XLSX),
)
def add_readings(
    request: Request,
    person: Member,
    content: Annotated[BinaryIO, Depends(file_of(CSV, XLSX))],
    now: Now,
    idempotency_key: Annotated[
        str,
        Header(max_length=150, description="May be left out. The same key is the same request."),
    ] = "",
) -> Any:
    """One reading a row, as CSV up to 256 MiB or XLSX up to 20 MiB; taken whole or not at all.
    The same file again changes nothing. A file of another system is read by its column map. A
    large one is taken in beside the requests: 202 then tells where to ask for what became of it."""
    if is_long(content):
        found = _asked_for(request, person, content, now, idempotency_key)
        return accepted(request, person, found) if isinstance(found, int) else found
    return _taken(request, person, content, now, idempotency_key)


def _taken(
    request: Request, person: Person, content: BinaryIO, now: datetime, key: str
) -> TakenShape:
    """Within the request."""
    database = request.app.state.database
    with database.reading() as tx:  # so long a file keeps nobody else from writing
        read = read_file(tx, content=content, by=person, now=now)
    with database.writing() as tx:

        def do() -> str:
            taken = take_file(tx, content=content, by=person, now=now, read=read)
            shape = TakenShape(
                fingerprint=read.fingerprint,
                new=taken.new,
                known=taken.known,
                readings=taken.readings,
            )
            return shape.model_dump_json()

        if not key:
            return TakenShape.model_validate_json(do())
        asked = _fingerprint("readings", read.fingerprint)
        return TakenShape.model_validate_json(
            once(tx, key=f"file:{key}", fingerprint=asked, by=person, now=now, do=do)
        )


def _asked_for(
    request: Request, person: Person, content: BinaryIO, now: datetime, key: str
) -> int | TakenShape:
    """The number of the work; or what was answered to this key, when such a file was taken in
    within the request."""
    check_may(person, Deed.UPLOAD_READINGS)
    fingerprint, stored = fingerprint_of(content), pack(content)
    with request.app.state.database.writing() as tx:

        def ask() -> str:
            work = ask_to_take(tx, content=stored, fingerprint=fingerprint, by=person, now=now)
            return json.dumps({"work": work})

        asked = _fingerprint("readings", fingerprint)
        told = json.loads(
            once(tx, key=f"file:{key}", fingerprint=asked, by=person, now=now, do=ask)
            if key
            else ask()
        )
    return told["work"] if "work" in told else TakenShape.model_validate(told)


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
