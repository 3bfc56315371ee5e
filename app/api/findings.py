"""What somebody must act on in the fleet."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from app.api.access import Member, Now, Reading, problems
from app.domain.finding_life import FindingStatus
from app.domain.findings import Severity
from app.domain.permissions import Deed, check_may
from app.lookups.findings import NOT_CLOSED, FindingPage, findings

router = APIRouter(tags=["fleet"])


class FleetFindingShape(BaseModel):
    id: int
    device: str
    preset: str
    alarm: str
    severity: str = Field(description="unsafe, off-protocol or note")
    status: str
    read_at: datetime = Field(description="When the device was read that shows it last.")
    opened_at: datetime
    due_at: datetime | None
    overdue: bool
    hint: str | None = Field(description="What it may have come from; never a verdict.")


@router.get(
    "/{agency}/findings",
    summary="Findings, unless asked otherwise those that are not closed",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency.",
        _422="There is no such status or severity.",
    ),
)
def chosen_findings(
    person: Member,
    tx: Reading,
    now: Now,
    status: Annotated[list[FindingStatus] | None, Query(description="May be repeated.")] = None,
    severity: Annotated[list[Severity] | None, Query(description="May be repeated.")] = None,
    device: Annotated[str | None, Query(max_length=200, description="A device's tag.")] = None,
) -> list[FleetFindingShape]:
    """The gravest first, then by what is due first."""
    check_may(person, Deed.SEE_FLEET)
    found = findings(
        tx,
        agency_id=person.agency_id,
        now=now,
        statuses=status or NOT_CLOSED,
        severities=severity or tuple(Severity),
        device=device,
    )
    return [_shape(page) for page in found]


def _shape(page: FindingPage) -> FleetFindingShape:
    finding = page.finding
    return FleetFindingShape(
        id=finding.id,
        device=finding.device,
        preset=finding.preset,
        alarm=finding.alarm,
        severity=finding.severity.value,
        status=finding.status.value,
        read_at=page.latest.report.read_at,
        opened_at=finding.opened_at,
        due_at=finding.due_at,
        overdue=page.overdue,
        hint=page.line.hint,
    )
