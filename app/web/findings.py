"""What somebody must act on: the list, and the same list as a file."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from app.domain.acceptances import Acceptance
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import FindingKind, FindingStatus, StoredFinding
from app.domain.findings import Severity
from app.domain.natural_order import natural
from app.domain.permissions import Deed, check_may
from app.exchange.findings_csv import ListedFinding, findings_csv
from app.lookups import findings as lookups
from app.web.compared import ComparedLine, compared, in_order, label_of
from app.web.finding_choices import AGAIN, ANY, MINE, NOT_YET, Chosen
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()
STAGES = (
    (NOT_YET, "not closed"),
    *((status.value, status.value) for status in FindingStatus),
    (AGAIN, "closed, to be looked at again"),
    (ANY, "any"),
)
Narrowed = Annotated[Chosen, Query()]


@dataclass(frozen=True)
class FindingShown:
    """`accepted` while the director's acceptance stands."""

    finding: StoredFinding
    where: str
    line: ComparedLine
    overdue: bool
    accepted: Acceptance | None


Choice = tuple[str, str]
"""What is sent, and how it is called."""


@dataclass(frozen=True)
class FindingsPage:
    found: lookups.FindingList
    findings: list[FindingShown]
    chosen: Chosen
    owners: list[Choice]
    alarms: list[Choice]
    stages: tuple[Choice, ...] = STAGES
    severities: tuple[Choice, ...] = tuple((one.value, one.value) for one in Severity)
    kinds: tuple[Choice, ...] = (
        (FindingKind.HELD.value, "what a device holds"),
        (FindingKind.USE.value, "what a crew set"),
    )
    causes: tuple[Choice, ...] = tuple((one.value, one.words) for one in CauseCode)

    @property
    def stations(self) -> list[Choice]:
        return _choices(self.found.places.stations, self.chosen.station)

    @property
    def models(self) -> list[Choice]:
        return _choices(self.found.places.models, self.chosen.model)


def _choices(known: tuple[str, ...], chosen: str) -> list[Choice]:
    """What was chosen stays chosen, also where nothing is found there."""
    return [(one, one) for one in sorted({*known, chosen} - {""}, key=natural)]


@router.get("/{agency}/findings")
def findings(request: Request, person: Member, tx: Reading, now: Now, chosen: Narrowed) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = lookups.finding_list(
        tx,
        agency_id=person.agency_id,
        wanted=chosen.wanted(person, now),
        now=now,
        page=chosen.number,
    )
    page = FindingsPage(
        found=found,
        findings=[shown(one, now) for one in found.findings],
        chosen=chosen,
        owners=[(MINE, "mine"), *((str(number), name) for number, name in found.owners.items())],
        alarms=[(alarm, label_of(alarm)) for alarm in in_order(found.places.alarms)],
    )
    return render(request, "findings/list.html", page)


def shown(page: lookups.FindingPage, now: datetime) -> FindingShown:
    latest = compared(page.latest)
    line = latest.line(page.finding.alarm)
    return FindingShown(page.finding, latest.where, line, page.overdue, page.finding.accepted(now))


@router.get("/{agency}/findings.csv")
def exported(person: Member, tx: Reading, now: Now, chosen: Narrowed) -> Response:
    """Everything that the list tells on all its pages."""
    check_may(person, Deed.SEE_FLEET)
    found = lookups.findings_wanted(
        tx, agency_id=person.agency_id, wanted=chosen.wanted(person, now), now=now
    )
    listed = [shown(one, now) for one in found]
    rows = [
        ListedFinding(one.finding, one.line.signed, one.line.found, one.line.sentence)
        for one in listed
    ]
    return as_file(findings_csv(rows, now=now), f"findings-{now:%Y-%m-%d}.csv")


def as_file(content: bytes, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type="text/csv; charset=utf-8", headers=headers)
