"""What somebody must act on in the fleet."""

from dataclasses import replace
from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query
from pydantic import BaseModel, Field

from app.api.access import Member, Now, Reading, problems
from app.domain.finding_causes import CauseCode
from app.domain.finding_filters import NOT_CLOSED, FindingFilter
from app.domain.finding_life import FindingKind, FindingStatus
from app.domain.findings import Severity
from app.domain.permissions import Deed, check_may
from app.lookups.finding_stories import FindingStory, finding_story
from app.lookups.findings import FindingPage, findings_wanted

router = APIRouter(tags=["fleet"])
Number = Annotated[int, Path(description="The finding's number.")]


class FleetFindingShape(BaseModel):
    id: int
    device: str
    preset: str
    alarm: str
    kind: str = Field(description="held: what the device holds; use: what a crew set")
    severity: str = Field(description="unsafe, off-protocol or note")
    status: str
    read_at: datetime = Field(description="When the device was read that shows it last.")
    opened_at: datetime
    due_at: datetime | None
    overdue: bool
    accepted_until: date | None = Field(
        description="The last day of the medical director's acceptance while it stands."
    )
    quarantined: bool = Field(description="Nobody may touch its device.")
    owner: str | None = Field(description="Whose it is, by name.")
    cause: str | None
    recurrences: int = Field(description="How often it was found again after a correction.")
    recurred_from: int | None
    hint: str | None = Field(description="What it may have come from; never a verdict.")


class FindingEventShape(BaseModel):
    """One step of the story; nothing of it ever changes."""

    kind: str
    at: datetime
    by: str
    note: str
    about: str
    report: int | None


class ExposureShape(BaseModel):
    """Between these nobody knows; `since` None: it was never read right before."""

    since: datetime | None
    until: datetime | None
    days: int | None


class WholeFindingShape(FleetFindingShape):
    heard: str | None = Field(description="At the crew's seat: yes, no or not-tested.")
    seen: str | None
    recurred_as: int | None
    as_found_report: int
    as_left_report: int | None
    verified_by_report: int | None
    exposure: ExposureShape
    story: list[FindingEventShape]


class FindingsAsked(BaseModel):
    status: list[FindingStatus] = Field(default=[], description="May be repeated.")
    severity: list[Severity] = Field(default=[], description="May be repeated.")
    kind: FindingKind | None = None
    device: str = Field(default="", max_length=200, description="A device's tag.")
    station: str = Field(default="", max_length=200)
    model: str = Field(default="", max_length=200)
    alarm: str = Field(default="", max_length=200, description="With its deep line.")
    cause: CauseCode | None = None
    mine: bool = Field(default=False, description="Only those whose owner asks.")
    overdue: bool = False
    accepted: bool = False
    quarantined: bool = False
    look_again: bool = Field(default=False, description="Closed, and a later look is missing.")

    def wanted(self) -> FindingFilter:
        told = self.model_dump(exclude={"status", "severity", "mine"})
        closed = (FindingStatus.CLOSED,) if self.look_again else NOT_CLOSED
        return FindingFilter(
            statuses=tuple(self.status) or closed,
            severities=tuple(self.severity) or tuple(Severity),
            **told,
        )


@router.get(
    "/{agency}/findings",
    summary="Findings, unless asked otherwise those that are not closed",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency.",
        _422="There is no such status, severity, cause or kind.",
    ),
)
def chosen_findings(
    person: Member,
    tx: Reading,
    now: Now,
    asked: Annotated[FindingsAsked, Query()],
) -> list[FleetFindingShape]:
    """The gravest first, then by what is due first."""
    check_may(person, Deed.SEE_FLEET)
    wanted = asked.wanted()
    if asked.mine:
        wanted = replace(wanted, owner=person.id)
    found = findings_wanted(tx, agency_id=person.agency_id, wanted=wanted, now=now)
    return [FleetFindingShape.model_validate(_shape(page, now)) for page in found]


@router.get(
    "/{agency}/findings/{number}",
    summary="One finding with its whole story",
    responses=problems(_401="Nobody is signed in.", _404="No such agency or finding."),
)
def one_finding(number: Number, person: Member, tx: Reading, now: Now) -> WholeFindingShape:
    """Who found, did and said what since it was opened; for how long nobody knows."""
    check_may(person, Deed.SEE_FLEET)
    story = finding_story(tx, agency_id=person.agency_id, finding_id=number, now=now)
    return whole(story, now)


def whole(story: FindingStory, now: datetime) -> WholeFindingShape:
    finding = story.page.finding
    exposure = story.exposure
    told: dict[str, Any] = _shape(story.page, now)
    return WholeFindingShape(
        **told,
        heard=finding.heard,
        seen=finding.seen,
        recurred_as=story.recurred_as,
        as_found_report=story.as_found.report.id,
        as_left_report=None if story.as_left is None else story.as_left.report.id,
        verified_by_report=finding.verified_by_report,
        exposure=ExposureShape(since=exposure.since, until=exposure.until, days=exposure.days(now)),
        story=[
            FindingEventShape(
                kind=one.kind.value,
                at=one.at,
                by=one.name,
                note=one.note,
                about=one.about,
                report=one.report,
            )
            for one in story.events
        ],
    )


def _shape(page: FindingPage, now: datetime) -> dict[str, object]:
    finding = page.finding
    accepted = finding.accepted(now)
    return {
        "id": finding.id,
        "device": finding.device,
        "preset": finding.preset,
        "alarm": finding.alarm,
        "kind": finding.kind.value,
        "severity": finding.severity.value,
        "status": finding.status.value,
        "read_at": page.latest.report.read_at,
        "opened_at": finding.opened_at,
        "due_at": finding.due_at,
        "overdue": page.overdue,
        "accepted_until": None if accepted is None else accepted.until,
        "quarantined": finding.quarantined,
        "owner": None if finding.owner is None else finding.owner.name,
        "cause": finding.cause,
        "recurrences": finding.recurrences,
        "recurred_from": finding.recurred_from,
        "hint": page.line.hint,
    }
