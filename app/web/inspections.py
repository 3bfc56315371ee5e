"""The inspection file: one button for everything that an inspector asks."""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import IO, Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response, StreamingResponse

from app.actions.inspections import tell_inspection
from app.domain.errors import Fault, Refused
from app.domain.permissions import Deed, check_may
from app.exchange.inspection_file import write_inspection
from app.web.inspection_contents import contents_of
from app.web.render import render
from app.web.sessions import Member
from app.web.signing import zone_of
from app.web.transactions import Now

router = APIRouter(prefix="/{agency}/inspection")
Day = Annotated[str, Form(max_length=20)]
_IN_MEMORY = 8 * 2**20
_CHUNK = 2**16


@dataclass(frozen=True)
class InspectionPage:
    since: str
    until: str
    zone: str
    faults: tuple[Fault, ...] = ()


@router.get("")
def inspection(request: Request, person: Member, now: Now) -> Response:
    check_may(person, Deed.MAKE_INSPECTION_FILE)
    zone = zone_of(request, person)
    today = now.astimezone(ZoneInfo(zone)).date()
    page = InspectionPage(str(today - timedelta(days=365)), str(today), zone)
    return render(request, "fleet/inspection.html", page)


@router.post("")
def make(request: Request, person: Member, now: Now, since: Day = "", until: Day = "") -> Response:
    check_may(person, Deed.MAKE_INSPECTION_FILE)
    zone = zone_of(request, person)
    try:
        begin, end = _period(since, until, zone)
    except Refused as refused:
        page = InspectionPage(since, until, zone, refused.faults)
        return render(request, "fleet/inspection.html", page, status=422)
    spooled = tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115 - read below
    with request.app.state.database.reading() as tx:
        contents = contents_of(request, tx, person, begin, end, now)
    manifest = write_inspection(spooled, contents, at=now)
    with request.app.state.database.writing() as tx:
        tell_inspection(tx, since=begin, until=end, manifest=manifest, by=person, now=now)
    name = f"{person.agency}-inspection-{since}-{until}.zip"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return StreamingResponse(_read(spooled), media_type="application/zip", headers=headers)


def _period(since: str, until: str, zone: str) -> tuple[datetime, datetime]:
    """From the first moment of a day to the last of another, in the agency's zone."""
    begin, end = _day(since, "since", zone), _day(until, "until", zone)
    if begin > end:
        raise Refused.because("the period ends before it begins", column="until")
    return begin, end + timedelta(days=1) - timedelta(microseconds=1)


def _day(typed: str, column: str, zone: str) -> datetime:
    try:
        day = datetime.strptime(typed, "%Y-%m-%d").date()  # noqa: DTZ007 - a day has no zone
    except ValueError:
        raise Refused.because("give a day", column=column, value=typed) from None
    return datetime.combine(day, time(), ZoneInfo(zone)).astimezone(UTC)


def _read(spooled: IO[bytes]) -> Iterator[bytes]:
    with spooled:
        spooled.seek(0)
        while chunk := spooled.read(_CHUNK):
            yield chunk
