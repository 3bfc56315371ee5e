"""The shift check: asked of anybody who stands before a device, taken from crew who signed in.

Nothing signed passes through the form; what it brought is told only once it is locked.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from secrets import SystemRandom, token_urlsafe

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from app.actions.shift_checks import take_check
from app.domain.agencies import Agency
from app.domain.device_reports import StateRead
from app.domain.errors import Fault, NotFound, Refused
from app.domain.permissions import Deed, check_may
from app.domain.phone_clocks import skew_words
from app.domain.plain_text import note
from app.domain.shift_checks import NewShiftCheck
from app.domain.shift_questions import Answer, Answers, Question
from app.lookups.shift_checks import CheckAsked, CheckBrought, check_asked, check_brought
from app.web.crew_codes import check_crew
from app.web.reading_form import Asked, asked, minutes_from, readings_from
from app.web.readings import Fields, Typed
from app.web.render import render, rendered
from app.web.sessions import MaybePerson, Member
from app.web.shift_words import Told, told_of
from app.web.shown_values import shown_to
from app.web.transactions import Now, Reading

router = APIRouter()
STATES = {
    StateRead.POWER_ON: "Just switched on, nothing touched",
    StateRead.IN_USE: "It was on already",
}


@dataclass(frozen=True)
class CheckForm:
    """`tag`: as it was scanned or typed; the device itself is known where one has it."""

    agency: Agency
    asked: CheckAsked
    tag: str
    form: Typed
    person: str = ""
    known: bool = True
    missing: str = ""
    state_choices: tuple[tuple[str, str], ...] = tuple((k.value, v) for k, v in STATES.items())

    @property
    def alarms(self) -> list[Asked]:
        return [asked(alarm, self.asked.model) for alarm in self.asked.choices.shift_alarms]

    @property
    def questions(self) -> list[Question]:
        return [Question(one) for one in self.asked.choices.shift_questions]

    @property
    def presets(self) -> list[tuple[str, str]]:
        """Each name once, with the models that use it where the device is not known."""
        models: dict[str, list[str]] = {}
        for model, names in self.asked.presets.items():
            for name in names:
                models.setdefault(name, []).append(model)
        if self.asked.device is not None or len(self.asked.presets) < 2:
            return [(name, name) for name in models]
        return [(name, f"{name} ({', '.join(of)})") for name, of in models.items()]

    @property
    def faulty(self) -> list[tuple[str, str]]:
        """Where to look again: the field and its words."""
        labels = {one.alarm: one.label for one in self.alarms} | _LABELS
        labels |= {one.value: one.words for one in self.questions}
        return [
            (str(one.column), labels[str(one.column)])
            for one in self.form.faults
            if str(one.column) in labels
        ]

    @property
    def other_faults(self) -> list[Fault]:
        shown = {column for column, _ in self.faulty}
        return [one for one in self.form.faults if str(one.column) not in shown]


_LABELS = {
    "device": "Device",
    "preset": "Category that it shows",
    "state_read": "How it was when you looked",
    "minutes_off": "Minutes off",
    "remark": "Remark",
}


@router.get("/{agency}/check")
def form(
    request: Request, person: MaybePerson, tx: Reading, now: Now, agency: str, device: str = ""
) -> Response:
    """Open as the look-up is; what is locked here waits on the phone until somebody signs in."""
    owner = request.app.state.agencies.of(agency)
    check_crew(request, tx, owner)
    tag = device.strip()[:60]
    try:
        found, missing = check_asked(tx, agency_id=owner.id, now=now, tag=tag), ""
    except NotFound as error:
        found, missing = check_asked(tx, agency_id=owner.id, now=now), error.message
    page = CheckForm(
        owner,
        found,
        tag,
        Typed({"key": token_urlsafe(16)}),
        person.username if person is not None and person.agency_id == owner.id else "",
        missing=missing,
    )
    return _shown(request, page, 404 if missing else 200)


def _shown(request: Request, page: CheckForm, status: int) -> Response:
    owner = page.agency
    return render(
        request,
        "checks/form.html",
        page,
        status=status,
        agency_name=owner.name,
        zone=owner.time_zone,
    )


@router.get("/{agency}/check/kept")
def kept(request: Request, tx: Reading, now: Now, agency: str) -> Response:
    """The form that a phone keeps, for any device; nothing of a person is in it."""
    owner = request.app.state.agencies.of(agency)
    found = check_asked(tx, agency_id=owner.id, now=now)
    page = CheckForm(owner, found, "", Typed({}), known=False)
    text = rendered(request, "checks/form.html", page, agency_name=owner.name, zone=owner.time_zone)
    tag = f'"{hashlib.sha256(text.encode()).hexdigest()[:24]}"'
    headers = {"ETag": tag, "Cache-Control": "no-cache"}
    if tag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return Response(text, media_type="text/html; charset=utf-8", headers=headers)


@router.post("/{agency}/checks")
def lock(request: Request, person: Member, now: Now, typed: Fields) -> Response:
    """Without script: of this moment, and sent at once or not at all."""
    check_may(person, Deed.READ_DEVICE)
    owner = request.app.state.agencies.of(person.agency)
    database = request.app.state.database
    tag = typed.get("device", "").strip()
    try:
        with database.reading() as tx:
            found = check_asked(tx, agency_id=owner.id, now=now, tag=tag)
            new = check_from(typed, CheckForm(owner, found, tag, Typed(typed)))
            new = replace(new, seen=shown_to(request, new.device, before=now))
        with database.writing() as tx:
            taken = take_check(tx, new=new, dice=SystemRandom(), by=person, now=now)
    except Refused as refused:
        faults = refused.faults
    except NotFound as error:
        faults = (Fault(error.message, column="device"),)
    else:
        return RedirectResponse(f"/{person.agency}/checks/{taken.id}", status_code=303)
    return _again(request, owner, person.username, typed, faults, now)


def _again(
    request: Request,
    owner: Agency,
    username: str,
    typed: Mapping[str, str],
    faults: tuple[Fault, ...],
    now: datetime,
) -> Response:
    """With everything that was typed."""
    tag = typed.get("device", "").strip()
    known = tag if not any(one.column == "device" for one in faults) else ""
    with request.app.state.database.reading() as tx:
        found = check_asked(tx, agency_id=owner.id, now=now, tag=known)
    return _shown(request, CheckForm(owner, found, tag, Typed(typed, faults), username), 422)


def check_from(typed: Mapping[str, str], page: CheckForm) -> NewShiftCheck:
    """Raises Refused with every fault at its field."""
    faults: list[Fault] = []
    if not page.tag:
        faults.append(Fault("write the tag on its label", column="device"))
    if not typed.get("preset", "").strip():
        faults.append(Fault("choose what it shows", column="preset"))
    state = next((one for one in STATES if one.value == typed.get("state_read")), None)
    if state is None:
        faults.append(Fault("say how it was when you looked", column="state_read"))
    minutes = minutes_from(typed, faults)
    answers = _answers(typed, page.questions, faults)
    readings, remark = {}, ""
    try:
        remark = note(typed.get("remark", ""), column="remark")
        readings = readings_from(typed, page.alarms)
    except Refused as refused:
        faults += refused.faults
    if faults or state is None:
        raise Refused(faults)
    return NewShiftCheck(
        device=page.tag,
        key=typed.get("key", ""),
        preset=typed["preset"].strip(),
        state_read=state,
        readings=readings,
        answers=answers,
        minutes_off=minutes,
        remark=remark,
    )


def _answers(typed: Mapping[str, str], questions: list[Question], faults: list[Fault]) -> Answers:
    found = {}
    for question in questions:
        given = typed.get(question.value, "")
        if given in tuple(question.answers):
            found[question] = Answer(given)
        else:
            faults.append(Fault("answer this", column=question.value))
    return found


@dataclass(frozen=True)
class CheckShown:
    brought: CheckBrought
    told: Told

    @property
    def late(self) -> bool:
        return self.brought.check.queued is not None

    @property
    def skew(self) -> str:
        """How wrong the phone's clock was, where that matters."""
        check = self.brought.check
        queued = check.queued
        return "" if queued is None else skew_words(queued.clock.skew(check.received_at))


@router.get("/{agency}/checks/{number}")
def shown(request: Request, person: Member, number: int, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_FLEET)
    brought = check_brought(tx, agency_id=person.agency_id, number=number, now=now)
    return render(request, "checks/one.html", CheckShown(brought, told_of(brought)))
