"""The crew for programs: who has seen a revision, and what drills say of it."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Path, Query
from pydantic import BaseModel, ConfigDict, Field

from app.actions.acknowledgements import acknowledge
from app.api.access import Member, Now, Reading, Writing, problems
from app.domain.drill_results import CaseResult
from app.domain.permissions import Deed, check_may
from app.domain.seen_revisions import Reach, Said
from app.exchange.shift_check_json import QueuedFile
from app.lookups.drills import practised
from app.lookups.seen_revisions import reach_of

router = APIRouter(tags=["crew"])
Number = Annotated[int, Path(ge=1, le=1_000_000, description="The revision's number.")]


class StationShape(BaseModel):
    station: str = Field(description="Named by each person when last asked.")
    people: int
    seen: int
    missing: list[str] = Field(description="Names of those who have not seen it.")


class ReachShape(BaseModel):
    """How far the word of a revision has gone among the crew."""

    revision: int
    people: int
    seen: int
    seen_before_in_force: int
    in_force_at: datetime
    all_by: datetime = Field(description="When everybody should have seen it.")
    stations: list[StationShape]


class SeenBody(BaseModel):
    model_config = ConfigDict(extra="forbid", json_schema_extra={"example": {"station": "North"}})

    station: str = Field(max_length=200, description="The station at which you work now.")
    reader: str = Field(
        default="",
        max_length=200,
        description="Whoever was signed in when it was said: nobody else sends it.",
    )
    queued: QueuedFile | None = Field(default=None, description="None: it is of this moment.")

    @property
    def said(self) -> Said | None:
        return None if self.queued is None else Said(self.reader, self.queued.clock)


class CaseShape(BaseModel):
    case: str
    kind: str
    question: str
    answer: str = Field(description="What the policy says.")
    asked: int
    right: int
    low: float = Field(description="Lower end of the 95 % interval of the share (Wilson).")
    high: float
    instead: dict[str, int] = Field(description="What was taken for the answer, how often.")


class PracticeShape(BaseModel):
    """By case, the worst first; nobody's name is kept."""

    revision: int
    drills: int
    cases: list[CaseShape]


@router.get(
    "/{agency}/revisions/{number}/acknowledgements",
    summary="Who of the crew has seen a revision",
    responses=problems(
        _401="Sign in or send a token.",
        _403="The educator, the quality officer and the medical director may see it.",
        _404="There is no signed revision with this number.",
    ),
)
def acknowledgements(person: Member, tx: Reading, number: Number) -> ReachShape:
    """By station, with the names of those who have not. A station is the one last named."""
    check_may(person, Deed.SEE_REACH)
    return _reach(number, reach_of(tx, agency_id=person.agency_id, number=number))


@router.post(
    "/{agency}/revisions/{number}/acknowledgements",
    status_code=204,
    summary="Say that you have seen a revision",
    responses=problems(
        _401="Sign in first.",
        _403="A program has seen nothing.",
        _404="There is no such revision.",
        _409="It is not signed.",
        _422="The station is missing.",
    ),
)
def see(person: Member, tx: Writing, now: Now, number: Number, body: SeenBody) -> None:
    """Said once; again changes nothing."""
    acknowledge(tx, revision=number, station=body.station, by=person, now=now, said=body.said)


@router.get(
    "/{agency}/practice",
    summary="What drills say of the policy, by case",
    responses=problems(
        _401="Sign in or send a token.",
        _404="There is no such signed revision.",
        _409="No revision is in force.",
    ),
)
def practice(
    person: Member,
    tx: Reading,
    now: Now,
    revision: Annotated[
        int | None, Query(ge=1, le=1_000_000, description="Without it, the one in force.")
    ] = None,
) -> PracticeShape:
    """The cases that go wrong most often come first."""
    check_may(person, Deed.SEE_POLICY)
    found = practised(tx, agency_id=person.agency_id, number=revision, now=now)
    return PracticeShape(
        revision=found.revision.number,
        drills=found.results.drills,
        cases=[_case(one) for one in found.results.cases],
    )


def _case(one: CaseResult) -> CaseShape:
    interval = one.interval
    return CaseShape(
        case=one.case.key,
        kind=one.case.kind.value,
        question=one.case.question,
        answer=one.case.label_of(one.case.right),
        asked=one.asked,
        right=one.right,
        low=interval.low,
        high=interval.high,
        instead=dict(one.instead),
    )


def _reach(number: int, reach: Reach) -> ReachShape:
    return ReachShape(
        revision=number,
        people=reach.people,
        seen=reach.seen,
        seen_before_in_force=reach.before,
        in_force_at=reach.in_force_at,
        all_by=reach.all_by,
        stations=[
            StationShape(
                station=one.station, people=one.people, seen=one.seen, missing=list(one.missing)
            )
            for one in reach.stations
        ],
    )
