"""What people decide and say about a revision before it is signed: waivers and comments."""

from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Path
from pydantic import BaseModel, ConfigDict, Field, JsonValue

from app.actions.revision_comments import add_comment, resolve_comment
from app.actions.waivers import waive_finding, withdraw_waiver
from app.api.access import Member, Now, Reading, Writing, problems
from app.api.revisions import Number
from app.domain.permissions import Deed, check_may
from app.domain.revision_comments import Comment
from app.domain.waivers import UnsafeFinding, Waiver
from app.lookups.policy import open_revision

router = APIRouter(tags=["policy"])
Key = Annotated[str, Path(max_length=64, description="The key of the finding.")]
LongText = Annotated[str, Field(max_length=8000)]
REFUSALS = problems(
    _401="Nobody is signed in.",
    _403="The person may not, or the request comes from another site.",
    _404="No such agency, revision, waiver, comment or cell.",
    _409="The state of the revision, or of what was found in it, does not allow it.",
    _422="Something is missing or wrong; nothing was stored.",
)
READING = problems(
    _401="Nobody is signed in.",
    _404="No such agency or revision.",
    _422="The number is no number.",
)


def _example(**body: JsonValue) -> ConfigDict:
    return ConfigDict(json_schema_extra={"example": body})


class WaiverShape(BaseModel):
    finding: str = Field(description="The key of what it waives.")
    rule: str
    category: str | None
    alarms: list[str]
    circumstance: str = Field(description="Empty: without one.")
    ages: str
    message: str
    reason: str
    by: str
    waived_at: datetime
    until: date = Field(description="The last day on which it holds, in the agency's zone.")


class UnsafeShape(BaseModel):
    finding: str = Field(description="Its key; it changes with whatever it was found in.")
    rule: str
    category: str | None
    alarms: list[str]
    message: str
    waiver: WaiverShape | None = Field(description="Also one that has ended.")
    waived: bool = Field(description="Whether its waiver holds today.")


class WaiversShape(BaseModel):
    unsafe: list[UnsafeShape]
    void: list[WaiverShape] = Field(description="Their finding is no longer as it was waived.")


class WaiverBody(BaseModel):
    model_config = _example(
        finding="5d41402abc4b2a76b9719d911017c592ae2c8a0c1f3e4d5b6a79880796a5b4c3",
        reason="new probes come in spring",
        until="2027-06-01",
    )

    finding: Annotated[str, Field(max_length=64)]
    reason: LongText
    until: date


class CommentBody(BaseModel):
    """Category and alarm name a cell; without them it is on the whole revision."""

    model_config = _example(text="Low for a fever?", category="infant", alarm="heart-rate-high")

    text: LongText
    category: Annotated[str, Field(max_length=60)] = ""
    alarm: Annotated[str, Field(max_length=60)] = ""


class ResolutionBody(BaseModel):
    model_config = _example(done="Set to 180; see the source.")

    done: LongText


class CommentShape(BaseModel):
    id: int
    category: str | None
    alarm: str | None
    text: str
    by: str
    written_at: datetime
    resolved_by: str | None
    resolved_at: datetime | None
    done: str | None


@router.get(
    "/{agency}/revisions/{number}/waivers",
    summary="What is unsafe in a revision, and what of it is waived",
    responses=READING,
)
def waivers(number: Number, person: Member, tx: Reading, now: Now) -> WaiversShape:
    """By the outer bounds in force now."""
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    before = found.before_signing
    return WaiversShape(
        unsafe=[_unsafe(one, found.today) for one in before.unsafe],
        void=[_waiver(one) for one in before.void],
    )


def _unsafe(one: UnsafeFinding, today: date) -> UnsafeShape:
    return UnsafeShape(
        finding=one.key,
        rule=one.finding.rule,
        category=one.finding.category,
        alarms=list(one.finding.alarms),
        message=one.finding.message,
        waiver=None if one.waiver is None else _waiver(one.waiver),
        waived=one.is_waived_on(today),
    )


def _waiver(one: Waiver) -> WaiverShape:
    told: dict[str, Any] = vars(one) | {"by": one.by_name, "alarms": list(one.alarms)}
    return WaiverShape.model_validate(told)


@router.post(
    "/{agency}/revisions/{number}/waivers",
    status_code=201,
    summary="Waive an unsafe finding",
    responses=REFUSALS,
)
def waive(number: Number, person: Member, body: WaiverBody, tx: Writing, now: Now) -> WaiverShape:
    """The medical director alone, one by one; the limit shows it wherever it stands."""
    waiver = waive_finding(
        tx,
        number=number,
        finding=body.finding,
        reason=body.reason,
        until=body.until,
        by=person,
        now=now,
    )
    return _waiver(waiver)


@router.delete(
    "/{agency}/revisions/{number}/waivers/{finding}",
    status_code=204,
    summary="Withdraw a waiver before the signature",
    responses=REFUSALS,
)
def withdraw(number: Number, finding: Key, person: Member, tx: Writing, now: Now) -> None:
    """What was signed with its revision is never withdrawn."""
    withdraw_waiver(tx, number=number, finding=finding, by=person, now=now)


@router.get(
    "/{agency}/revisions/{number}/comments",
    summary="Comments on a revision and its cells",
    responses=READING,
)
def comments(number: Number, person: Member, tx: Reading, now: Now) -> list[CommentShape]:
    """The oldest first; they stay for good."""
    check_may(person, Deed.SEE_POLICY)
    found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    return [_comment(one) for one in found.comments]


def _comment(one: Comment) -> CommentShape:
    told = one.resolution
    return CommentShape(
        id=one.id,
        category=one.category,
        alarm=one.alarm,
        text=one.text,
        by=one.by_name,
        written_at=one.written_at,
        resolved_by=None if told is None else told.by_name,
        resolved_at=None if told is None else told.at,
        done=None if told is None else told.done,
    )


@router.post(
    "/{agency}/revisions/{number}/comments",
    status_code=201,
    summary="Comment on a revision or one of its cells",
    responses=REFUSALS,
)
def comment(
    number: Number, person: Member, body: CommentBody, tx: Writing, now: Now
) -> CommentShape:
    """Until it is resolved, the revision cannot be signed."""
    cell = (body.category, body.alarm) if body.category or body.alarm else None
    return _comment(add_comment(tx, number=number, text=body.text, cell=cell, by=person, now=now))


@router.post(
    "/{agency}/revisions/{number}/comments/{comment}/resolve",
    status_code=204,
    summary="Resolve a comment, with what was done about it",
    responses=REFUSALS,
)
def resolve(
    number: Number, comment: int, person: Member, body: ResolutionBody, tx: Writing, now: Now
) -> None:
    """Once; the comment stays with its revision."""
    resolve_comment(tx, number=number, comment=comment, done=body.done, by=person, now=now)
