"""Reading a device blind: beginning, and locking each look. Nothing signed passes through here."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from secrets import SystemRandom, randbelow, token_urlsafe
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from app.actions.looks import LookTaken, lock_look
from app.actions.readings import start_reading
from app.domain.device_reports import Reading as Found
from app.domain.double_reading import NextLook
from app.domain.errors import Fault, NotNow, Refused
from app.domain.option_judgement import ANY_PRESET
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.reading_sessions import ReadingSession, ReadingStatus
from app.domain.triggers import Trigger
from app.lookups import readings as lookups
from app.web.option_form import AskedOption, option_readings_from, options_of
from app.web.reading_form import STATES, Asked, asked_of, minutes_from, readings_from, start_from
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()
_PERCENT = 100
OPTIONS_WORDS = "no preset: volume, pauses and other options"


@dataclass(frozen=True)
class Typed:
    """A form as it is shown again, with what is wrong at each field."""

    typed: Mapping[str, str]
    faults: tuple[Fault, ...] = ()

    def fault(self, column: str) -> str:
        return next((fault.reason for fault in self.faults if fault.column == column), "")

    def value(self, name: str) -> str:
        return self.typed.get(name, "")


async def _typed(request: Request) -> dict[str, str]:
    """What is no text is left out: these forms have no files."""
    form = await request.form()
    return {name: value for name, value in form.items() if isinstance(value, str)}


Fields = Annotated[dict[str, str], Depends(_typed)]


@dataclass(frozen=True)
class FindPage:
    tag: str
    missing: bool
    wanted: list[ReadingSession]


@router.get("/{agency}/readings")
def find(request: Request, person: Member, tx: Reading, now: Now, tag: str = "") -> Response:
    """By the tag on the device; and where somebody is to look again."""
    check_may(person, Deed.READ_DEVICE)
    tag = tag.strip()
    if tag and lookups.is_device(tx, agency_id=person.agency_id, tag=tag):
        return RedirectResponse(f"/{person.agency}/devices/{tag}/read", status_code=303)
    wanted = lookups.wanted_looks(tx, agency_id=person.agency_id, now=now)
    return render(request, "fleet/looks.html", FindPage(tag, bool(tag), wanted))


@dataclass(frozen=True)
class StartForm:
    """`chosen`: the preset that a link came with."""

    start: lookups.ReadingStart
    chosen: str
    form: Typed
    state_choices: tuple[tuple[str, str], ...] = tuple((k.value, v) for k, v in STATES.items())
    trigger_choices: tuple[tuple[str, str], ...] = tuple(
        (t.value, t.value) for t in Trigger if not t.is_brief
    )

    @property
    def preset_choices(self) -> list[tuple[str, str]]:
        options = [(ANY_PRESET, OPTIONS_WORDS)] if self.start.options else []
        return [*((preset, preset) for preset in self.start.presets), *options]


@router.get("/{agency}/devices/{tag}/read")
def start_page(
    request: Request,
    person: Member,
    tag: str,
    tx: Reading,
    now: Now,
    preset: str = "",
    trigger: str = "",
) -> Response:
    check_may(person, Deed.READ_DEVICE)
    start = lookups.reading_start(tx, agency_id=person.agency_id, tag=tag, now=now)
    typed = {"key": token_urlsafe(16), "trigger": trigger}
    return render(request, "fleet/read.html", _start_form(start, preset, Typed(typed)))


@router.post("/{agency}/devices/{tag}/read")
def start(request: Request, person: Member, tag: str, now: Now, typed: Fields) -> Response:
    check_may(person, Deed.READ_DEVICE)
    database = request.app.state.database
    with database.reading() as tx:
        found = lookups.reading_start(tx, agency_id=person.agency_id, tag=tag, now=now)
    try:
        new = start_from(typed, device=tag)
        with database.writing() as tx:
            begun = start_reading(tx, new=new, die=randbelow(_PERCENT), by=person, now=now)
    except Refused as refused:
        kept = {"key": token_urlsafe(16)} | {name: value for name, value in typed.items() if value}
        page = _start_form(found, typed.get("preset", ""), Typed(kept, refused.faults))
        return render(request, "fleet/read.html", page, status=422)
    return RedirectResponse(f"/{person.agency}/readings/{begun.id}", status_code=303)


def _start_form(start: lookups.ReadingStart, preset: str, form: Typed) -> StartForm:
    """The only preset of a device needs no choosing; one that it does not have is not chosen."""
    known = (*start.presets, *((ANY_PRESET,) if start.options else ()))
    if len(known) == 1:
        preset = known[0]
    return StartForm(start, preset if preset in known else "", form)


@dataclass(frozen=True)
class LookForm:
    """`look` None: nothing is to be entered by this person now."""

    session: ReadingSession
    look: NextLook | None
    asked: list[Asked] | list[AskedOption]
    form: Typed
    late: bool
    barred: bool
    quarantined: bool

    @property
    def of_options(self) -> bool:
        return self.session.preset == ANY_PRESET

    @property
    def faulty(self) -> list[Asked | AskedOption]:
        return [one for one in self.asked if self.form.fault(one.alarm)]

    @property
    def other_faults(self) -> list[Fault]:
        shown = {one.alarm for one in self.asked} | {"minutes_off"}
        return [fault for fault in self.form.faults if fault.column not in shown]

    @property
    def is_unsafe(self) -> bool:
        """Told as soon as it is locked, without a value."""
        return self.session.status is ReadingStatus.WAITING and self.session.telling is not None


@router.get("/{agency}/readings/{number}")
def look_page(request: Request, person: Member, number: int, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.READ_DEVICE)
    found = lookups.reading(tx, agency_id=person.agency_id, number=number, now=now)
    return render(request, "fleet/look.html", _look_form(found, person, now, Typed({})))


@router.post("/{agency}/readings/{number}")
def lock(request: Request, person: Member, number: int, now: Now, typed: Fields) -> Response:
    check_may(person, Deed.READ_DEVICE)
    database = request.app.state.database
    with database.reading() as tx:
        found = lookups.reading(tx, agency_id=person.agency_id, number=number, now=now)
    try:
        taken = _taken(found, typed)
        with database.writing() as tx:
            session = lock_look(
                tx, reading=number, taken=taken, dice=SystemRandom(), by=person, now=now
            )
    except Refused as refused:
        page = _look_form(found, person, now, Typed(typed, refused.faults))
        return render(request, "fleet/look.html", page, status=422)
    return RedirectResponse(_goes_on(person, session), status_code=303)


def _goes_on(person: Person, session: ReadingSession) -> str:
    if session.status is ReadingStatus.SETTLED:
        return f"/{person.agency}/devices/{session.device}/reports/{session.telling}"
    return f"/{person.agency}/readings/{session.id}"


def _taken(found: lookups.ReadingPage, typed: Mapping[str, str]) -> LookTaken:
    """Also of a look that was locked before: sent again it must be read the same way."""
    numbers = {str(one.wanted.number): one.wanted for one in found.session.looks}
    wanted = numbers.get(typed.get("look", ""))
    if wanted is None:
        raise NotNow("This look is not wanted.")
    faults: list[Fault] = []
    minutes = minutes_from(typed, faults)
    try:
        readings = _readings(found, wanted, typed)
    except Refused as refused:
        raise Refused([*refused.faults, *faults]) from None
    if faults:
        raise Refused(faults)
    return LookTaken(wanted.number, readings, minutes)


def _readings(
    found: lookups.ReadingPage, wanted: NextLook, typed: Mapping[str, str]
) -> dict[str, Found]:
    if found.session.preset == ANY_PRESET:
        return option_readings_from(typed, options_of(wanted, found.presets))
    return readings_from(typed, asked_of(wanted, found.model))


def _asked(found: lookups.ReadingPage, look: NextLook | None) -> list[Asked] | list[AskedOption]:
    if look is None:
        return []
    if found.session.preset == ANY_PRESET:
        return options_of(look, found.presets)
    return asked_of(look, found.model)


def _look_form(found: lookups.ReadingPage, person: Person, now: datetime, form: Typed) -> LookForm:
    session = found.session
    late = session.is_late(now)
    wanted = None if late else session.wanted
    barred = wanted is not None and person.id in wanted.other_than
    look = None if barred else wanted
    return LookForm(
        session,
        look,
        _asked(found, look),
        form,
        late or session.status is ReadingStatus.LAPSED,
        barred,
        found.quarantined,
    )
