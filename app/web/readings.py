"""Reading a device blind: what is asked, and locking it. Nothing signed passes through here."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from secrets import token_urlsafe
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from app.actions.reports import record_report
from app.domain.devices import Device
from app.domain.errors import Conflict, Fault, Refused
from app.domain.fleet import StoredReport
from app.domain.permissions import Deed, check_may
from app.lookups import fleet
from app.web.compared import in_order
from app.web.reading_form import STATES, TRIGGERS, Asked, asked, report_from
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter()


@dataclass(frozen=True)
class BlindForm:
    """`preset` empty: one is still to be chosen. `stored` is a report that was sent before."""

    device: Device
    presets: list[str]
    preset: str
    asked: list[Asked]
    typed: Mapping[str, str]
    faults: tuple[Fault, ...] = ()
    message: str = ""
    stored: int | None = None
    states: Mapping[str, str] = field(
        default_factory=lambda: {k.value: v for k, v in STATES.items()}
    )
    triggers: tuple[str, ...] = TRIGGERS

    def fault(self, column: str) -> str:
        return next((fault.reason for fault in self.faults if fault.column == column), "")

    def value(self, name: str) -> str:
        return self.typed.get(name, "")

    @property
    def faulty(self) -> list[Asked]:
        return [one for one in self.asked if self.fault(one.alarm)]

    @property
    def other_faults(self) -> list[Fault]:
        shown = {one.alarm for one in self.asked} | {"state_read", "minutes_off", "read_at"}
        return [fault for fault in self.faults if fault.column not in shown]


async def _typed(request: Request) -> dict[str, str]:
    """What is no text is left out: this form has no files."""
    form = await request.form()
    return {name: value for name, value in form.items() if isinstance(value, str)}


Typed = Annotated[dict[str, str], Depends(_typed)]


@router.get("/{agency}/devices/{tag}/read")
def read_page(
    request: Request, person: Member, tag: str, tx: Reading, now: Now, preset: str = ""
) -> Response:
    check_may(person, Deed.READ_DEVICE)
    form = fleet.reading_form(tx, agency_id=person.agency_id, tag=tag, now=now)
    return render(request, "fleet/read.html", _blind_form(form, preset, _fresh(now)))


def _fresh(now: datetime) -> dict[str, str]:
    return {"key": token_urlsafe(16), "opened_at": now.isoformat()}


@router.post("/{agency}/devices/{tag}/read")
def lock(request: Request, person: Member, tag: str, now: Now, typed: Typed) -> Response:
    check_may(person, Deed.READ_DEVICE)
    state = request.app.state
    preset = typed.get("preset", "")
    with state.database.reading() as tx:
        form = fleet.reading_form(tx, agency_id=person.agency_id, tag=tag, now=now)
    page = _blind_form(form, preset, typed)
    if not page.preset:
        raise Refused.because("choose one of the presets of this device", column="preset")
    try:
        new = report_from(
            typed,
            device=tag,
            preset=preset,
            alarms=tuple(one.alarm for one in page.asked),
            zone=state.agencies.of(person.agency).time_zone,
        )
        with state.database.writing() as tx:
            stored = record_report(tx, report=new, by=person, now=now)
    except Refused as refused:
        kept = _fresh(now) | {name: value for name, value in typed.items() if value}
        again = _blind_form(form, preset, kept, faults=refused.faults)
        return render(request, "fleet/read.html", again, status=422)
    except Conflict as conflict:
        return render(request, "fleet/read.html", _stored_before(page, conflict), status=409)
    return RedirectResponse(f"/{person.agency}/devices/{tag}/reports/{stored.id}", status_code=303)


def _stored_before(page: BlindForm, conflict: Conflict) -> BlindForm:
    """Nothing typed is lost; a new key lets it be stored as a reading of its own."""
    earlier = conflict.theirs
    number = earlier.id if isinstance(earlier, StoredReport) else None
    typed = {**page.typed, "key": token_urlsafe(16)}
    return replace(page, typed=typed, message=conflict.message, stored=number)


def _blind_form(
    form: fleet.ReadingForm,
    preset: str,
    typed: Mapping[str, str],
    faults: tuple[Fault, ...] = (),
) -> BlindForm:
    """The only preset of a device needs no choosing; one that it does not have is not chosen."""
    offered = {one.preset: one.alarms for one in form.presets}
    if len(offered) == 1:
        preset = preset or next(iter(offered))
    alarms = offered.get(preset, ())
    return BlindForm(
        device=form.device,
        presets=list(offered),
        preset=preset if preset in offered else "",
        asked=[asked(alarm) for alarm in in_order(alarms)],
        typed=typed,
        faults=faults,
    )
