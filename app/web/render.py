"""One typed page object → one template, inside the frame that every page shares."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from zoneinfo import ZoneInfo

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from app.domain.corridor_shapes import Point
from app.domain.local_days import day_words
from app.domain.option_judgement import preset_words
from app.domain.people import Person
from app.domain.settings_of_alarms import Setting, show_number
from app.places import folder
from app.web.notices import COOKIE as NOTICE_COOKIE
from app.web.notices import notice_in
from app.web.places_to_go import Place, places_for

THEME_COOKIE = "marchstone_theme"
THEMES = ("auto", "day", "night")


@dataclass(frozen=True)
class Frame:
    """What the base template shows around a page."""

    person: Person | None
    agency: str | None  # key, of the person or of a page open to everybody
    address_agency: str | None  # key, of the address: on an open page it may be another one
    agency_name: str | None
    zone: str
    theme: str
    path: str
    demo: bool
    places: list[Place]
    notice: str


def render(
    request: Request,
    template: str,
    page: object,
    *,
    status: int = 200,
    agency_name: str | None = None,
    zone: str | None = None,
) -> HTMLResponse:
    """`agency_name` and `zone` override those of the person's agency on open pages."""
    frame = _frame(request, agency_name, zone)
    text = environment().get_template(template).render(page=page, frame=frame)
    response = HTMLResponse(text, status_code=status)
    if frame.notice:
        response.delete_cookie(NOTICE_COOKIE)
    return response


def rendered(
    request: Request,
    template: str,
    page: object,
    *,
    agency_name: str | None = None,
    zone: str | None = None,
) -> str:
    """The text alone: a piece of a page, or what is no page."""
    frame = _frame(request, agency_name, zone)
    return environment().get_template(template).render(page=page, frame=frame)


def _frame(request: Request, agency_name: str | None, zone: str | None) -> Frame:
    person: Person | None = getattr(request.state, "person", None)
    theme = request.cookies.get(THEME_COOKIE, "auto")
    known = request.app.state.agencies
    own = known.of(person.agency) if person else None
    query = f"?{request.url.query}" if request.url.query else ""
    return Frame(
        person=person,
        agency=person.agency if person else request.path_params.get("agency"),
        address_agency=request.path_params.get("agency"),
        agency_name=agency_name or (own.name if own else None),
        zone=zone or (own.time_zone if own else "UTC"),
        theme=theme if theme in THEMES else "auto",
        path=request.url.path + query,
        demo=request.app.state.demo,
        places=[place for place in places_for(person) if place.daily],
        notice=notice_in(request),
    )


@cache
def environment() -> Environment:
    found = Environment(
        loader=FileSystemLoader(folder("templates")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.globals["static"] = static_address
    found.filters["number"] = show_number
    found.filters["moment"] = moment
    found.filters["day"] = day
    found.filters["points"] = points
    found.filters["date"] = day_words
    found.filters["state_of"] = state_of
    found.filters["preset"] = preset_words
    return found


def state_of(setting: Setting | None) -> str:
    """What nobody said anything of is told like no policy."""
    return "no-policy" if setting is None else setting.state


@cache
def static_address(name: str) -> str:
    """With the content's hash, so that a browser may keep it for good."""
    digest = hashlib.sha256((folder("static") / name).read_bytes()).hexdigest()[:12]
    return f"/static/{name}?v={digest}"


def moment(at: datetime, zone: str) -> str:
    """1 Mar 2026, 08:05 UTC, in the agency's zone."""
    local = at.astimezone(ZoneInfo(zone))
    return f"{local.day} {local:%b %Y, %H:%M} {local.tzname()}"


def day(at: datetime, zone: str) -> str:
    local = at.astimezone(ZoneInfo(zone))
    return f"{local.day} {local:%b %Y}"


def points(line: Iterable[Point]) -> str:
    """As SVG writes the points of a line."""
    return " ".join(f"{point.x:g},{point.y:g}" for point in line)
