"""What somebody must act on in the fleet."""

from datetime import datetime

from fastapi import APIRouter
from pydantic import BaseModel, Field

from app.api.access import Member, Now, Reading, problems
from app.domain.permissions import Deed, check_may
from app.lookups.findings import FindingPage
from app.lookups.findings import findings as not_closed

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
    summary="Findings that are not closed",
    responses=problems(
        _401="Nobody is signed in.", _404="No such agency.", _422="The address is malformed."
    ),
)
def open_findings(person: Member, tx: Reading, now: Now) -> list[FleetFindingShape]:
    """The gravest first, then by what is due first."""
    check_may(person, Deed.SEE_FLEET)
    return [_shape(page) for page in not_closed(tx, agency_id=person.agency_id, now=now)]


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
