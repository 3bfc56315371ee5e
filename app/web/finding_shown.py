"""One finding as its page shows it: signed, as found, as left, verified, and what comes next."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from fastapi import Request

from app.domain.acceptances import Acceptance
from app.domain.errors import Fault, MarchstoneError, NotNow, Refused
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import (
    ACCEPTABLE,
    Audible,
    FindingKind,
    FindingStatus,
    Stamp,
    Step,
    StoredFinding,
    steps_from,
)
from app.domain.local_days import local_day
from app.domain.people import Person
from app.domain.permissions import Deed, may
from app.domain.quarantines import ORDER
from app.lookups.finding_stories import FindingStory, finding_story
from app.lookups.judged import ReportPage
from app.web.compared import ComparedLine, ComparedReport, compared
from app.web.signing import zone_of
from app.web.typed import typed_in

ABOUT = {
    FindingStatus.CONTAINED: "What keeps patients away from it",
    FindingStatus.CORRECTED: "What was set",
    FindingStatus.VERIFIED: "Another person’s blind reading",
    FindingStatus.CLOSED: "Cause known, done",
}


@dataclass(frozen=True)
class Stage:
    """One step of the life: `stamp` None while it is still to come."""

    status: FindingStatus
    stamp: Stamp | None
    about: str


@dataclass(frozen=True)
class Value:
    """One column of what stood there when: `report` None where none says it."""

    label: str
    words: str
    report: int | None = None
    at: datetime | None = None
    by: str = ""


@dataclass(frozen=True)
class FindingPage:
    story: FindingStory
    latest: ComparedReport
    line: ComparedLine
    values: list[Value]
    stages: list[Stage]
    steps: dict[FindingStatus, Step]
    exposure: str
    person: Person
    now: datetime
    today: date  # in the agency's zone
    typed: Mapping[str, str] = field(default_factory=lambda: defaultdict(str))
    faults: tuple[Fault, ...] = ()
    message: str = ""
    order: str = ORDER
    causes: tuple[CauseCode, ...] = tuple(CauseCode)
    answers: tuple[Audible, ...] = tuple(Audible)

    @property
    def finding(self) -> StoredFinding:
        return self.story.page.finding

    @property
    def accepted(self) -> Acceptance | None:
        return self.finding.accepted(self.now)

    @property
    def may_work(self) -> bool:
        return may(self.person, Deed.WORK_FINDING)

    @property
    def may_read(self) -> bool:
        return may(self.person, Deed.READ_DEVICE)

    @property
    def may_comment(self) -> bool:
        return may(self.person, Deed.COMMENT_FINDING)

    @property
    def may_accept(self) -> bool:
        held = self.finding.kind is FindingKind.HELD and self.finding.status in ACCEPTABLE
        return held and may(self.person, Deed.ACCEPT_FINDING)


def page_of(
    request: Request,
    tx: Any,
    person: Person,
    number: int,
    now: datetime,
    refusal: MarchstoneError | None = None,
) -> FindingPage:
    story = finding_story(tx, agency_id=person.agency_id, finding_id=number, now=now)
    one = story.page.finding
    latest = compared(story.page.latest)
    steps, zone = steps_from(one.status, one.kind), zone_of(request, person)
    shown = ABOUT if one.kind is FindingKind.HELD else {FindingStatus.CLOSED: "Spoken about"}
    return FindingPage(
        story=story,
        latest=latest,
        line=latest.line(one.alarm),
        values=_values(story),
        stages=[Stage(status, getattr(one, status), about) for status, about in shown.items()],
        steps=steps,
        exposure=story.exposure.words(now, zone),
        person=person,
        now=now,
        today=local_day(now, zone),
        typed=defaultdict(str, typed_in(request)),
        faults=refusal.faults if isinstance(refusal, Refused) else (),
        message=refusal.message if isinstance(refusal, NotNow) else "",
    )


def _values(story: FindingStory) -> list[Value]:
    alarm = story.page.finding.alarm
    as_found = _value("As found", story.as_found, alarm)
    signed = compared(story.as_found).line(alarm).signed
    values = [Value("Signed", signed), as_found]
    if story.as_left is not None:
        values.append(_value("As left", story.as_left, alarm))
    if story.proof is not None:
        values.append(_value("Verified", story.proof, alarm))
    return values


def _value(label: str, page: ReportPage, alarm: str) -> Value:
    report = page.report
    found = compared(page).line(alarm).found
    return Value(label, found, report.id, report.read_at, report.read_by)
