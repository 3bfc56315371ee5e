"""A finding on its way: contained, corrected, verified, closed, accepted for a time, spoken of."""

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from app.actions.device_findings import move_findings_of
from app.actions.finding_words import (
    accept_finding,
    assign_finding,
    comment_on_finding,
    withdraw_acceptance,
)
from app.actions.findings import move_finding
from app.actions.quarantines import place_in_quarantine
from app.api.access import Member, Now, Writing, problems
from app.api.findings import Number, WholeFindingShape, whole
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import Audible, FindingStatus
from app.domain.finding_steps import StepDetails
from app.domain.people import Person
from app.lookups.finding_stories import finding_story

router = APIRouter(tags=["fleet"])
REFUSALS = problems(
    _401="Nobody is signed in.",
    _403="The person may not, or the request comes from another site.",
    _404="No such agency, finding or device.",
    _409="Its state does not allow it.",
    _422="Something is missing or wrong: each is named. Nothing was stored.",
)
Note = Annotated[str, Field(max_length=4000)]
Line = Annotated[str, Field(max_length=200)]


def shown(**example: str) -> ConfigDict:
    return ConfigDict(json_schema_extra={"example": dict(example)})


class StepBody(BaseModel):
    model_config = shown(to="contained", note="Taken off the boat.")

    to: FindingStatus
    note: Note = ""
    cause: CauseCode | None = Field(default=None, description="When corrected or closed.")
    heard: Audible | None = Field(default=None, description="At the crew's seat.")
    seen: Audible | None = None


class AcceptanceBody(BaseModel):
    model_config = shown(reason="The next revision takes it up.", until="2027-03-01")

    reason: Note
    until: date = Field(description="The last day, in the agency's zone.")


class WithdrawalBody(BaseModel):
    model_config = shown(note="It was found on a second device.")

    note: Note = ""


class OwnerBody(BaseModel):
    model_config = shown(owner="tess")

    owner: Line = Field(default="", description="A username; empty: nobody.")


class FindingCommentBody(BaseModel):
    model_config = shown(text="Both crews of the week were asked.")

    text: Note


class WhyBody(BaseModel):
    model_config = shown(reason="Its log must tell since when.")

    reason: Note


@router.post("/{agency}/findings/{number}/steps", summary="Take a step", responses=REFUSALS)
def step(
    number: Number, person: Member, body: StepBody, tx: Writing, now: Now
) -> WholeFindingShape:
    """Verified only by a blind reading of another person than the corrector."""
    move_finding(
        tx,
        finding_id=number,
        to=body.to,
        by=person,
        now=now,
        note=body.note,
        details=StepDetails(body.cause, body.heard, body.seen),
    )
    return _whole(tx, number, person, now)


class MovedShape(BaseModel):
    """`left`: those whose next step it is and that cannot take it, each with its reason."""

    moved: list[int]
    left: dict[int, str]


@router.post(
    "/{agency}/devices/{tag}/findings/steps",
    summary="Take a step with all findings of a device",
    responses=REFUSALS,
)
def step_together(tag: str, person: Member, body: StepBody, tx: Writing, now: Now) -> MovedShape:
    """Contained, corrected or verified: every finding whose next step it is."""
    moved = move_findings_of(
        tx,
        device=tag,
        to=body.to,
        by=person,
        now=now,
        note=body.note,
        details=StepDetails(body.cause, body.heard, body.seen),
    )
    return MovedShape(moved=list(moved.findings), left={one.finding: one.why for one in moved.left})


def _whole(tx: Writing, number: int, person: Person, now: datetime) -> WholeFindingShape:
    story = finding_story(tx, agency_id=person.agency_id, finding_id=number, now=now)
    return whole(story, now)


@router.post(
    "/{agency}/findings/{number}/acceptance",
    summary="Accept a finding until a day",
    responses=REFUSALS,
)
def accept(
    number: Number, person: Member, body: AcceptanceBody, tx: Writing, now: Now
) -> WholeFindingShape:
    """By the medical director. After that day it is open again by itself."""
    accept_finding(tx, finding_id=number, reason=body.reason, until=body.until, by=person, now=now)
    return _whole(tx, number, person, now)


@router.post(
    "/{agency}/findings/{number}/acceptance/withdraw",
    summary="Withdraw an acceptance",
    responses=REFUSALS,
)
def withdraw(
    number: Number, person: Member, body: WithdrawalBody, tx: Writing, now: Now
) -> WholeFindingShape:
    """By the medical director, at any time."""
    withdraw_acceptance(tx, finding_id=number, by=person, now=now, note=body.note)
    return _whole(tx, number, person, now)


@router.post("/{agency}/findings/{number}/owner", summary="Assign a finding", responses=REFUSALS)
def assign(
    number: Number, person: Member, body: OwnerBody, tx: Writing, now: Now
) -> WholeFindingShape:
    """To somebody who may move findings."""
    assign_finding(tx, finding_id=number, to=body.owner, by=person, now=now)
    return _whole(tx, number, person, now)


@router.post(
    "/{agency}/findings/{number}/comments", summary="Comment on a finding", responses=REFUSALS
)
def comment(
    number: Number, person: Member, body: FindingCommentBody, tx: Writing, now: Now
) -> WholeFindingShape:
    """It stays for good."""
    comment_on_finding(tx, finding_id=number, text=body.text, by=person, now=now)
    return _whole(tx, number, person, now)


@router.post(
    "/{agency}/findings/{number}/quarantine",
    summary="Put a finding's device in quarantine",
    responses=REFUSALS,
)
def place(
    number: Number, person: Member, body: WhyBody, tx: Writing, now: Now
) -> WholeFindingShape:
    """From then on nobody touches it; correcting waits for its exported log."""
    place_in_quarantine(tx, finding_id=number, reason=body.reason, by=person, now=now)
    return _whole(tx, number, person, now)
