"""The outer bounds that judge an agency's policy now."""

from datetime import datetime

from fastapi import APIRouter
from pydantic import BaseModel, Field

from app.api.access import Member, Now, Reading, problems
from app.domain.outer_bounds import OuterBound
from app.domain.permissions import Deed, check_may
from app.exchange.bounds_csv import written_formula
from app.lookups.outer_bounds import agency_bounds

router = APIRouter(tags=["policy"])


class OuterBoundShape(BaseModel):
    vital_sign: str = Field(description="Or apnoea, airway-apnoea: seconds.")
    ages: list[str | None] = Field(description="From (included) and to (not); null is open.")
    when: str | None = Field(description="Only under this circumstance.")
    side: str
    bound: str = Field(description="A number, or base + per-year * age_years.")
    grade: str
    source: str
    status: str


class OuterBoundsShape(BaseModel):
    """`number` and what follows are null while the default judges, which nobody adopted."""

    name: str
    number: int | None
    fingerprint: str | None = Field(description="SHA-256 of the CSV file that was signed.")
    in_force_at: datetime | None
    rows: list[OuterBoundShape]


@router.get(
    "/{agency}/outer-bounds/in-force",
    summary="The outer bounds in force now",
    responses=problems(_401="Nobody is signed in.", _404="No such agency."),
)
def outer_bounds_in_force(person: Member, tx: Reading, now: Now) -> OuterBoundsShape:
    """The agency's own, or the default by its name."""
    check_may(person, Deed.SEE_POLICY)
    found = agency_bounds(tx, agency_id=person.agency_id, now=now)
    held = found.version
    return OuterBoundsShape(
        name=found.in_force.name,
        number=None if held is None else held.number,
        fingerprint=None if held is None else held.fingerprint,
        in_force_at=None if held is None else held.in_force_at,
        rows=[_row(row) for row in found.in_force.rows],
    )


def _row(row: OuterBound) -> OuterBoundShape:
    return OuterBoundShape(
        vital_sign=row.quantity,
        ages=row.span.words(),
        when=row.when,
        side=row.side,
        bound=written_formula(row),
        grade=row.grade,
        source=row.source,
        status=row.status,
    )
