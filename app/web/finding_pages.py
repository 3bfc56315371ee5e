"""What people do with one finding, each from its own page."""

from collections.abc import Callable
from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions.finding_words import (
    accept_finding,
    assign_finding,
    comment_on_finding,
    withdraw_acceptance,
)
from app.actions.findings import move_finding
from app.actions.quarantines import place_in_quarantine
from app.domain.errors import NotNow, Refused
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import Audible, FindingStatus
from app.domain.finding_steps import StepDetails
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.lookups.finding_stories import finding_story
from app.web.finding_shown import page_of
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/findings/{number}")
Text = Annotated[str, Form(max_length=8000)]


@router.get("")
def finding(request: Request, person: Member, number: int, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_FLEET)
    return render(request, "findings/one.html", page_of(request, tx, person, number, now))


def _acted(
    request: Request,
    person: Person,
    number: int,
    now: datetime,
    act: Callable[[Any], object],
    *,
    notice: str,
    to: str = "",
) -> Response:
    database = request.app.state.database
    try:
        with database.writing() as tx:
            act(tx)
    except (Refused, NotNow) as refusal:
        with database.reading() as tx:
            page = page_of(request, tx, person, number, now, refusal)
        return render(request, "findings/one.html", page, status=refusal.status)
    return done(to or f"/{person.agency}/findings/{number}", notice)


class StepEntry(BaseModel):
    """As typed; what a step does not ask for is empty."""

    to: FindingStatus
    note: Annotated[str, Field(max_length=8000)] = ""
    cause: Annotated[str, Field(max_length=40)] = ""
    heard: Annotated[str, Field(max_length=40)] = ""
    seen: Annotated[str, Field(max_length=40)] = ""

    def details(self) -> StepDetails:
        """Raises Refused."""
        among = (("cause", CauseCode), ("heard", Audible), ("seen", Audible))
        for name, known in among:
            if getattr(self, name) not in ("", *known):
                raise Refused.because("choose one", column=name, value=getattr(self, name))
        return StepDetails(
            CauseCode(self.cause) if self.cause else None,
            Audible(self.heard) if self.heard else None,
            Audible(self.seen) if self.seen else None,
        )


@router.post("")
def move(
    request: Request, person: Member, number: int, now: Now, entry: Annotated[StepEntry, Form()]
) -> Response:
    def act(tx: Any) -> None:
        move_finding(
            tx,
            finding_id=number,
            to=entry.to,
            by=person,
            now=now,
            note=entry.note,
            details=entry.details(),
        )

    notice = f"Finding {number} is {entry.to.value}."
    return _acted(request, person, number, now, act, notice=notice)


@router.post("/accept")
def accept(
    request: Request,
    person: Member,
    number: int,
    now: Now,
    reason: Text = "",
    until: Text = "",
) -> Response:
    check_may(person, Deed.ACCEPT_FINDING)

    def act(tx: Any) -> None:
        accept_finding(tx, finding_id=number, reason=reason, until=day(until), by=person, now=now)

    return _acted(
        request, person, number, now, act, notice=f"Finding {number} is accepted for a time."
    )


def day(typed: str) -> date:
    try:
        return date.fromisoformat(typed.strip())
    except ValueError:
        raise Refused.because("give a day, such as 2027-03-01", column="until") from None


@router.post("/withdraw")
def withdraw(request: Request, person: Member, number: int, now: Now, note: Text = "") -> Response:
    def act(tx: Any) -> None:
        withdraw_acceptance(tx, finding_id=number, by=person, now=now, note=note)

    return _acted(request, person, number, now, act, notice="The acceptance is withdrawn.")


@router.post("/assign")
def assign(request: Request, person: Member, number: int, now: Now, owner: Text = "") -> Response:
    def act(tx: Any) -> None:
        assign_finding(tx, finding_id=number, to=owner, by=person, now=now)

    return _acted(request, person, number, now, act, notice=f"Finding {number} has its owner.")


@router.post("/comments")
def comment(request: Request, person: Member, number: int, now: Now, text: Text = "") -> Response:
    def act(tx: Any) -> None:
        comment_on_finding(tx, finding_id=number, text=text, by=person, now=now)

    return _acted(request, person, number, now, act, notice="Your comment stands in the story.")


@router.post("/quarantine")
def quarantine(
    request: Request, person: Member, number: int, now: Now, tx: Reading, why: Text = ""
) -> Response:
    held = finding_story(tx, agency_id=person.agency_id, finding_id=number, now=now)
    tag = held.page.finding.device

    def act(tx: Any) -> None:
        place_in_quarantine(tx, finding_id=number, reason=why, by=person, now=now)

    to = f"/{person.agency}/devices/{tag}/quarantine"
    return _acted(request, person, number, now, act, notice=f"{tag} is in quarantine.", to=to)
