"""Work that is done outside requests, for the programs that asked for it."""

from datetime import datetime

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field

from app.api.access import Fault, Member, Reading, problems
from app.domain.long_work import LongWork
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.lookups.long_work import work_seen_by

router = APIRouter(tags=["fleet"])
ASK_AGAIN_S = 5


class WorkShape(BaseModel):
    work: int = Field(description="Ask for it at /work/{work}.")
    kind: str = Field(description="take-in-readings or re-audit")
    state: str = Field(description="waiting, running, done or failed")
    asked_at: datetime
    began_at: datetime | None = None
    ended_at: datetime | None = None
    outcome: dict[str, int] | None = Field(
        default=None, description="What came of it, once it is done: counts by name."
    )
    detail: str | None = Field(default=None, description="Why it failed; nothing was stored then.")
    errors: list[Fault] = Field(default=[], description="What is wrong with the input, if it is.")


@router.get(
    "/{agency}/work/{work}",
    summary="Long work: how far it is, and what came of it",
    responses=problems(
        _401="Nobody is signed in, or the token does not work.",
        _403="The person or the token may not.",
        _404="No such agency or work.",
    ),
)
def get_work(person: Member, tx: Reading, work: int) -> WorkShape:
    """It stays there when the service restarts. A failed one has stored nothing."""
    check_may(person, Deed.SEE_WORK)
    return shape_of(work_seen_by(tx, number=work, person=person))


def accepted(request: Request, person: Person, number: int) -> Response:
    """202, and where to ask for it."""
    with request.app.state.database.reading() as tx:
        shape = shape_of(work_seen_by(tx, number=number, person=person))
    headers = {
        "Location": f"/api/v1/{person.agency}/work/{number}",
        "Retry-After": str(ASK_AGAIN_S),
    }
    return JSONResponse(shape.model_dump(mode="json"), status_code=202, headers=headers)


def shape_of(work: LongWork) -> WorkShape:
    failure = work.failure
    faults = () if failure is None else failure.faults
    return WorkShape(
        work=work.id,
        kind=work.kind.value,
        state=work.state.value,
        asked_at=work.asked_at,
        began_at=work.began_at,
        ended_at=work.ended_at,
        outcome=work.outcome,
        detail=None if failure is None else failure.message,
        errors=[Fault(line=one.line, column=one.column, reason=one.reason) for one in faults],
    )
