"""What a device should have held on a day, and what was last read on it before."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from app.domain.comparison import Direction
from app.domain.errors import Fault, Refused
from app.domain.local_days import local_day
from app.domain.permissions import Deed, check_may
from app.domain.waivers import Waiver
from app.lookups.past import PastPage, PastPreset, past
from app.web.compared import in_order, label_of, side_by_side
from app.web.render import render
from app.web.sessions import Member
from app.web.signing import zone_of
from app.web.transactions import Now, Reading

router = APIRouter()


@dataclass(frozen=True)
class PastLine:
    label: str
    signed: str
    found: str
    direction: Direction | None
    waived: tuple[Waiver, ...]


@dataclass(frozen=True)
class PastShown:
    preset: PastPreset
    lines: list[PastLine]


@dataclass(frozen=True)
class PastDevicePage:
    found: PastPage
    typed: str
    zone: str
    day: date
    presets: list[PastShown]
    faults: tuple[Fault, ...] = ()


@router.get("/{agency}/devices/{tag}/past")
def past_device(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    tag: str,
    at: Annotated[str, Query(max_length=30)] = "",
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    zone = zone_of(request, person)
    moment: datetime = now
    faults: tuple[Fault, ...] = ()
    try:
        moment = _moment(at, zone) if at else now
    except Refused as refused:
        faults = refused.faults
    found = past(tx, agency_id=person.agency_id, tag=tag, at=moment)
    typed = at or f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%dT%H:%M}"
    shown = [PastShown(preset, _lines(preset)) for preset in found.presets]
    page = PastDevicePage(found, typed, zone, local_day(moment, zone), shown, faults)
    return render(request, "fleet/past.html", page, status=422 if faults else 200)


def _moment(typed: str, zone: str) -> datetime:
    """A day alone means its end: what held on that day at the last."""
    try:
        local = datetime.fromisoformat(typed.strip())
    except ValueError:
        raise Refused.because("give a day, or a day and a time", column="at") from None
    if len(typed.strip()) == len("2026-03-03"):
        local = local.replace(hour=23, minute=59, second=59)
    return (local if local.tzinfo else local.replace(tzinfo=ZoneInfo(zone))).astimezone(UTC)


def _lines(preset: PastPreset) -> list[PastLine]:
    lines = {line.alarm: line for line in preset.lines}
    return [
        PastLine(
            label_of(alarm),
            *side_by_side(preset.signed, lines[alarm]),
            preset.direction(lines[alarm]),
            preset.waived(alarm),
        )
        for alarm in in_order(lines)
    ]
