"""How far a revision has reached the devices."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from app.api.access import Member, Now, Reading, problems
from app.domain.changeover_jobs import DeviceJobs
from app.domain.permissions import Deed, check_may
from app.lookups.changeover_jobs import Changeover, changeover

router = APIRouter(tags=["fleet"])
MOST = 500


class JobShape(BaseModel):
    preset: str = Field(description="`*`: the options that the policy states.")
    state: str = Field(description="In words, e.g. verified, holds already, not read since.")
    done: bool
    report: int | None = Field(description="The report that tells.")
    read_at: datetime | None


class DeviceJobsShape(BaseModel):
    device: str
    station: str
    model: str
    done: bool
    missed: bool = Field(description="The changeover is over and it is not verified.")
    verified_at: datetime | None
    jobs: list[JobShape] = Field(
        description="One a preset, and one for its options; empty: the revision has none for it."
    )


class PointShape(BaseModel):
    days: int
    verified: int
    share: float


class TargetShape(BaseModel):
    share: float
    days: int
    reached_in_days: int | None
    missed: bool


class ChangeoverShape(BaseModel):
    revision: int | None = Field(description="Null: nothing is in force or signed for later.")
    in_force_at: datetime | None
    devices: int = Field(description="On which there is anything to do.")
    points: list[PointShape]
    targets: list[TargetShape]
    matching: int = Field(description="Devices at that station, whatever is left to do on them.")
    jobs: list[DeviceJobsShape] = Field(description="What needs somebody first; a page of them.")


@router.get(
    "/{agency}/changeover",
    summary="What a revision asks of every device, and how far it is",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency, or the revision neither is in force nor comes into force later.",
        _422="A number is out of reach.",
    ),
)
def changeover_jobs(
    person: Member,
    tx: Reading,
    now: Now,
    revision: Annotated[int | None, Query(ge=1, le=2**31, description="A number.")] = None,
    station: Annotated[str, Query(max_length=200)] = "",
    after: Annotated[int, Query(ge=0, description="How many devices to leave out.")] = 0,
) -> ChangeoverShape:
    """At most 500 devices at a time."""
    check_may(person, Deed.SEE_FLEET)
    found = changeover(tx, agency_id=person.agency_id, now=now, number=revision)
    told = [one for one in found.devices if station in ("", one.device.station)]
    line = found.revision
    return ChangeoverShape(
        revision=None if line is None else line.number,
        in_force_at=None if line is None else line.in_force_at,
        devices=found.curve.devices,
        points=[PointShape(**vars(point)) for point in found.curve.points],
        targets=[
            TargetShape(
                share=one.share, days=one.days, reached_in_days=one.reached, missed=one.missed
            )
            for one in found.curve.targets
        ],
        matching=len(told),
        jobs=[_shape(found, one) for one in told[after : after + MOST]],
    )


def _shape(found: Changeover, told: DeviceJobs) -> DeviceJobsShape:
    return DeviceJobsShape(
        device=told.device.tag,
        station=told.device.station,
        model=told.device.model,
        done=told.done,
        missed=found.overdue and not told.done,
        verified_at=told.verified_at,
        jobs=[
            JobShape(
                preset=job.preset,
                state=job.state.value,
                done=job.state.done,
                report=job.report,
                read_at=job.read_at,
            )
            for job in told.jobs
        ],
    )
